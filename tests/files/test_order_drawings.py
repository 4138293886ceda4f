"""Drawings: what stands on them against the numbers the part was ordered with, and against the standards' rules."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from steadfold.deliver.drawing.dimension import length, readable, running, spread_out
from steadfold.deliver.drawing.flat_drawing import best_scale, flat_drawing
from steadfold.deliver.drawing.folded_drawing import folded_drawing, outside_lengths, seen
from steadfold.deliver.drawing.lines import CENTRE, HIDDEN, NARROW, VISIBLE
from steadfold.deliver.drawing.marks import Area, Place, Stroke, Words, outline_stroke, words_box
from steadfold.deliver.drawing.openings import form_of, groups_of, openings_of
from steadfold.deliver.sheets.head import Style, part_head
from steadfold.deliver.sheets.part_drawing import part_drawing
from steadfold.deliver.surface import surface_of
from steadfold.deliver.view import orthographic
from steadfold.review.shop import shop_of
from steadfold.sheet.extent import folded_size_mm
from steadfold.sheet.flat import flat_pattern
from steadfold.sheet.outline import circle, obround, polygon_outline, rectangle
from steadfold.sheet.pose import fold
from tests.files.hand_parts import angle_part, comb_part
from tests.files.order_jobs import pages, part_of, reviewed
from tests.properties.parts import RandomPart, random_parts, resolved_or_none


def texts(marks: tuple) -> list[str]:
    return [mark.text for mark in marks if isinstance(mark, Words)]


def test_lines_are_those_of_iso_128_in_width_and_dashes() -> None:
    """ISO 128-2 and 128-20, recalled: wide to narrow 2 : 1; dash 12 d, long dash 24 d, gap 3 d, dot 0.5 d."""
    assert VISIBLE.width_mm == 2 * NARROW.width_mm
    d = HIDDEN.width_mm
    assert (HIDDEN.number, HIDDEN.dashes_mm) == ("02.1", (12 * d, 3 * d))
    assert (CENTRE.number, CENTRE.dashes_mm) == ("04.1", (24 * d, 3 * d, 0.5 * d, 3 * d))


@pytest.mark.parametrize("angle", range(-720, 721, 15))
def test_a_value_reads_from_below_or_from_the_right(angle: int) -> None:
    """ISO 129-1: never upside down, never from the left."""
    turned = readable(float(angle))
    assert -90 < turned <= 90
    assert math.isclose(math.cos(math.radians(turned)) ** 2, math.cos(math.radians(angle)) ** 2, abs_tol=1e-9)


def test_a_dimension_line_is_as_long_as_what_it_measures_and_ends_in_arrowheads() -> None:
    marks = length((10.0, 5.0), (70.0, 25.0), (1.0, 0.0), 40.0, "60")
    heads = [mark for mark in marks if isinstance(mark, Area)]
    tips = sorted(head.points[0] for head in heads)
    assert tips == [(10.0, 40.0), (70.0, 40.0)]
    (words,) = [mark for mark in marks if isinstance(mark, Words)]
    assert words.text == "60" and words.at[1] > 40.0 and words.at[0] == 40.0


def test_a_short_dimension_has_its_arrows_outside() -> None:
    marks = length((0.0, 0.0), (3.0, 0.0), (1.0, 0.0), 10.0, "3")
    heads = [mark for mark in marks if isinstance(mark, Area)]
    for head in heads:
        tip, *back = head.points
        inward = 1.5 - tip[0]
        assert all((b[0] - tip[0]) * inward < 0 for b in back)


@given(st.lists(st.floats(0, 100), min_size=1, max_size=30), st.floats(0.5, 8))
def test_crowded_values_are_spread_as_a_library_for_isotonic_regression_does(values: list[float], least: float) -> None:
    """scipy.optimize.isotonic_regression on the values less their places."""
    values = sorted(values)
    found = spread_out(values, least)
    steps = least * np.arange(len(values))
    assert np.allclose(found, isotonic_regression(np.array(values) - steps).x + steps, atol=1e-7)
    assert all(b - a >= least - 1e-9 for a, b in pairwise(found))


def test_running_dimensions_start_with_a_circle_at_their_origin() -> None:
    from steadfold.deliver.drawing.dimension import Running

    rows = [Running(0.0, "0"), Running(40.0, "80"), Running(41.0, "82")]
    marks = running(rows, "bottom", -9.0, [0.0] * 3, 0.0)
    closed = [m for m in marks if isinstance(m, Stroke) and m.path[-1] == ("Z",)]
    assert len(closed) == 1 and texts(tuple(marks)) == ["0", "80", "82"]


@pytest.mark.parametrize(
    ("outline", "form"),
    [
        (circle(9.0, (3.0, 4.0)), "⌀9"),
        (obround(14.0, 7.0, (0.0, 0.0)), "slot 14 × 7"),
        (obround(28.575, 12.7, (5.0, 5.0), 0.7), "slot 28.58 × 12.7"),
        (rectangle(12.0, 6.0), "12 × 6"),
        (rectangle(6.0, 12.0, corner_radius_mm=2.0), "12 × 6 R2"),
        (polygon_outline([(0, 0), (30, 0), (0, 12)]), "opening 30 × 12"),
        (polygon_outline([(0, 0), (30, 0), (32, 12), (2, 12)]), "opening 32 × 12"),
    ],
)
def test_openings_are_named_by_their_form(outline: object, form: str) -> None:
    assert form_of(outline) == form  # type: ignore[arg-type]
    assert form_of(outline.reversed()) == form  # type: ignore[attr-defined]


def test_openings_evenly_in_line_are_one_group_with_their_step() -> None:
    part = angle_part(back_holes=[circle(5.0, (15.0 + 20 * i, 30.0)) for i in range(4)])
    (group,) = groups_of(openings_of(part, flat_pattern(part)))
    assert (group.form, group.panel, len(group.openings)) == ("⌀5", "back", 4)
    assert group.step_mm == pytest.approx((20.0, 0.0))
    assert group.openings[0].on_panel_mm == pytest.approx((15.0, 30.0))


def test_an_opening_across_a_bend_is_said_to_be_one() -> None:
    part = angle_part(strip_holes=[obround(8.0, 2.5, (50.0, 2.2), 0.0)])
    (opening,) = openings_of(part, flat_pattern(part))
    assert opening.panel == "across a bend" and opening.on_panel_mm is None


def test_an_outline_on_paper_keeps_its_arcs_and_scale() -> None:
    stroke = outline_stroke(circle(10.0, (5.0, 5.0)), Place(2.0, 1.0, 1.0), VISIBLE)
    assert [step[0] for step in stroke.path] == ["M", "A", "A", "Z"]
    assert stroke.path[1][1] == pytest.approx(10.0)


@pytest.mark.parametrize("angle", [30.0, 60.0, 90.0, 120.0, 135.0])
def test_outside_lengths_are_the_flanges_as_ordered(angle: float) -> None:
    """A back of 50 and a flange of 30 by outside dimensions, seen along the bend."""
    part = angle_part(math.radians(angle))
    lengths = outside_lengths(part, fold(part), orthographic("left"))
    assert sorted(each.value_mm for each in lengths) == [30.0, 50.0]
    for each in lengths:
        assert math.dist(each.start, each.end) == pytest.approx(each.value_mm, abs=1e-9)


def test_the_outside_length_of_a_square_flange_ends_on_the_outline() -> None:
    part = angle_part()
    view = seen(surface_of(part), orthographic("left"))
    points = np.array([p for each in outside_lengths(part, fold(part), view.view) for p in (each.start, each.end)])
    low, high = points.min(axis=0), points.max(axis=0)
    assert low == pytest.approx(view.low, abs=1e-6) and high == pytest.approx(view.high, abs=1e-6)


def test_no_size_stands_on_the_folded_drawing_twice_and_none_is_missing() -> None:
    drawing = folded_drawing(angle_part(width=100.0), 380.0, 230.0, "first", "mm")
    assert sorted(texts(drawing.marks)) == ["100", "30", "50"]


def test_an_angle_that_is_not_square_is_given_between_the_faces() -> None:
    """Turned through 120°, the flange stands at 60° to the back: what a protractor reads."""
    drawing = folded_drawing(angle_part(math.radians(120)), 380.0, 230.0, "first", "mm")
    assert "60°" in texts(drawing.marks)


@pytest.mark.parametrize(("projection", "below"), [("first", True), ("third", False)])
def test_the_view_from_above_lies_where_the_projection_puts_it(projection: str, below: bool) -> None:
    """ISO 5456-2: by first angle below the front view, by third angle above it."""
    part = angle_part(back=90.0, flange=40.0)
    drawing = folded_drawing(part, 380.0, 230.0, projection, "mm")  # type: ignore[arg-type]
    words = [mark for mark in drawing.marks if isinstance(mark, Words)]
    by_text = {mark.text: mark.at for mark in words}
    # The height (90) and depth (40) stand at the view from the side, the width (100) at the front view.
    front = by_text["100"][1]
    strokes = [s for s in drawing.marks if isinstance(s, Stroke) and s.line == VISIBLE]
    width = 100.0 * drawing.scale
    above = [
        p[-1]
        for s in strokes
        for p in s.path
        if p[0] != "Z" and abs(max(q[-2] for q in s.path) - min(q[-2] for q in s.path) - width) < 0.5  # type: ignore[operator]
    ]
    assert (min(above) < front - 20) is below


def test_the_first_angle_side_view_is_from_the_left_and_the_third_angle_one_from_the_right() -> None:
    """The flange points at the viewer of the front: from the left it points right, from the right left."""
    for projection, right in (("first", True), ("third", False)):
        drawing = folded_drawing(angle_part(back=90.0, flange=40.0), 380.0, 230.0, projection, "mm")  # type: ignore[arg-type]
        by_text = {m.text: m.at for m in drawing.marks if isinstance(m, Words)}
        # The back's height is dimensioned on the back's side of the view, the flange's length below it.
        assert (by_text["90"][0] < by_text["40"][0]) is right


def test_scales_are_those_that_fit() -> None:
    assert best_scale(390.0, 100.0, 390.0, 237.0) == 1.0
    assert best_scale(391.0, 100.0, 390.0, 237.0) == 0.5
    assert best_scale(20.0, 10.0, 390.0, 237.0) == 5.0


def test_the_flat_is_dimensioned_with_its_overall_sizes_and_every_bend_line() -> None:
    """K 0.42, r 2, t 2, 90°: allowance 4.461, deduction 3.539 (worked value); flat 50 + 30 - 3.539 = 76.46."""
    part = angle_part()
    said = texts(flat_drawing(part, flat_pattern(part), 380.0, 200.0, "mm").marks)
    assert said.count("100") == 1 and said.count("76.46") == 2
    # From the flange's free edge: 30 - 4 to the tangent line, and half the allowance to the middle of the bend.
    assert f"{30 - 4 + 4.461 / 2:.2f}" in said
    assert any("UP 90° R2" in text for text in said)


def test_the_drawing_reads_back_with_all_that_was_ordered() -> None:
    found = reviewed()
    part = part_of(found)
    data = part_drawing(part_head(found.job, part), part, shop_of(found.job), Style())
    folded, flat = pages(data)
    for page in (folded, flat):
        for words in (
            "paint shelf",
            "S235",
            "2.00 mm / 0.079 in",
            "powder coat",
            found.job.fingerprint[:12],
            "unproven",
        ):
            assert words.lower() in page.lower()
        assert "\nC\n" in page and "\n7\n" in page
    for size in ("300", "80", "120", "25", "45°"):
        assert size in folded.split("\n")
    width, height = part.flat.size_mm  # type: ignore[union-attr]
    assert "300" in flat.split("\n") and f"{height:.2f}".rstrip("0") in flat.split("\n") and width == 300.0
    for words in ("UP", "DOWN", "135°", "⌀7", "30, 50", "0.420", "4.46", "3.54"):
        assert words in flat


def test_a_drawing_in_inches_gives_inches() -> None:
    """Seven millimetres are 0.276 in, 300 mm 11.811 in."""
    found = reviewed()
    part = part_of(found)
    data = part_drawing(part_head(found.job, part), part, shop_of(found.job), Style("letter", "third", "in"))
    text = "\n".join(pages(data))
    assert "⌀0.276" in text and "11.811" in text and "Dimensions in inches" in text


@settings(max_examples=40)
@given(random_parts())
def test_no_value_on_a_folded_drawing_lies_over_another(random: RandomPart) -> None:
    resolved = resolved_or_none(random)
    assume(resolved is not None)
    assert resolved is not None
    drawing = folded_drawing(resolved.part, 380.0, 230.0, "first", "mm")
    boxes = [shapely.Polygon(words_box(mark)) for mark in drawing.marks if isinstance(mark, Words)]
    for one, other in combinations(boxes, 2):
        assert one.intersection(other).area < 0.05


def test_a_part_of_very_many_bends_has_all_of_them_in_its_tables() -> None:
    """Seventy tines side by side: the table runs over several sheets, none of its rows is lost."""
    found = reviewed()
    comb = comb_part(70)
    part = replace(part_of(found), part=comb, flat=flat_pattern(comb), folded_size_mm=folded_size_mm(comb))
    sheets = pages(part_drawing(part_head(found.job, part), part, shop_of(found.job), Style()))
    assert len(sheets) >= 4
    text = "\n".join(sheets)
    assert all(f"back to tine {i}\n" in text or f"back to tine {i} " in text for i in range(70))
