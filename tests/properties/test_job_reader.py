"""What a job says and what is read: the same in inch and in mm, whatever the layout; shapes checked by geometry."""

from __future__ import annotations

import dataclasses
import math
import pickle
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadfold.job import Job, JobPart, JobProblems, read_job_text, tree_at
from steadfold.job.fields import Fields
from steadfold.job.fresh import kinds, new_job
from steadfold.job.openings import bulge_through
from steadfold.job.panels import teardrop_angle
from steadfold.sheet.outline import arc_of, circle
from steadfold.sheet.resolve import din_rule, resolve
from steadfold.sheet.shapes import SHAPES as READY_MADE
from steadfold.sheet.shapes.shape import Dimension, ReadyShape, ShapeError, Sheet, Value
from steadfold.sheet.tree import GREATEST_ANGLE_RAD, Cutout, DrawnPanel, PanelTree, rectangular_panel

HEAD = 'steadfold = 1\n[[part]]\nname = "p"\nmaterial = "DC01"\nthickness = "2 mm"\n'


def alike(one: Any, other: Any) -> bool:
    """Records equal to a few rounding errors."""
    if dataclasses.is_dataclass(one) and not isinstance(one, type):
        names = [each.name for each in dataclasses.fields(one) if each.compare and each.name != "thickness_text"]
        return type(one) is type(other) and all(alike(getattr(one, n), getattr(other, n)) for n in names)
    if isinstance(one, (tuple, list)):
        return len(one) == len(other) and all(alike(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, dict):
        return one.keys() == other.keys() and all(alike(one[key], other[key]) for key in one)
    if isinstance(one, float) and isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-9)
    return bool(one == other)


class Ruler:
    """Writes lengths, held in 64ths of an inch, in one system or the other."""

    def __init__(self, inch: bool):
        self.inch = inch

    def __call__(self, sixty_fourths: int) -> str:
        if not self.inch:
            return f'"{sixty_fourths * 25.4 / 64!r} mm"'
        sign, whole, rest = "-" * (sixty_fourths < 0), *divmod(abs(sixty_fourths), 64)
        return f'"{sign}{whole}-{rest}/64 in"' if whole and rest else f'"{sign}{whole or rest}{"/64" * (not whole)} in"'


LENGTH = st.integers(64, 64 * 12)


@st.composite
def jobs(draw: st.DrawFn) -> tuple[str, str]:
    """The same job of random panels in mm and in inch."""
    seed = draw(st.randoms(use_true_random=False))
    count = draw(st.integers(1, 6))
    state = seed.getstate()
    texts = []
    for ruler in (Ruler(False), Ruler(True)):
        seed.setstate(state)
        rows = ["steadfold = 1", "[[part]]", 'name = "p"', 'material = "304"', f"thickness = {ruler(8)}"]
        rows += [f"inside_radius = {ruler(seed.randrange(1, 64))}", 'shape = "panels"']
        for number in range(count):
            width, height = seed.randrange(64, 1000), seed.randrange(64, 1000)
            rows += ["[[part.panel]]", f'name = "{number}"', f"size = [{ruler(width)}, {ruler(height)}]"]
            if number:
                rows += [f'from = "{number - 1}"', 'edge = "top"', f'bend = "{seed.randrange(1, 180)} deg"']
                rows += [f"offset = {ruler(seed.randrange(-60, 60))}"]
            rows += ["[[part.panel.cutout]]", 'shape = "slot"', f"length = {ruler(80)}", f"width = {ruler(9)}"]
            rows += [f"at = [{ruler(seed.randrange(1, 64))}, {ruler(33)}]"]
            rows += [f"repeat = {{ count = 3, step = [{ruler(20)}, {ruler(-1)}] }}"]
        mass = seed.randrange(1, 90)
        kilograms = f"{mass * 0.45359237!r} kg"
        rows += ["[[part.carries]]", 'item = "x"', f'mass = "{mass} lb"' if ruler.inch else f'mass = "{kilograms}"']
        rows += [f"reach = {ruler(77)}", "[part.cases]", f"sag_limit = {ruler(5)}"]
        texts.append("\n".join(rows))
    return texts[0], texts[1]


@settings(max_examples=100)
@given(jobs())
def test_a_job_in_inches_is_the_job_in_millimetres(texts: tuple[str, str]) -> None:
    metric, inch = (read_job_text(text) for text in texts)
    assert alike(metric, inch)


