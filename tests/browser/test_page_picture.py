"""The picture: the page folds as the library does, a colour is the legend's, a value under the pointer the solver's."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from steadfold.job import read_job
from steadfold.page.scene import preview
from steadfold.review import PartReview, review
from steadfold.sheet.mesh import folded
from steadfold.sheet.pose import fold
from tests.browser.conftest import Shed, answered

Opener = Callable[..., Page]
Keep = Callable[..., None]

ON_SCALE = 3.0 / 255.0
"""What the issue allows between a pixel and the legend."""


def reviewed(shed: Shed, fine: bool) -> PartReview:
    job = read_job(shed.job)
    return review(replace(job, parts=job.parts[:1]), fine=fine).parts[0]


FOLD = """async (share) => {
  const { pose, lay, unpacked } = await import("/static/fold.js");
  const job = location.pathname.replace("/job/", "/api/jobs/");
  const data = await (await fetch(`${job}/part/0/scene?level=shape`)).arrayBuffer();
  const scene = unpacked(data);
  const places = new Float32Array(3 * scene.region.length), normals = new Float32Array(3 * scene.region.length);
  lay(pose(scene.panels.length, scene.bends, share), scene.region, scene.local, places, normals);
  return Array.from(places);
}"""


def test_the_page_folds_as_the_library_does(shed: Shed, open_page: Opener) -> None:
    """Within 1e-3 mm at eleven shares, from the flat that is cut to the folded part."""
    page = open_page(shed.link)
    answered(page, "shape")
    part = reviewed(shed, fine=False).part
    assert part is not None
    mesh = preview(part)
    for share in np.linspace(0.0, 1.0, 11):
        there = np.array(page.evaluate(FOLD, float(share))).reshape(-1, 3)
        assert np.abs(there - folded(mesh, part, float(share), flat_k=True)).max() < 1e-3


def test_the_slider_folds_in_the_browser_and_asks_nobody(shed: Shed, open_page: Opener, picture: Keep) -> None:
    page = open_page(shed.link)
    answered(page)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.wait_for_timeout(300)
    asked.clear()
    slider = page.get_by_role("slider", name="flat", exact=True)
    for _ in range(20):
        slider.press("PageDown")
    assert asked == []
    expect(page.locator(".fold output")).not_to_have_text("folded")
    picture(page, "half-folded")
    slider.press("Home")
    expect(page.locator(".fold output")).to_have_text("flat")
    thick = page.evaluate(
        "() => { const p = document.querySelector('.stage').picture.parts; let most = 0;"
        " for (let i = 2; i < p.folded.length; i += 3) most = Math.max(most, Math.abs(p.folded[i])); return most; }"
    )
    assert thick < 1e-3, "flat, every node lies in the plane of the root panel"
    picture(page, "flat")


LOOK = """async (node) => {
  const picture = document.querySelector(".stage").picture;
  const { Vector3 } = await import("three");
  const { nodes, folded, normals, geometry } = picture.parts;
  picture.showLoads = false;
  picture.dress("work", 0);
  picture.lines.visible = picture.foldLines.visible = false;
  const at = new Vector3().fromArray(geometry.attributes.position.array, 3 * node).applyQuaternion(picture.group.quaternion);
  const away = new Vector3().fromArray(normals, 3 * node).applyQuaternion(picture.group.quaternion);
  picture.untouched = false;
  picture.camera.near = 0.05;
  picture.camera.updateProjectionMatrix();
  picture.camera.up.set(away.y > 0.9 ? 1 : 0, away.y > 0.9 ? 0 : 1, 0);
  picture.camera.position.copy(at).addScaledVector(away, 4);
  picture.camera.lookAt(at);
  picture.camera.updateMatrixWorld();
  const renderer = picture.renderer, gl = renderer.getContext();
  renderer.render(picture.scene, picture.camera);
  const pixel = new Uint8Array(4);
  gl.readPixels(gl.drawingBufferWidth >> 1, gl.drawingBufferHeight >> 1, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, pixel);
  const box = renderer.domElement.getBoundingClientRect();
  const found = picture.under(box.left + box.width / 2, box.top + box.height / 2);
  picture.camera.up.set(0, 1, 0);
  return { pixel: Array.from(pixel), share: found && found.share };
}"""


def inner_nodes(triangles: np.ndarray, count: int) -> np.ndarray:
    """Nodes that lie on no rim, where no edge is drawn over them."""
    edges = np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    unique, times = np.unique(edges, axis=0, return_counts=True)
    return np.setdiff1d(np.arange(count), unique[times == 1].ravel())


def around(nodes: np.ndarray, triangles: np.ndarray, values: np.ndarray, node: int) -> float:
    """The mean of a solver's value over the triangles at a node, by their areas, one node at a time."""
    mine = (triangles == node).any(axis=1)
    a, b, c = (nodes[triangles[mine][:, k]] for k in range(3))
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return float((area * values[mine]).sum() / area.sum())


