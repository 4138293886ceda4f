"""The four worked stories end to end: every example by command and by the page's review, and what no other test tells.

docs/stories.md is written from the rows that tests put beside the stories (`make stories`); here it is held to them.
"""

from __future__ import annotations

import json
import math
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tests.comparisons import beside
from tests.stories import BAR, SHED, SHELF, STAND, STORIES, rows_of, told

from steadfold.catalogue.finishes import finish
from steadfold.fabricate.fit import opening_chain, size_to_order_mm
from steadfold.fabricate.press import press_force_n
from steadfold.fabricate.shop_file import typical_shop
from steadfold.joints.lever import prying_l_flange, tension_from_overhang_n
from steadfold.joints.studs import bar_for_sure_mm, chance_of, slot_for_spacings
from steadfold.joints.wood_nds import withdrawal_n
from steadfold.page.answers import answer
from steadfold.quantities import Range
from steadfold.sheet.allowance import bend_allowance, bend_deduction
from steadfold.stand.fight import fight
from steadfold.stand.frames import RodChoice, triangle_pair
from steadfold.stand.joining import bar_stress_mpa
from steadfold.stand.level import level_plan
from steadfold.stand.records import Joint, Leaning, Machine, Reading, Stand
from steadfold.stand.sag import sag_budgets
from steadfold.stand.statics import cases_of, member_forces, sag_mm, solved, support_forces
from steadfold.stand.structure import built
from steadfold.stand.topple import Weight, tipping
from steadfold.stand.weigh import ScaleReading, weigh

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
RIGHT = math.pi / 2
G = 9.81


def told_near(method: str, case: str, story: str, hand: float, ours: float, unit: str, rel: float, why: str = "") -> None:
    """A row, and the assertion that goes with it."""
    assert beside(method, case, story, hand, ours, unit, why=why) == pytest.approx(1.0, abs=rel)


def test_the_slot_bars_bends_press_fit_and_studs_are_the_storys() -> None:
    told_near("bend allowance", "90°, t 2, r 2, K 0.42", BAR, 4.461, bend_allowance(RIGHT, 2.0, 2.0, 0.42), "mm", 2e-4)
    told_near("bend deduction", "90°, t 2, r 2, K 0.42", BAR, 3.539, bend_deduction(RIGHT, 2.0, 2.0, 0.42), "mm", 2e-4)
    told_near("press force", "620 mm of 2 mm, V16, 400 MPa", BAR, 88.0, press_force_n(400.0, 620.0, 2.0, 16.0) / 1e3, "kN", 2e-3)
    shop, powder = typical_shop(), finish("powder coat")
    low, high = opening_chain(12.0, shop, powder).worst_mm
    told_near("slot after coating", "12 mm cut, narrowest", BAR, 11.63, low, "mm", 1e-3)
    told_near("slot after coating", "12 mm cut, widest", BAR, 12.01, high, "mm", 1e-3)
    told_near("slot to order", "tool of 11.6 ± 0.2", BAR, 12.7, size_to_order_mm(11.8, 0.5, shop, powder), "mm", 1e-9)
    told_near("chance of two studs", "600 mm, studs at 406.4", BAR, 48.0, 100 * chance_of(2, 600.0, 406.4), "%", 0.01)
    told_near("bar sure of two studs", "studs at 406.4", BAR, 813.0, bar_for_sure_mm(2, 406.4), "mm", 1e-3)
    slot = slot_for_spacings(6.6, (400.0, 406.4), coat_per_side_mm=0.12, cut_tolerance_mm=0.13)
    told_near("slot for two stud spacings", "M6, as cut", BAR, 13.4, slot.cut_length_mm, "mm", 3e-3)


def test_the_shelf_brackets_levers_and_screws_are_the_storys() -> None:
    told_near("flat of an added flange", "25 outside, t 3, r 3, K 0.42", SHELF, 19.69,
              25.0 - bend_deduction(RIGHT, 3.0, 3.0, 0.42), "mm", 5e-4)  # fmt: skip
    for case, moment, top, low in (("resting", 39.8e3, 299.0, 46.0), ("leaning", 103.1e3, 775.0, 119.0)):
        pulls = tension_from_overhang_n(moment, (130.0, 20.0))
        told_near("pull of a screw by its lever", f"upper, {case}", SHELF, top, pulls[0], "N", 5e-3)
        told_near("pull of a screw by its lever", f"lower, {case}", SHELF, low, pulls[1], "N", 1e-2)
    told_near("prying of a flange", "14 mm out, 9.5 beyond", SHELF, 2.47, prying_l_flange(14.0, 9.5), "", 3e-3)
    told_near("prying of a flange", "9 mm out, 14.5 beyond", SHELF, 1.62, prying_l_flange(9.0, 14.5), "", 3e-3)
    for duration, newtons in (("ten years", 1036.0), ("permanent", 932.0), ("seven days", 1294.0)):
        held = withdrawal_n("lag screw 1/4", 0.42, 1.344 * 25.4, duration)
        told_near("pull-out of a lag screw", f"1/4 in, 1.344 in of thread, {duration}", SHELF, newtons, held, "N", 3e-3)


