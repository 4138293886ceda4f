"""Stands that cannot be, or should not: each told in a sentence, at its line where there is a job file."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from steadfold.findings import Severity
from steadfold.job import JobProblems, read_job, read_job_text
from steadfold.job.stand_table import read_stand, read_stands
from steadfold.mechanics import Loads
from steadfold.quantities import Range
from steadfold.stand.footing import foot_loads_n
from steadfold.stand.frames import RodChoice, gantry, shelf_frame, triangle_pair, wall_bracket
from steadfold.stand.level import level_plan
from steadfold.stand.plain import plain_stand
from steadfold.stand.records import (
    PINNED,
    Bench,
    Held,
    Joint,
    Leaning,
    Machine,
    Member,
    Reading,
    Stand,
    StandError,
    TieRod,
)
from steadfold.stand.review import review_stand
from steadfold.stand.shims import shims
from steadfold.stand.statics import Case, lean_load, solved
from steadfold.stand.structure import built

EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "press-stand.toml"
FEET = ((120.0, 0.0), (580.0, 0.0), (120.0, 500.0), (580.0, 500.0))


def pair(**more: object) -> Stand:
    frame = triangle_pair(650.0, 560.0, math.radians(45.0), 500.0, "strut 41x41x2.5", **more)  # type: ignore[arg-type]
    machine = Machine("planer", Range(60.0, 60.0), (308.8, 225.0, 200.0), FEET)
    return Stand("p", frame.nodes, frame.members, frame.held, frame.tie_rods, machine, level_at=frame.level_at)


def plain(members: tuple[Member, ...], held: tuple[Held, ...], rods: tuple[TieRod, ...] = ()) -> Stand:
    nodes = {"a": (0.0, 0.0, 0.0), "b": (500.0, 0.0, 0.0), "c": (500.0, 0.0, 400.0), "same": (0.0, 0.0, 0.0)}
    return Stand("s", nodes, members, held, rods, level_at=("b",))


ARM = Member("arm", "a", "b", "strut 41x41x2.5")


@pytest.mark.parametrize(
    ("stand", "words"),
    [
        (plain((), (Held("a"),)), "at least one member"),
        (plain((ARM,), ()), "nothing holds this stand"),
        (plain((replace(ARM, joints=(PINNED, PINNED)),), (Held("a"),)), "not held: arm can (turn|slide|fold)"),
        (plain((replace(ARM, end="same"),), (Held("a"),)), "'arm' runs from 'a' to 'same'.*needs a length"),
        (plain((replace(ARM, end="nowhere"),), (Held("a"),)), "'nowhere' is no node"),
        (plain((replace(ARM, profile="strut 99"),), (Held("a"),)), "'strut 99' is not a profile"),
        (plain((ARM, ARM), (Held("a"),)), "two members are named 'arm'"),
        (plain((replace(ARM, up=(0.0, 0.0, 0.0)),), (Held("a"),)), "has no length"),
        (plain((ARM,), (Held("z"),)), "'z' is no node"),
        (plain((ARM,), (Held("a"),), (TieRod("rod", "a", "same", "M10"),)), "'rod' joins two nodes in one place"),
        (plain((ARM,), (Held("a"),), (TieRod("rod", "c", "q", "M10"),)), "'q' is no node"),
        (plain((ARM,), (Held("a"),), (TieRod("rod", "a", "b", "M99"),)), "'M99' is not a bolt size"),
    ],
)
def test_what_makes_no_frame_is_said_in_a_sentence(stand: Stand, words: str) -> None:
    with pytest.raises(StandError, match=words) as caught:
        built(stand).structure  # noqa: B018
    assert "\n" not in str(caught.value)


def test_a_frame_that_hangs_on_a_rod_which_would_have_to_push_is_told_so() -> None:
    """Hinged at the wall, a rod below it: under a weight the rod goes slack and nothing is left."""
    nodes = {"a": (0.0, 0.0, 0.0), "b": (500.0, 0.0, 0.0), "low": (0.0, 0.0, -400.0), "post": (0.0, 200.0, -400.0)}
    members = (replace(ARM, joints=(PINNED, Joint("welded"))), Member("post", "post", "low", "strut 41x41x2.5"))
    held = (Held("a"), Held("post"))
    rod = TieRod("rod", "low", "b", "M10")
    stand = Stand("s", nodes, members, held, (rod,), leaning=Leaning(refused=True), level_at=("b",), knock_n=0.0)
    with pytest.raises(StandError, match="rod would have to push, and a rod only pulls"):
        review_stand(stand)


def test_a_rod_that_would_have_to_push_beside_a_brace_goes_slack_and_the_rest_is_rated() -> None:
    """A rod from the tip down to the bench beside a brace: a weight on the tip presses it, so it carries nothing."""
    stand = replace(pair(), machine=None, tie_rods=(TieRod("down rod", "left brace foot", "left tip", "M10"),))
    ready = built(stand)
    case = Case("leaning", "", Loads(nodal=lean_load(ready, 300.0, "left tip")))
    assert solved(ready, [case])[0].tie_n[0] == 0.0
    assert len(review_stand(stand).rods) == 1


def test_a_bench_that_tips_already_empty_is_a_stop() -> None:
    bench = Bench(
        Range(90.0, 90.0), (200.0, 250.0), ((-100.0, 0.0), (-100.0, 500.0), (-1700.0, 0.0), (-1700.0, 500.0)), 860.0
    )
    found = review_stand(replace(pair(), bench=bench))
    assert str(found.verdict) == "stop"
    first = found.findings[0]
    assert first.code == "topples" and first.severity is Severity.STOP and "already empty" in first.say


def test_a_bench_on_wheels_is_a_stop_and_an_unknown_bench_is_unproven() -> None:
    feet = ((-100.0, 0.0), (-100.0, 500.0), (-1700.0, 0.0), (-1700.0, 500.0))
    rolling = replace(pair(), bench=Bench(Range(300.0, 300.0), (-900.0, 250.0), feet, 860.0, wheels=True))
    assert "bench-on-wheels" in {f.code for f in review_stand(rolling).findings if f.severity is Severity.STOP}
    unknown = review_stand(pair())
    assert "bench-unknown" in {f.code for f in unknown.findings if f.severity is Severity.UNPROVEN}
    assert str(unknown.verdict) != "enough" and unknown.tipping_factor is None


def test_joints_nobody_vouches_for_never_pass() -> None:
    feet = ((-100.0, 0.0), (-100.0, 500.0), (-1700.0, 0.0), (-1700.0, 500.0))
    found = review_stand(replace(pair(), bench=Bench(Range(500.0, 500.0), (-900.0, 250.0), feet, 860.0)))
    assert str(found.verdict) == "unproven"
    assert any(each.share is None for each in found.joints)


def test_a_machine_that_falls_over_by_itself_is_refused() -> None:
    with pytest.raises(StandError, match="outside its feet"):
        foot_loads_n(FEET, (700.0, 250.0), 600.0)
    with pytest.raises(StandError, match="one foot"):
        foot_loads_n(((0.0, 0.0),), (50.0, 0.0), 600.0)


def test_a_foot_over_nothing_is_refused_by_its_place() -> None:
    stand = pair()
    assert stand.machine is not None
    beside = replace(stand, machine=replace(stand.machine, feet_mm=((120.0, 0.0), (580.0, 0.0), (120.0, 700.0))))
    with pytest.raises(StandError, match="the foot at 120, 700 mm stands over nothing"):
        built(beside)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: triangle_pair(650.0, 700.0, 0.7, 500.0, "strut 41x41x2.5"), "not on its 650 mm"),
        (lambda: triangle_pair(650.0, 560.0, 0.01, 500.0, "strut 41x41x2.5"), "no triangle"),
        (lambda: triangle_pair(650.0, 560.0, 0.7, 0.0, "strut 41x41x2.5"), "spacing above 0"),
        (
            lambda: triangle_pair(650.0, 560.0, 0.7, 500.0, "strut 41x41x2.5", crossbars_mm=(700.0,)),
            "crossbar at 700 mm",
        ),
        (
            lambda: triangle_pair(650.0, 560.0, 0.7, 500.0, "strut 41x41x2.5", rods=RodChoice(700.0, 200.0, "M10")),
            "rod at 700",
        ),
        (
            lambda: triangle_pair(650.0, 560.0, 0.7, 500.0, "strut 41x41x2.5", rods=RodChoice(600.0, 0.0, "M10")),
            "sit above",
        ),
        (lambda: triangle_pair(650.0, 560.0, 0.7, 500.0, "strut 41x41x2.5", frames=3), "one or two frames"),
        (lambda: shelf_frame(800.0, 0.0, 700.0, "strut 41x41x2.5"), "depth"),
        (lambda: shelf_frame(800.0, 500.0, 700.0, "strut 41x41x2.5", braces_mm=300.0), "do not fit"),
        (lambda: gantry(0.0, 700.0, "strut 41x41x2.5"), "span"),
    ],
)
def test_sizes_that_make_no_frame_are_refused(make: object, words: str) -> None:
    with pytest.raises(StandError, match=words):
        make()  # type: ignore[operator]


@pytest.mark.parametrize(
    ("stand", "readings", "words"),
    [
        (pair(), [Reading("left tip", 6.0)], "no tie rods"),
        (pair(rods=RodChoice(600.0, 250.0, "M10")), [], "not given"),
        (pair(rods=RodChoice(600.0, 250.0, "M10")), [Reading("nose", 6.0)], "'nose' is no node"),
    ],
)
def test_what_cannot_be_levelled_is_said(stand: Stand, readings: list[Reading], words: str) -> None:
    with pytest.raises(StandError, match=words):
        level_plan(stand, readings)


def test_only_stands_on_legs_are_shimmed() -> None:
    with pytest.raises(StandError, match="on legs"):
        shims(pair(), [Reading("left tip", 1.0), Reading("right tip", 2.0)])


def test_a_wall_bracket_and_a_gantry_are_rated_like_any_frame() -> None:
    bracket = wall_bracket(400.0, math.radians(45.0), "strut 41x41x2.5", spacing_mm=400.0)
    over = gantry(1600.0, 700.0, "square tube 40x3", depth_mm=500.0, braces_mm=200.0)
    for frame in (bracket, over):
        found = review_stand(Stand("s", frame.nodes, frame.members, frame.held, level_at=frame.level_at))
        assert found.sag_mm is not None and all(each.share is not None for each in found.members)


# --- the job file -------------------------------------------------------------------------------------------------


def altered(pattern: str, put: str, count: int = 1) -> str:
    text = EXAMPLE.read_text(encoding="utf-8")
    changed, times = re.subn(pattern, put, text, count=count, flags=re.MULTILINE)
    assert times == count, f"{pattern!r} does not occur in the example"
    return changed


@pytest.mark.parametrize(
    ("pattern", "put", "words"),
    [
        (r'frame = "triangle pair"', 'frame = "triangel pair"', 'did you mean "triangle pair"'),
        (r'reach = "650 mm"', "reach = 650", "has no unit"),
        (r'reach = "650 mm"', 'reech = "650 mm"', '"reech" is not a key here; did you mean "reach"'),
        (r'profile = "strut 41x41 12 ga"', 'profile = "strut 41x41 13 ga"', "is not a profile"),
        (r'brace_angle = "30 deg"', 'brace_angle = "89 deg"', "is more than 85 deg"),
        (r'brace_angle = "30 deg"', 'note2 = "x"', '"brace_angle" is missing'),
        (r'brace_at = "560 mm"', 'brace_at = "760 mm"', "not on its 650 mm"),
        (r'bolt = "1/2"', 'bolt = "half inch"', "is not a bolt size"),
        (r'clearance = "1.6 mm"', 'clearance = "1.6 mm"\n  hole = "14 mm"', "write one of the two"),
        (r'wood = "D30"', 'wood = "oak"', "is not a wood"),
        (r'size = "3/8"', 'size = "3/7"', "is not a bolt size"),
        (r'hole = "10 mm", off', 'hole = "30 mm", off', "as wide as the bar"),
        (r'reads = "74.0 kg"', 'reads = "74.0"', "has no unit"),
        (r'error = "1 kg"', 'error = "0 kg"', "must be more than 0 kg"),
        (r'speed = "2850 rpm"', 'speed = "2850"', "has no unit"),
        (r'speed = "2850 rpm"', 'speed = "28 m"', "is not a"),
        (r'force = \["0 N", "180 N", "0 N"\]', 'force = ["0 N", "180 N"]', "three values are due"),
        (r'at = "left tip"', 'at = "lft tip"', "no place of this frame"),
        (r'slope = "0.31 deg"', 'slope = "0.31 deg"\n  low = "3 mm"', "says how low it lies"),
        (r'over = "650 mm"', 'say = "no length"', '"over" is missing'),
        (r'height = "860 mm"', 'hight = "860 mm"', '"height" is missing'),
        (r'feet = \[\["120 mm", "0 mm"\], \["580 mm", "0 mm"\]', 'feet = [["120 mm", "0 mm"], ["580 mm", "0 mm", "1 mm"]',
         "two lengths are due"),
        (r'centre = \["350 mm", "225 mm", "260 mm"\]', 'centre = ["350 mm", "225 mm"]', "three values are due"),
        (r'saw_reach = "50 deg"', 'saw_reach = "100 deg"', "is more than 89 deg"),
        (r'post_below = "200 mm"', 'post_below = "200 mm"\n  adjust = "screw"', "nut, turnbuckle"),
        (r'brace_angle = "30 deg".*', 'brace_angle = "30 deg"\nknock = "hard"', "not a force"),
    ],
)  # fmt: skip
def test_each_mistake_in_a_stand_is_told_at_its_line(pattern: str, put: str, words: str) -> None:
    text = altered(pattern, put)
    with pytest.raises(JobProblems) as caught:
        read_stands(read_job_text(text, "boat.toml"))
    first = next(p for p in caught.value.problems if re.search(words, p.sentence))
    assert first.line > 0 and first.file == "boat.toml"
    where = text.split("\n")[first.line - 1]
    key = put.strip("\n ").split(" ")[0].split("=")[0]
    near = "\n".join(text.split("\n")[max(0, first.line - 8) : first.line + 8])
    assert key in near or where.strip().startswith("["), (where, first.sentence)


def test_every_mistake_is_told_at_once() -> None:
    text = (
        altered(r'reach = "650 mm"', "reach = 650").replace('bolt = "1/2"', 'bolt = "half"').replace('"95 kg"', '"95"')
    )
    with pytest.raises(JobProblems) as caught:
        read_stands(read_job_text(text, "boat.toml"))
    assert len(caught.value.problems) >= 4
    assert [p.line for p in caught.value.problems] == sorted(p.line for p in caught.value.problems)


def test_a_frame_that_can_move_is_told_at_its_table() -> None:
    text = """steadfold = 1