def test_twenty_places_have_the_legends_colour_and_the_solvers_value(
    shed: Shed, open_page: Opener, picture: Keep
) -> None:
    page = open_page(shed.link)
    answered(page)
    strength = reviewed(shed, fine=True).strength
    assert strength is not None and strength.picture is not None
    drawn = strength.picture
    nodes, triangles = np.asarray(drawn.nodes_mm), np.asarray(drawn.triangles)
    legend = page.locator(".legend rect[data-share]").evaluate_all(
        "all => all.map(each => [Number(each.dataset.share), ...each.getAttribute('fill').match(/\\d+/g).map(Number)])"
    )
    scale = np.array(legend)
    inner = inner_nodes(triangles, len(nodes))
    by_share = inner[np.argsort([around(nodes, triangles, drawn.share, int(n)) for n in inner])]
    chosen = by_share[np.linspace(0, len(by_share) - 1, 20).astype(int)]
    for node in chosen:
        expected = around(nodes, triangles, drawn.share, int(node))
        seen: dict[str, Any] = page.evaluate(LOOK, int(node))
        assert seen["share"] == pytest.approx(expected, rel=5e-3), f"node {node}"
        if expected < 1.0:
            colour = scale[np.argmin(np.abs(scale[:, 0] - expected)), 1:]
            assert np.abs(np.array(seen["pixel"][:3]) - colour).max() / 255.0 <= ON_SCALE, f"node {node}"
    greatest = page.locator(".legend").get_attribute("aria-label")
    assert greatest is not None and f"{drawn.share.max():.2f}" in greatest


def test_sag_is_drawn_by_the_factor_that_is_printed_and_only_when_folded(
    shed: Shed, open_page: Opener, picture: Keep
) -> None:
    page = open_page(shed.link)
    answered(page)
    page.get_by_text("how far it sags", exact=True).click()
    said = page.locator(".factor").inner_text()
    found = re.search(r"drawn ([\d.]+) times", said)
    factor = float(found.group(1)) if found else 1.0
    picture(page, "sag")
    strength = reviewed(shed, fine=True).strength
    assert strength is not None and strength.picture is not None
    there = np.array(page.evaluate("() => Array.from(document.querySelector('.stage').picture.parts.folded)"))
    expected = strength.picture.nodes_mm + factor * strength.picture.moved_mm
    assert np.abs(there.reshape(-1, 3) - expected).max() < 2e-3
    page.get_by_role("slider", name="flat", exact=True).press("PageDown")
    expect(page.locator(".factor")).to_contain_text("fully folded")


def test_a_touched_dimension_shows_its_place(shed: Shed, open_page: Opener, picture: Keep) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    page.get_by_role("textbox", name="arm", exact=True).focus()
    expect(page.locator(".over .dimension")).to_have_text("160 mm")
    picture(page, "dimension")
    ends = page.evaluate(
        """() => { const p = document.querySelector(".stage").picture;
        const line = p.extra.children.find((each) => each.type === "LineSegments").geometry.attributes.position.array;
        return Array.from(line.slice(0, 6)); }"""
    )
    assert np.linalg.norm(np.array(ends[:3]) - np.array(ends[3:])) == pytest.approx(160.0, abs=1e-3)
    page.get_by_role("textbox", name="upright", exact=True).focus()
    expect(page.locator(".over .dimension")).to_have_text("120 mm")