@pytest.mark.parametrize("kind", kinds())
def test_a_job_to_start_from_reads_and_folds(kind: str) -> None:
    job = read_job_text(new_job(kind))
    assert " in" in new_job(kind) and " mm" in new_job(kind)
    for part in job.parts:
        assert part.carries and part.mount is not None
        assert part.tree is not None and part.thickness_mm is not None
        resolve(part.tree, part.name, part.thickness_mm, din_rule(part.thickness_mm, part.thickness_mm))


def test_an_unknown_job_to_start_from_is_refused() -> None:
    with pytest.raises(ValueError, match="not a shape to start from"):
        new_job("bench")


def test_a_job_can_be_sent_to_another_process() -> None:
    job = read_job_text(new_job())
    again: Job = pickle.loads(pickle.dumps(job))
    assert again == job
    assert again.fingerprint == job.fingerprint
    with pytest.raises(JobProblems) as caught:
        read_job_text("steadfold = 2")
    assert pickle.loads(pickle.dumps(caught.value)).problems == caught.value.problems


def test_a_gauge_is_read_in_its_own_metal() -> None:
    """11 gauge: steel 0.1196 in, galvanised 0.1233, stainless 0.1250, aluminium 0.0907 (the four gauge tables, as
    printed in stockists' and manufacturers' lists; recalled)."""
    for metal, inch in (("DC01", 0.1196), ("DX51D", 0.1233), ("304", 0.1250), ("5052-H32", 0.0907)):
        for text in ("11 ga", "11ga", "11 gauge", "#11 ga", "11 Gauge"):
            source = new_job("panels").replace('"S235"', f'"{metal}"').replace('"3 mm"', f'"{text}"')
            (part,) = read_job_text(source).parts
            assert part.thickness_mm == pytest.approx(inch * 25.4, abs=0.00005 * 25.4)
            assert part.gauge is not None and part.gauge.number == 11


# Shapes made for this test: what the reader must do with any shape, whatever the ten do.


def _plate(values: Any, sheet: Sheet) -> PanelTree:
    if values["width"] < 10 * sheet.inside_radius_mm:
        raise ShapeError("width", f"a plate is at least {10 * sheet.inside_radius_mm:g} mm wide")
    hole = Cutout(circle(6.0, (10.0, 10.0)), "first")
    leaf = rectangular_panel("leaf", values["width"], 30.0, "plate", "top", values["lean"])
    plate = rectangular_panel("plate", values["width"], 50.0, cutouts=(hole,))
    return PanelTree((plate, leaf), (("both", ("plate", "leaf")),))


def _row(values: Any, sheet: Sheet) -> PanelTree:
    return PanelTree((rectangular_panel("row", 10.0 * values["count_of"], 20.0),))


def _shape(name: str, build: Any, *dimensions: Dimension) -> ReadyShape:
    return ReadyShape(name, f"a {name}", dimensions, build)


SHAPES = {
    "plate": _shape(
        "plate", _plate,
        Dimension("width", "length", None, "width of the plate", 20.0, 500.0),
        Dimension("lean", "angle", math.pi / 2, "how far the leaf turns", math.radians(10), math.pi),
        Dimension("side", "choice", "left", "which side", choices=("left", "right")),
        Dimension("mirrored", "flag", False, "the other way round"),
    ),
    "row": _shape("row", _row, Dimension("count_of", "count", 3, "how many", 1, 9)),
}  # fmt: skip


def shaped(lines: str) -> JobPart:
    (part,) = read_job_text(HEAD + lines, shapes=SHAPES).parts
    return part


def test_a_ready_made_shape_is_read_by_its_own_record() -> None:
    part = shaped('shape = "plate"\nwidth = "4 in"\nside = "right"\nmirrored = true\n')
    assert part.shape_values == {"width": pytest.approx(101.6), "lean": math.pi / 2, "side": "right", "mirrored": True}
    assert part.tree is not None
    assert [panel.name for panel in part.tree.panels] == ["plate", "leaf"]
    assert shaped('shape = "row"\n').shape_values == {"count_of": 3}


