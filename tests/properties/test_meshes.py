"""What must be true of the mesh of every part."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import HealthCheck, given, settings

from steadfold.sheet.clash import flat_overlaps, folded_clashes
from steadfold.sheet.mesh import FoldRecipe, SheetMesh, fold_recipe, folded, mesh, nodes_on_tangent
from steadfold.sheet.part import Part
from steadfold.sheet.pose import flat_places, fold

from .parts import RandomPart, random_parts, resolved_or_none

many = settings(
    max_examples=300, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
)
some = settings(many, max_examples=60)


def resolved(random: RandomPart) -> Part | None:
    found = resolved_or_none(random)
    return None if found is None else found.part


def sides(made: SheetMesh) -> np.ndarray:
    t = made.triangles
    return np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]])


def angles_deg(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Smallest corner of every triangle, by the law of cosines from its sides alone."""
    corners = points[triangles]
    a, b, c = (np.linalg.norm(corners[:, (i + 1) % 3] - corners[:, (i + 2) % 3], axis=1) for i in range(3))
    cosines = [(q**2 + r**2 - p**2) / (2 * q * r) for p, q, r in ((a, b, c), (b, c, a), (c, a, b))]
    return np.degrees(np.arccos(np.clip(np.max(cosines, axis=0), -1, 1)))


def plane_metal(part: Part) -> shapely.Geometry:
    """The part's flat at K = 0.5 as one polygon with openings, by polygon union and without the mesher's outlines."""
    panels, strips = flat_places(part, 0.5)
    pieces = []
    for panel, place in zip(part.panels, panels, strict=True):
        pieces += [shapely.transform(face.polygon(), place.many) for face in panel.faces]
    for bend, place in zip(part.bends, strips, strict=True):
        stretch = np.array([1.0, bend.middle_length_mm / bend.allowance_mm])
        for face in bend.faces:
            pieces.append(shapely.transform(face.polygon(), lambda p, s=stretch, to=place: to.many(p * s)))
    grown = [piece.buffer(1e-5, join_style="mitre") for piece in pieces]
    return shapely.union_all(grown)


@many
@given(random_parts())
def test_every_part_gets_a_conforming_mesh_of_sound_triangles(random: RandomPart) -> None:
    """No corner under 20 degrees, none turned over; two triangles at most on a side, which they run in opposite
    senses; every node used."""
    part = resolved(random)
    if part is None:
        return
    made = mesh(part)
    run = sides(made)
    assert len(np.unique(run, axis=0)) == len(run)
    assert angles_deg(made.plane_xy, made.triangles).min() >= 20.0
    assert made.areas_mm2().min() > 0
    assert len(np.unique(made.triangles)) == made.node_count


@some
@given(random_parts())
def test_triangles_cover_the_metal_and_have_its_openings(random: RandomPart) -> None:
    """Area to a thousandth of the part's (chords, tips of wedges), and V - E + F = 1 - openings, counted in a polygon
    union where no pieces lie over each other."""
    part = resolved(random)
    if part is None:
        return
    made = mesh(part)
    metal = plane_metal(part)
    exact = sum(p.area_mm2 for p in part.panels) + sum(
        f.area_mm2 * b.middle_length_mm / b.allowance_mm for b in part.bends for f in b.faces
    )
    assert abs(made.areas_mm2().sum() - exact) <= 1e-3 * exact
    assert math.isclose(made.left_out_mm2, exact - made.areas_mm2().sum(), abs_tol=1e-6 * exact)
    edges = np.unique(np.sort(sides(made), axis=1), axis=0)
    if metal.geom_type == "Polygon" and not flat_overlaps(part) and abs(metal.area - exact) < 1e-3 * exact:
        assert made.node_count - len(edges) + len(made.triangles) == 1 - len(metal.interiors)