def test_a_bend_picked_in_the_flat_is_found_in_the_picture_and_in_the_findings(shed: Shed, open_page: Opener) -> None:
    page = open_page(shed.link)
    answered(page)
    page.get_by_role("button", name=re.compile("upright – arm")).click()
    expect(page.locator(".flat .strip.picked")).to_have_count(1)
    marked = page.evaluate(
        """() => { const p = document.querySelector(".stage").picture;
        const mark = p.parts.geometry.attributes.mark.array;
        const count = p.shown.panels.length;
        return Array.from(p.shown.region).every((region, i) => (mark[i] === 1) === (region === count)); }"""
    )
    assert marked
    about = page.locator(".finding.about").evaluate_all("all => all.map(each => each.dataset.place)")
    others = page.locator(".finding:not(.about)").evaluate_all("all => all.map(each => each.dataset.place)")
    assert all(re.search(r"\b(arm|upright)\b", place) for place in about)
    assert not any(re.search(r"\b(arm|upright)\b", place) for place in others)


def test_the_flat_is_to_scale_and_measures_what_the_library_says(shed: Shed, open_page: Opener, picture: Keep) -> None:
    page = open_page(shed.link)
    answered(page, "shape")
    flat = reviewed(shed, fine=False).flat
    assert flat is not None
    holes = sorted(flat.round_holes)
    page.get_by_role("button", name="Measure").click()
    pieces = page.locator(".pieces button[data-opening]")
    assert pieces.count() == len(holes)
    pieces.nth(0).click()
    pieces.nth(1).click()
    said = page.locator(".measured").inner_text()
    order = [o.circle[0] for o in flat.openings if o.circle is not None]
    apart = float(np.hypot(order[1][0] - order[0][0], order[1][1] - order[0][1]))
    assert float(said.split(" ")[0]) == pytest.approx(apart, abs=0.006)
    picture(page, "measured", whole=True)
    across = page.evaluate(
        """() => { const drawing = document.querySelector("svg.flat"), box = drawing.querySelector(".metal").getBBox();
        const scale = drawing.getScreenCTM(); return [box.width, box.height, scale.a, scale.d]; }"""
    )
    assert across[:2] == pytest.approx(flat.size_mm, abs=1e-2)
    assert across[2] == pytest.approx(across[3]), "as wide as it is high"


def test_a_hole_picked_in_space_is_found_in_the_flat_and_in_its_findings(shed: Shed, open_page: Opener) -> None:
    """Where the hole is seen is reckoned here from the library's own pose and the page's camera."""
    page = open_page(shed.link)
    answered(page)
    found = reviewed(shed, fine=True)
    near = next(f.place for f in found.findings if f.code == "hole-near-bend" and "upright" in f.place)
    said = re.search(r"at (-?[\d.]+), (-?[\d.]+)", near)
    assert said is not None and found.part is not None
    panel = [each.name for each in found.part.panels].index("upright")
    middle = fold(found.part).panels[panel].points(np.array([[float(said[1]), float(said[2])]]))[0]
    spot = page.evaluate(
        """(at) => { const p = document.querySelector(".stage").picture, box = p.renderer.domElement.getBoundingClientRect();
        const v = p.camera.position.clone().set(...at).applyQuaternion(p.group.quaternion).project(p.camera);
        return [box.left + (v.x + 1) / 2 * box.width, box.top + (1 - v.y) / 2 * box.height]; }""",
        middle.tolist(),
    )
    page.mouse.click(*spot)
    expect(page.locator(".flat .opening.picked")).to_have_count(1)
    expect(page.locator(".over .dimension")).to_have_text("⌀ 7 mm")
    expect(page.locator(".finding[data-code=hole-near-bend]")).to_have_class(re.compile("about"))