@pytest.mark.parametrize(
    ("lines", "field", "words"),
    [
        ('shape = "plate"\n', "", 'width = "300 mm" (width of the plate)'),
        ('shape = "plate"\nwidth = "10 mm"\n', "width", "less than 20 mm"),
        ('shape = "plate"\nwidth = "501 mm"\n', "width", "more than 500 mm"),
        ('shape = "plate"\nwidth = "40 mm"\nlean = "5 deg"\n', "lean", "less than 10 deg"),
        ('shape = "plate"\nwidth = "40 mm"\nside = "up"\n', "side", "known: left, right"),
        ('shape = "plate"\nwidth = "40 mm"\nmirrored = "yes"\n', "mirrored", "true or mirrored = false"),
        ('shape = "row"\ncount_of = 10\n', "count_of", "from 1 to 9"),
        ('shape = "row"\nwidth = "40 mm"\n', "width", "not a key here"),
        ('shape = "plate"\ninside_radius = "8 mm"\nwidth = "40 mm"\n', "width", "at least 80 mm wide"),
        ('shape = "plate"\nwidth = "60 mm"\n[[part.panel]]\nname = "x"\n', "panel", "not a key here"),
    ],
)
def test_a_dimension_out_of_its_limits_is_told_at_its_key(lines: str, field: str, words: str) -> None:
    with pytest.raises(JobProblems) as caught:
        shaped(lines)
    (problem,) = caught.value.problems
    assert problem.field == ", ".join(filter(None, ('part "p"', field)))
    assert words in problem.sentence


def test_cutouts_are_added_to_the_panel_they_name_and_stay_for_another_radius() -> None:
    cutout = '[[part.cutout]]\non = "leaf"\nshape = "circle"\ndiameter = "5 mm"\nat = ["10 mm", "20 mm"]\n'
    part = shaped('shape = "plate"\nwidth = "60 mm"\n' + cutout + cutout.replace("leaf", "plate"))
    for tree in (part.tree, tree_at(part, 3.0, SHAPES)):
        assert tree is not None
        assert [len(panel.cutouts) for panel in tree.panels] == [2, 1]
        assert tree.panels[1].cutouts[0].outline.circle == ((10.0, 20.0), 2.5)
        assert tree.places == (("both", ("plate", "leaf")),)
    with pytest.raises(ShapeError):
        tree_at(part, 20.0, SHAPES)


def test_places_of_a_shape_take_loads_and_others_are_refused() -> None:
    load = '[[part.carries]]\nitem = "x"\nmass = "1 kg"\non = "{on}"\n'
    assert shaped('shape = "plate"\nwidth = "60 mm"\n' + load.format(on="both")).carries[0].on == "both"
    with pytest.raises(JobProblems, match='did you mean "leaf"'):
        shaped('shape = "plate"\nwidth = "60 mm"\n' + load.format(on="leef"))


def drawn(lines: str) -> tuple[DrawnPanel, ...]:
    part = read_job_text(HEAD + 'shape = "panels"\n' + lines).parts[0]
    assert part.tree is not None
    return part.tree.panels


BACK = '[[part.panel]]\nname = "back"\nsize = ["100 mm", "50 mm"]\n'


def hem(lines: str) -> DrawnPanel:
    row = f'[[part.panel]]\nname = "hem"\nfrom = "back"\nedge = "top"\nsize = ["100 mm", "14 mm"]\n{lines}\n'
    return drawn(BACK + row)[1]


def test_hems_turn_half_round_and_a_teardrop_closes_on_its_sheet() -> None:
    closed, opened = hem('hem = "closed"'), hem('hem = "open"\ngap = "4 mm"\nside = "back"')
    assert (closed.angle_rad, closed.inside_radius_mm) == (math.pi, pytest.approx(0.1))
    assert (opened.angle_rad, opened.inside_radius_mm) == (-math.pi, 2.0)
    # By hand: t 2, r 3, leg 14 - 3 - 2 = 9; the inside of the leg starts r (1 + cos d) above the sheet at the tangent
    # line and comes down by 9 sin d: the gap at its end is what was asked for.
    for gap, text in ((0.2, ""), (1.0, 'gap = "1 mm"')):
        drop = hem(f'hem = "teardrop"\ninside_radius = "3 mm"\n{text}')
        beyond = drop.angle_rad - math.pi
        assert drop.inside_radius_mm == 3.0
        assert beyond > 0
        assert 3 * (1 + math.cos(beyond)) - 9 * math.sin(beyond) == pytest.approx(gap, abs=1e-9)