[[stand]]
name = "loose"
frame = "free"
profile = "strut 41x41x2.5"
  [[stand.node]]
  name = "root"
  at = ["0 mm", "0 mm", "0 mm"]
  [[stand.node]]
  name = "tip"
  at = ["500 mm", "0 mm", "0 mm"]
  [[stand.member]]
  name = "arm"
  from = "root"
  to = "tip"
    [stand.member.joint]
    kind = "pinned"
  [[stand.held]]
  node = "root"
"""
    with pytest.raises(JobProblems, match="arm can turn") as caught:
        read_stand(read_job_text(text, "loose.toml").stands[0])
    assert 2 <= caught.value.problems[0].line <= 19


@pytest.mark.parametrize(("text", "low"), [
    ('low = "6 mm"', 6.0), ('slope = "0.5 deg"\n  over = "600 mm"', 600.0 * math.tan(math.radians(0.5))),
    ('bubble = 2.0\n  over = "600 mm"', 0.6), ('bubble = 2.0\n  over = "600 mm"\n  vial_per_m = "0.3 mm"', 0.36),
])  # fmt: skip
def test_a_reading_may_be_millimetres_degrees_or_bubble_divisions(text: str, low: float) -> None:
    job = read_job_text(altered(r'at = "left tip"\n  low = "6 mm"', f'at = "left tip"\n  {text}'), "b.toml")
    assert read_stand(job.stands[0]).readings[0].low_mm == pytest.approx(low)


def test_the_same_stand_in_inches_gives_the_same_answers() -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    inches = re.sub(r'"(-?[\d.]+) mm"', lambda m: f'"{float(m[1]) / 25.4:.12f} in"', text)
    assert inches != text
    first = [plain_stand(review_stand(s)) for s in read_stands(read_job_text(text, "a.toml"))]
    second = [plain_stand(review_stand(s)) for s in read_stands(read_job_text(inches, "a.toml"))]
    for ours, theirs in zip(first, second, strict=True):
        assert ours["verdict"] == theirs["verdict"] and ours["weakest"] == theirs["weakest"]
        assert ours["sag_mm"] == pytest.approx(theirs["sag_mm"], rel=1e-6)
        assert ours["tipping_factor"] == pytest.approx(theirs["tipping_factor"], rel=1e-6)


def test_the_examples_show_what_feel_gets_wrong() -> None:
    """Members loaf, the chain around them fails; rods move the pull to the post; a tight brace fights them."""
    first, second = (review_stand(stand) for stand in read_stands(read_job(EXAMPLE)))
    codes = {finding.code for finding in first.findings}
    assert {"topples", "drilled-bar", "post-head-bends", "rods-fight-brace", "too-heavy-by-hand"} <= codes
    assert str(first.verdict) == "stop"
    arms = [each.share for each in first.members if each.role == "arm"]
    assert max(share for share in arms if share is not None) < 0.2
    assert first.level is not None and first.level.worst_left_mm < 0.1
    assert first.diagnosis is not None and first.diagnosis.cause in ("slip", "cannot tell")
    assert str(second.verdict) in ("enough", "tight")


def test_plain_data_has_the_keys_of_the_job_files_contract_and_no_strange_numbers() -> None:
    import json

    for stand in read_stands(read_job(EXAMPLE)):
        data = plain_stand(review_stand(stand))
        text = json.dumps(data, allow_nan=False)
        assert json.loads(text) == data
        assert {"name", "verdict", "weakest", "sag_mm", "slope_mm_per_m", "members", "joints", "tie_rods", "tipping_factor",
                "frequency_hz", "governs", "findings"} <= set(data)  # fmt: skip
        assert {"name", "axial_n", "moment_nmm", "utilisation"} <= set(data["members"][0])
        for rod in data["tie_rods"]:
            assert {"name", "tension_n", "turns_to_level"} <= set(rod)