def press(angle_deg: float = 30.0, at: float = 560.0, rods: RodChoice | None = None, **joints: Joint) -> Stand:
    """One frame of the story with the 55 % of the machine that it takes."""
    frame = triangle_pair(650.0, at, math.radians(angle_deg), 0.0, "strut 41x41 12 ga", frames=1, rods=rods, **joints)
    machine = Machine("press", Range(69.025, 69.025), (308.8, 0.0, 200.0), ((120.0, 0.0), (580.0, 0.0)))
    return Stand("s", frame.nodes, frame.members, frame.held, frame.tie_rods, machine, Leaning(300.0, "tip"),
                 level_at=frame.level_at)  # fmt: skip


def test_two_scales_weigh_the_storys_machine() -> None:
    front, rear = ((0.0, 0.0), (0.0, 500.0)), ((460.0, 0.0), (460.0, 500.0))
    found = weigh([ScaleReading(74.0, 1.0, (0.0, 250.0), rear), ScaleReading(51.5, 1.0, (460.0, 250.0), front)])
    told_near("weighing", "two pairs of feet, mass", STAND, 125.5, found.mass_kg, "kg", 1e-6)
    assert found.centre_mm[0] is not None
    told_near("weighing", "centre of mass from the front feet", STAND, 188.8, found.centre_mm[0], "mm", 1e-3)


def test_the_storys_triangle_its_droop_and_its_slip() -> None:
    why = "section from geometry and E 203 GPa; the story's A 359, Z 3310, E 200 GPa"
    ready = built(press())
    both = cases_of(ready, own_weight=False)[:2]
    hand = {"resting": (747.0, 647.0, 304.0, 36.5), "leaning": (1443.0, 1250.0, 256.0, 32.6)}
    for (name, values), result in zip(hand.items(), solved(ready, both), strict=True):
        forces = {m.name: f for m, f in zip(ready.stand.members, member_forces(ready, result), strict=True)}
        root = support_forces(ready, result)["root"]
        ours = (-forces["brace"].axial_n, -root[0], root[2], forces["arm"].largest_moment_nmm / 1e3)
        for what, unit, theirs, mine in zip(
            ("brace pressed", "pull on the bench", "shear at the root", "moment in the arm"), ("N", "N", "N", "N m"), values,
            ours, strict=True,
        ):  # fmt: skip
            told_near("triangle of strut", f"{what}, {name}", STAND, theirs, float(mine), unit, 0.02, why)
        if name == "leaning":  # the story's 2 %, and half of its last printed digit
            told_near("droop of a frame", "at the brace", STAND, 0.043, sag_mm(ready, result, "brace top"), "mm", 0.032, why)
            told_near("droop of a frame", "at the tip", STAND, 0.065, sag_mm(ready, result, "tip"), "mm", 0.028, why)
    loose = Joint("pinned", clearance_mm=1.59)
    ready = built(press(arm_joint=loose, brace_joint=loose))
    ready = built(replace(ready.stand, level_at=("brace top", "tip")))
    case = cases_of(ready, own_weight=False)[0]
    budget = next(b for b in sag_budgets(ready, case, solved(ready, [case])[0]) if b.node == "brace top")
    told_near("slip of joints", "1.59 mm at each", STAND, 9.1, budget.worst_take_up_mm, "mm", 0.01)


def test_the_storys_steeper_brace_pulls_less() -> None:
    for at, brace, pull in ((560.0, 833.0, 417.0), (400.0, 1166.0, 583.0)):
        ready = built(press(60.0, at))
        result = solved(ready, cases_of(ready, own_weight=False)[:2])[1]
        forces = member_forces(ready, result)
        told_near("triangle of strut", f"brace at 60°, {at:.0f} out", STAND, brace, float(-forces[1].axial_n), "N", 0.02)
        told_near("triangle of strut", f"pull at 60°, {at:.0f} out", STAND, pull,
                  float(-support_forces(ready, result)["root"][0]), "N", 0.02)  # fmt: skip