@given(st.floats(0.5, 10), st.floats(1.5, 20), st.floats(0, 0.99))
def test_a_teardrop_ends_at_its_gap_by_turning_it_point_by_point(radius: float, long: float, share: float) -> None:
    leg, gap = radius * long, 2 * radius * share
    angle = teardrop_angle(radius, leg, gap)
    # Walk the inside face: round the bend in a thousand chords, then along the leg.
    x = y = 0.0
    step = angle / 1000
    for number in range(1000):
        heading = (number + 0.5) * step
        chord = 2 * radius * math.sin(step / 2)
        x, y = x + chord * math.cos(heading), y + chord * math.sin(heading)
    y += leg * math.sin(angle)
    assert y == pytest.approx(gap, abs=1e-9 * (leg + radius))
    assert math.pi <= angle + 1e-12
    assert angle <= GREATEST_ANGLE_RAD


@given(st.floats(-3.0, 3.0), st.floats(0.1, 0.9), st.floats(0.01, 1.99), st.booleans())
def test_an_arc_runs_through_its_point(from_angle: float, share: float, half_turns: float, left: bool) -> None:
    turn = half_turns * math.pi * (1 if left else -1)
    angles = (from_angle, from_angle + turn * share, from_angle + turn)
    start, through, end = ((5 + 7 * math.cos(angle), -2 + 7 * math.sin(angle)) for angle in angles)
    bulge = bulge_through(start, through, end)
    centre, radius, _, turned = arc_of(start, end, bulge)
    assert math.dist(centre, through) == pytest.approx(radius, rel=1e-6)
    assert turned == pytest.approx(turn, rel=1e-6)


def test_three_points_on_a_line_make_no_arc() -> None:
    assert bulge_through((0.0, 0.0), (1.0, 1.0), (3.0, 3.0)) == pytest.approx(0.0, abs=1e-15)


def test_a_free_outline_keeps_its_arcs_and_its_order() -> None:
    arc = '{ to = ["60 mm", "40 mm"], bulge = 1 }'
    outline = f'outline = [["0 mm", "0 mm"], ["60 mm", "0 mm"], {arc}, ["0 mm", "40 mm"]]\n'
    (panel,) = drawn('[[part.panel]]\nname = "back"\n' + outline)
    assert panel.outline.points == ((0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0))
    assert panel.outline.bulges == (0.0, 1.0, 0.0, 0.0)
    assert not panel.rectangular
    # A rectangle and a half disc to its right.
    assert panel.outline.area_mm2 == pytest.approx(60 * 40 + math.pi * 20**2 / 2)
    closing = outline.replace('[["0 mm", "0 mm"],', '[{ to = ["0 mm", "0 mm"], through = ["-20 mm", "20 mm"] },')
    (panel,) = drawn('[[part.panel]]\nname = "back"\n' + closing)
    assert panel.outline.bulges == (0.0, 1.0, 0.0, pytest.approx(1.0))


def centres(lines: str) -> list[tuple[float, float]]:
    (panel,) = drawn(BACK + "[[part.panel.cutout]]\n" + lines)
    boxes = [cutout.outline.bounds for cutout in panel.cutouts]
    return [(round((a + c) / 2, 6), round((b + d) / 2, 6)) for a, b, c, d in boxes]


def test_repeats_count_the_first_and_run_in_rows_and_columns() -> None:
    hole = 'shape = "circle"\ndiameter = "5 mm"\nat = ["10 mm", "10 mm"]\n'
    assert centres(hole) == [(10, 10)]
    assert centres(hole + 'repeat = { count = 3, step = ["20 mm", "1 mm"] }') == [(10, 10), (30, 11), (50, 12)]
    grid = 'repeat = [{ count = 2, step = ["20 mm", "0 mm"] }, { count = 2, step = ["0 mm", "15 mm"] }]'
    assert centres(hole + grid) == [(10, 10), (30, 10), (10, 25), (30, 25)]


def test_every_cutout_but_an_outline_lies_about_its_point() -> None:
    turned = 'turned = "90 deg"\nat = ["40 mm", "20 mm"]\n'
    for lines, box in (
        ('shape = "slot"\nlength = "30 mm"\nwidth = "6 mm"\n', (37, 5, 43, 35)),
        ('shape = "rectangle"\nsize = ["30 mm", "6 mm"]\ncorner_radius = "1 mm"\n', (37, 5, 43, 35)),
        ('shape = "outline"\noutline = [["0 mm", "0 mm"], ["9 mm", "0 mm"], ["0 mm", "4 mm"]]\n', (36, 20, 40, 29)),
    ):
        (panel,) = drawn(BACK + "[[part.panel.cutout]]\n" + lines + turned)
        assert panel.cutouts[0].outline.bounds == pytest.approx(box)