@some
@given(random_parts())
def test_folding_by_nothing_is_the_plane_and_folding_keeps_every_panel_and_facet(random: RandomPart) -> None:
    """Share 0 is the mesh's own plane; at any share panels are carried without strain, facets stay plane, tangent
    nodes lie at one place from either side, and every triangle of a panel keeps looking the way of its face."""
    part = resolved(random)
    if part is None:
        return
    made = mesh(part)
    flat = folded(made, part, 0.0)
    assert np.abs(flat[:, :2] - made.plane_xy).max() < 1e-9
    assert np.abs(flat[:, 2]).max() < 1e-9
    for share in (0.37, 1.0):
        space, pose = folded(made, part, share), fold(part, share)
        for number in range(len(part.panels)):
            mine = made.triangles[made.region == number]
            before, after = made.plane_xy[mine], space[mine]
            for i in range(3):
                old = np.linalg.norm(before[:, i] - before[:, (i + 1) % 3], axis=1)
                new = np.linalg.norm(after[:, i] - after[:, (i + 1) % 3], axis=1)
                assert np.abs(old - new).max() < 1e-9 * max(1.0, old.max())
            normal = np.cross(after[:, 1] - after[:, 0], after[:, 2] - after[:, 0])
            assert (normal @ pose.panels[number].face > 0).all()
        for number, bent in enumerate(pose.bends):
            region = made.region == len(part.panels) + number
            for row in np.unique(made.row[region]):
                points = space[np.unique(made.triangles[region & (made.row == row)])]
                centred = points - points.mean(axis=0)
                assert np.linalg.svd(centred, compute_uv=False)[2] < 1e-8 * np.abs(centred).max()
            for of_child in (False, True):
                nodes = nodes_on_tangent(made, number, of_child)
                frame = bent.end() if of_child else bent.start
                offset = space[nodes] - frame.origin
                assert np.abs(offset @ frame.away).max(initial=0) < 1e-9 * max(1.0, np.abs(offset).max(initial=0))
                assert np.abs(offset @ frame.face).max(initial=0) < 1e-9 * max(1.0, np.abs(offset).max(initial=0))


def by_recipe(recipe: FoldRecipe, made: SheetMesh, share: float) -> np.ndarray:
    """Folded by the recipe's docstring, word for word, node by node, as a page would."""
    frames = {0: (np.zeros(3), *np.eye(3))}
    bends = []
    for k in range(len(recipe.parent)):
        o, a, b, n = frames[int(recipe.parent[k])]
        px, py, ax, ay, wx, wy = recipe.parent_frame[k]
        start, u, v = o + px * a + py * b, ax * a + ay * b, wx * a + wy * b
        t, length = share * recipe.angle_rad[k], recipe.middle_length_mm[k]
        bends.append((start, u, v, n, t, length))
        end = strip_point(bends[-1], 0.0, 1.0)
        v1, n1 = math.cos(t) * v + math.sin(t) * n, math.cos(t) * n - math.sin(t) * v
        qx, qy, cx, cy, dx, dy = recipe.child_frame[k]
        a1, b1 = cx * u + dx * v1, cy * u + dy * v1
        frames[int(recipe.child[k])] = (end - qx * a1 - qy * b1, a1, b1, n1)
    out = []
    for region, (x, y) in zip(made.node_region, made.local, strict=True):
        if region < made.panel_count:
            o, a, b, _ = frames[int(region)]
            out.append(o + x * a + y * b)
        else:
            out.append(strip_point(bends[region - made.panel_count], x, y))
    return np.array(out)


def strip_point(bend: tuple, x: float, q: float) -> np.ndarray:
    start, u, v, n, t, length = bend
    if abs(t) < 1e-9:
        return start + x * u + length * q * v
    return start + x * u + length / t * (math.sin(t * q) * v + (1 - math.cos(t * q)) * n)


@settings(some, max_examples=15)
@given(random_parts())
def test_the_recipe_for_folding_elsewhere_gives_the_same_places(random: RandomPart) -> None:
    """A page that follows the recipe's words puts every node where `folded` does."""
    part = resolved(random)
    if part is None:
        return
    made = mesh(part, target_triangles=300, bend_facets=1, hole_segments=8)
    for share in (0.0, 0.6, 1.0):
        assert np.abs(by_recipe(fold_recipe(part), made, share) - folded(made, part, share)).max() < 1e-7


@some
@given(random_parts())
def test_a_part_folded_by_a_little_has_no_more_clashes_than_overlaps(random: RandomPart) -> None:
    """Unfolded, panels lie in one plane: those that clash are those that lie over each other in the flat at K = 0.5,
    so a part without overlaps there clashes nowhere when it is flat."""
    part = resolved(random)
    if part is None:
        return
    metal = plane_metal(part)
    whole = sum(p.area_mm2 for p in part.panels) + sum(
        f.area_mm2 * b.middle_length_mm / b.allowance_mm for b in part.bends for f in b.faces
    )
    if abs(metal.area - whole) < 0.02:
        assert folded_clashes(part, 0.0) == []