def test_the_storys_rods_turns_and_their_fight_with_the_brace() -> None:
    rods = RodChoice(600.0, 250.0, "3/8", "nut")
    plan = level_plan(press(rods=rods), [Reading("tip", 6.0)], own_weight=False)
    told_near("turns to level", "3/8-16, 6 mm low", STAND, 1.34, float(plan.geometric_turns[0]), "turns", 0.01)
    told_near("turns to level", "more, for stretch and post", STAND, 0.20, float(plan.turns[0] - plan.geometric_turns[0]), "turns",
              0.03, "the story bends the post alone; ours the whole frame")  # fmt: skip
    ready = built(press(rods=rods))
    found = fight(ready, cases_of(ready, own_weight=False)[0], np.array([2.11]), ("tip",))
    told_near("rods against a tight brace", "pull of the rod", STAND, 5500.0, float(found.rod_n), "N", 0.02)
    told_near("rods against a tight brace", "rise", STAND, 0.33, float(found.rise_mm), "mm", 0.03)
    ready = built(press(rods=RodChoice(600.0, 250.0, "3/8", post_below_mm=300.0)), loosened=frozenset({"brace"}))
    both = cases_of(ready, own_weight=False)[:2]
    for name, result, pull, post in zip(("resting", "leaning"), solved(ready, both), (906.0, 1751.0), (209.0, 404.0), strict=True):
        forces = {m.name: f for m, f in zip(ready.stand.members, member_forces(ready, result), strict=True)}
        told_near("rods that carry all", f"pull, {name}", STAND, pull, float(result.tie_n[0]), "N", 0.02)
        told_near("rods that carry all", f"moment in the post, {name}", STAND, post, forces["post"].largest_moment_nmm / 1e3, "N m", 0.02)
    for lever, stress in ((40.0, 388.0), (25.0, 243.0), (15.0, 146.0)):
        told_near("drilled crossbar", f"rod {lever:.0f} mm off its support", STAND, stress, bar_stress_mpa(1751.0, 19.05, 10.0, lever),
                  "MPa", 0.01)  # fmt: skip


def test_the_storys_bench_stands_by_a_hair() -> None:
    feet = ((-120.0, 0.0), (-120.0, 500.0), (-1760.0, 0.0), (-1760.0, 500.0))
    bench, person = Weight("bench", 95.0 * G, (-940.0, 250.0)), Weight("person", 300.0, (650.0, 0.0))
    hand = {"heavy end in": (308.8, 1.44, 1.005), "heavy end out": (391.2, 1.21, 0.89)}
    for way, (at, resting, leaning) in hand.items():
        machine = Weight("press", 125.5 * G, (at, 225.0))
        told_near("tipping of a bench", f"{way}, at rest", STAND, resting, tipping(feet, [bench, machine]).factor or 0.0, "", 0.02)
        told_near("tipping of a bench", f"{way}, leaning", STAND, leaning, tipping(feet, [bench, machine, person]).factor or 0.0, "",
                  0.02)  # fmt: skip


def command(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "steadfold.cli.main", *words], capture_output=True, text=True, check=False)


@pytest.mark.slow
@pytest.mark.parametrize("story", STORIES, ids=lambda s: s.example)
def test_a_story_runs_end_to_end_by_command_and_the_page_says_the_same(story, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """Rate, flat, cost and order folder of each example; the page's own answer has the command's numbers."""
    job = EXAMPLES / f"{story.example}.toml"
    done = command("rate", str(job), "--json")
    assert done.returncode in (0, 1, 3), done.stderr
    rated = json.loads(done.stdout)
    assert {p["name"]: p["verdict"] for p in rated["parts"] + rated["stands"]} == dict(story.verdicts)
    flats = command("flat", str(job), "--out", str(tmp_path / "flats"), "--json")
    assert flats.returncode == 0 and not json.loads(flats.stdout)["left_out"]
    costed = command("cost", str(job), "--json")
    assert costed.returncode in (0, 1, 3), costed.stderr
    assert json.loads(costed.stdout)["order"]["total"] >= 0.0
    ordered = command("order", str(job), "--out", str(tmp_path / "order"), "--paper", "A4", "--even-if", "not enough",
                      "--even-if", "unproven")  # fmt: skip
    assert ordered.returncode in (0, 1, 3), ordered.stderr
    assert (tmp_path / "order" / "contents.json").is_file()
    text = job.read_text(encoding="utf-8")
    for number, part in enumerate(rated["parts"][:1]):
        shown, _ = answer(lambda share, what: None, text, str(job), number, "full")
        shown = shown["part"]
        assert shown["verdict"] == part["verdict"]
        assert shown["strength"]["rating_kg"] == pytest.approx(part["strength"]["rating_kg"], rel=1e-9)


def test_the_page_of_stories_tells_every_row_that_stands_beside_them() -> None:
    """Written anew by `make stories`; a row that a test puts beside a story and the page lacks makes it stale."""
    page = (ROOT / "docs" / "stories.md").read_text(encoding="utf-8")
    for story in STORIES:
        rows = rows_of(story.source)
        assert len(rows) >= 5, story.source
        for method, case, *_ in rows:
            assert f"| {method} | {case} |" in page, (story.title, method, case)
    assert told().count("\n## ") == len(STORIES) == page.count("\n## ")


def test_the_sources_of_the_stories_are_those_the_other_tests_name() -> None:
    text = (ROOT / "tests" / "published" / "test_stories_strength.py").read_text(encoding="utf-8")
    for source in (SHED, BAR, SHELF):
        assert f'"{source}"' in text