def test_cases_are_changed_or_refused_in_words_and_never_dropped() -> None:
    lines = BACK + '[part.cases]\nsnatch_factor = 3\nknock = "none"\nlean = "None"\nsag_limit = "1/16 in"\n'
    part = read_job_text(HEAD + 'shape = "panels"\n' + lines).parts[0]
    assert part.cases.snatch_factor == 3.0
    assert part.cases.knock_n is None and part.cases.lean_n is None
    assert part.cases.refused == ("knock", "lean")
    assert part.cases.sag_limit_mm == pytest.approx(25.4 / 16)


def test_a_range_goes_through_and_counts_up() -> None:
    for mass in ('["1.6 kg", "2.3 kg"]', '{ low = "1.6 kg", high = "2.3 kg" }'):
        lines = BACK + f'[[part.carries]]\nitem = "oar"\nmass = {mass}\ncount = 4\n'
        (carries,) = read_job_text(HEAD + 'shape = "panels"\n' + lines).parts[0].carries
        assert (carries.mass_kg.low, carries.mass_kg.high) == (1.6, 2.3)
        assert (carries.total_kg.low, carries.total_kg.high) == (6.4, pytest.approx(9.2))


def test_a_stand_and_a_sale_are_kept_for_the_rooms_that_read_them() -> None:
    text = 'steadfold = 1\n[[stand]]\nname = "outrigger"\nfeet = { odd = [1, 2] }\n[sale]\nprice = "20"\n'
    job = read_job_text(text, Path("boat/shed.toml"))
    (stand,) = job.stands
    assert stand.values["feet"] == {"odd": [1, 2]}
    problem = stand.problem(("feet", "odd", 1), "is one too many")
    assert (problem.file, problem.line, problem.column) == (str(Path("boat/shed.toml")), 4, 20)
    assert problem.field == 'stand "outrigger", feet, odd'
    assert job.sale is not None and job.sale.values == {"price": "20"}
    assert stand.refused(("name",), "no").problems[0].line == 3
    assert job.parts == () and job.name == "shed"


def test_values_of_shapes_have_the_type_the_record_promises() -> None:
    values: dict[str, Value] = dict(shaped('shape = "plate"\nwidth = "60 mm"\n').shape_values)
    assert [type(value) for value in values.values()] == [float, float, str, bool]


def test_a_generated_job_says_the_defaults_that_the_shape_has() -> None:
    for kind in set(kinds()) - {"panels", "tine rack"}:
        text = new_job(kind)
        spelled = re.sub(r"^# (?=\w+ = )", "", text, flags=re.MULTILINE)
        assert spelled != text
        assert alike(read_job_text(spelled).parts[0].tree, read_job_text(text).parts[0].tree)


DOCS = (Path(__file__).parents[2] / "docs" / "job-file.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("number", range(DOCS.count("```toml")))
def test_every_job_in_the_docs_reads_and_folds(number: int) -> None:
    text = DOCS.split("```toml\n")[number + 1].split("```")[0]
    for part in read_job_text(text).parts:
        assert part.tree is not None and part.thickness_mm is not None
        resolve(part.tree, part.name, part.thickness_mm, din_rule(part.thickness_mm, part.thickness_mm))


def test_the_docs_name_every_key_that_is_read(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    asked: set[str] = set()

    def known(fields: Fields, key: str) -> Any:
        asked.add(key)
        return fields.values.get(key)

    (tmp_path / "drawings").mkdir()
    for name in ("rail_end.step", "drawings/cover.dxf"):
        (tmp_path / name).write_text("x", encoding="utf-8")
    whole = Path(__file__).parents[1] / "faults" / "whole_job.toml"
    monkeypatch.setattr(Fields, "raw", known)
    monkeypatch.setattr(Fields, "done", lambda _: None)
    read_job_text(whole.read_text(encoding="utf-8"), tmp_path / "job.toml")
    read_job_text(new_job("panels"))
    shapes = {dimension.key for shape in READY_MADE.values() for dimension in shape.dimensions}
    missing = {key for key in asked - shapes if not re.search(rf"`[^`]*\b{key}\b[^`]*`", DOCS)}
    assert missing == set()
    assert len(asked - shapes) > 50
