"""Layouts measured by geometry that the search does not use: no overlap, all on the sheet, grain kept, all parts there.

The check here turns and shifts each part's true outline with the geometry library's own transforms, from the placement
as it is stored, and measures distances between all pairs.
"""

from __future__ import annotations

import json
import math
import time
from itertools import combinations

import pytest
import shapely
import shapely.affinity

from steadfold.money.nesting import (
    Nest,
    NestError,
    Piece,
    Placement,
    Spacing,
    StockSheet,
    nest,
    nest_from_plain,
    plain_nest,
)
from steadfold.money.nesting import strip as strip_module
from steadfold.money.nesting.cells import fill
from steadfold.money.nesting.check import nest_faults
from steadfold.money.nesting.strip import StripError, StripItem, pack_strip
from steadfold.sheet.outline import Face, circle, obround, polygon_outline, rectangle
from tests.properties.cut_ups import area, cut_up

SHEET = StockSheet(2000.0, 1000.0)
SPACING = Spacing(kerf_mm=0.2, web_mm=4.0, edge_mm=10.0)


def shape_on_sheet(piece: Piece, placement: Placement) -> shapely.Polygon:
    """The true outline where the placement says it lies."""
    shape = piece.face.polygon(0.005)
    turned = shapely.affinity.rotate(shape, placement.turned_deg, origin=(0.0, 0.0))
    return shapely.affinity.translate(turned, *placement.shift_mm)


def measured(layout: Nest, slack: float = 0.05) -> None:
    """Fail unless every part is there once, within the margin, the gap away from every other, and turned as allowed."""
    counted = [0] * len(layout.pieces)
    for sheet in layout.sheets:
        shapes = [shape_on_sheet(layout.pieces[p.piece], p) for p in sheet.placements]
        margin = layout.spacing.margin_mm - slack
        room = shapely.box(margin, margin, sheet.stock.length_mm - margin, sheet.stock.width_mm - margin)
        for placement, shape in zip(sheet.placements, shapes, strict=True):
            piece = layout.pieces[placement.piece]
            counted[placement.piece] += 1
            assert room.covers(shape), piece.name
            assert shape.area == pytest.approx(piece.area_mm2, rel=1e-3)
            along = {"along": (0, 180), "across": (90, 270), "any": (0, 90, 180, 270)}[piece.grain]
            assert placement.turned_deg in along
        for one, other in combinations(shapes, 2):
            assert one.distance(other) >= layout.spacing.gap_mm - slack
    for index, piece in enumerate(layout.pieces):
        assert counted[index] + layout.left_out.count(index) == piece.count


RING = Piece("ring", Face(circle(300.0, (150.0, 0.0)), (circle(240.0, (150.0, 0.0)).clockwise(),)), 3)
DISC = Piece("disc", Face(circle(70.0, (0.0, 0.0))), 12)
ANGLE = Piece("angle", Face(polygon_outline([(0, 0), (180, 0), (180, 40), (40, 40), (40, 120), (0, 120)])), 6, "along")
BAR = Piece("bar", Face(rectangle(400.0, 60.0), (obround(60.0, 9.0, (50.0, 30.0)).clockwise(),)), 8, "across")


@pytest.fixture(scope="module")
def mixed() -> Nest:
    return nest([RING, DISC, ANGLE, BAR], [SHEET], SPACING, seconds=4.0)


def test_a_mixed_order_lies_on_the_sheet_with_gap_margin_and_grain(mixed: Nest) -> None:
    measured(mixed)
    assert mixed.left_out == ()


def test_the_projects_own_check_agrees_with_the_independent_one(mixed: Nest) -> None:
    assert nest_faults(mixed) == ()
    sheet = mixed.sheets[0]
    first = sheet.placements[0]
    moved = Placement(first.piece, first.turned_deg, (first.shift_mm[0] + 9.0, first.shift_mm[1] + 9.0), first.inside)
    worse = Nest(
        mixed.pieces,
        mixed.spacing,
        (type(sheet)(sheet.stock, (moved, *sheet.placements[1:])), *mixed.sheets[1:]),
        (),
        True,
    )
    assert nest_faults(worse) != ()
    with pytest.raises(AssertionError):
        measured(worse)


def test_parts_lie_in_openings_of_parts_and_save_sheet(mixed: Nest) -> None:
    held = [(sheet, p) for sheet in mixed.sheets for p in sheet.placements if p.inside is not None]
    assert held
    for sheet, placement in held:
        host = sheet.placements[placement.inside or 0]
        opening = shapely.Polygon(shape_on_sheet(mixed.pieces[host.piece], host).interiors[0])
        assert opening.covers(shape_on_sheet(mixed.pieces[placement.piece], placement))
    solid = Piece("ring", Face(circle(300.0, (150.0, 0.0))), 3)
    without = nest([solid, DISC, ANGLE, BAR], [SHEET], SPACING, seconds=4.0)
    assert mixed.used_area_mm2 < without.used_area_mm2


def test_a_stored_layout_is_read_back_the_same(mixed: Nest) -> None:
    assert nest_from_plain(json.loads(json.dumps(plain_nest(mixed)))) == mixed


def test_what_is_no_layout_is_refused_in_a_sentence(mixed: Nest) -> None:
    data = plain_nest(mixed)
    for damaged in ({}, {**data, "steadfold_nest": 99}, {**data, "pieces": [{"name": 3}]}, {**data, "sheets": 7}):
        with pytest.raises(NestError, match="layout"):
            nest_from_plain(damaged)


def test_rings_lie_in_rings_in_rings() -> None:
    def ring(name: str, outside: float, inside: float) -> Piece:
        return Piece(name, Face(circle(outside, (0.0, 0.0)), (circle(inside, (0.0, 0.0)).clockwise(),)), 1)

    layout = nest([ring("s", 80, 60), ring("l", 400, 380), ring("m", 300, 200)], [SHEET], SPACING, seconds=2.0)
    measured(layout)
    assert sorted(p.inside is None for p in layout.sheets[0].placements) == [False, False, True]


@pytest.mark.parametrize("square", [True, False])
def test_a_cut_up_rectangle_is_put_together_again_to_a_good_part(square: bool) -> None:
    """The pieces fill 1500 × 1000 without waste; in a few seconds four fifths of that is asked, overlap none."""
    shapes = [shapely.Polygon(points) for points in cut_up(1500.0, 1000.0, 15, seed=3, square=square)]
    items = [StripItem(shape, 1, (0, 90, 180, 270)) for shape in shapes]
    layout = pack_strip(items, 1000.0, 4.0)
    assert layout is not None
    placed = []
    for laid in layout.laid:
        turned = shapely.affinity.rotate(items[laid.item].shape, laid.turned_deg, origin=(0, 0))
        placed.append(shapely.affinity.translate(turned, *laid.shift_mm))
    strip = shapely.box(0, 0, layout.length_mm, 1000.0)
    covered = shapely.intersection(shapely.unary_union(placed), strip.buffer(1e-3)).area
    assert covered == pytest.approx(1500.0 * 1000.0, rel=1e-6)
    assert layout.length_mm <= 1500.0 / 0.75


def test_the_cut_up_pieces_fill_their_rectangle() -> None:
    pieces = cut_up(1500.0, 1000.0, 40, seed=9)
    assert sum(map(area, pieces)) == pytest.approx(1.5e6)
    assert shapely.unary_union([shapely.Polygon(p) for p in pieces]).area == pytest.approx(1.5e6)


def test_an_order_too_large_for_one_sheet_goes_on_several_of_the_sizes_there_are() -> None:
    plates = Piece("plate", Face(rectangle(480.0, 320.0)), 24)
    layout = nest([plates, DISC], [SHEET, StockSheet(2500.0, 1250.0, count=1)], SPACING, seconds=6.0)
    measured(layout)
    assert layout.left_out == ()
    assert sum(sheet.stock.count == 1 for sheet in layout.sheets) <= 1
    metal = layout.parts_area_mm2
    assert metal == pytest.approx(24 * 480 * 320 + 12 * math.pi * 35**2, rel=1e-6)
    # 3.7 m² of plates on at most three sheets of 2 m², or one of 3.1 and one of 2.
    assert len(layout.sheets) <= 3


def test_parts_beyond_the_sheets_there_are_are_left_out_by_name() -> None:
    plates = Piece("plate", Face(rectangle(900.0, 900.0)), 5)
    layout = nest([plates], [StockSheet(2000.0, 1000.0, count=1)], SPACING, seconds=2.0)
    measured(layout)
    assert layout.left_out == (0, 0, 0)
    assert not layout.complete
    assert any("3 parts found no room" in note for note in layout.notes)


def test_a_part_wider_than_the_sheet_is_named_and_nothing_panics() -> None:
    with pytest.raises(NestError, match=r"'long' is 2100 × 50 mm and fits no sheet"):
        nest([Piece("long", Face(rectangle(2100.0, 50.0)), 1)], [SHEET], SPACING)


def test_a_part_that_only_its_grain_keeps_off_the_sheet_says_so() -> None:
    with pytest.raises(NestError, match="with its grain"):
        nest([Piece("across", Face(rectangle(1500.0, 50.0)), 1, "across")], [SHEET], SPACING)


def test_an_outline_that_crosses_itself_is_refused_before_the_packer_sees_it() -> None:
    bow_tie = Piece("bow tie", Face(polygon_outline([(0, 0), (100, 100), (100, 0), (0, 100)])), 1)
    with pytest.raises(NestError, match="'bow tie' crosses itself"):
        nest([bow_tie], [SHEET], SPACING)
    crossing = StripItem(shapely.Polygon([(0, 0), (100, 100), (100, 0), (0, 100)]), 1, (0,))
    with pytest.raises(StripError, match="crosses itself"):
        pack_strip([crossing], 1000.0, 2.0)


def test_a_packer_that_dies_leaves_parts_laid_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """A panic ends the child, not us: the checks are taken away, and a shape higher than the strip is handed over."""
    monkeypatch.setattr(strip_module, "check_strip", lambda items, height: None)
    too_high = StripItem(shapely.box(0, 0, 100, 3000), 1, (0,))
    assert pack_strip([too_high], 1000.0, 2.0) is None
    monkeypatch.setattr(strip_module.sys, "executable", "/bin/false")
    layout = nest([DISC, ANGLE], [SHEET], SPACING, seconds=2.0)
    measured(layout)
    assert layout.left_out == ()
    assert any("one by one" in note for note in layout.notes)


def test_told_to_stop_it_keeps_the_best_so_far_and_says_so() -> None:
    start = time.monotonic()
    plates = [Piece("plate", Face(rectangle(210.0, 130.0)), 40), ANGLE, DISC]
    heard: list[tuple[float, str]] = []
    layout = nest(
        plates, [SHEET], SPACING, seconds=60.0, stop=lambda: time.monotonic() > start + 3.0,
        tell=lambda share, what: heard.append((share, what)),
    )  # fmt: skip
    measured(layout)
    assert layout.left_out == ()
    assert not layout.complete
    assert any("stopped early" in note for note in layout.notes)
    shares = [share for share, _ in heard]
    assert shares == sorted(shares) and heard[-1][0] == 1.0


def test_the_filler_lays_nothing_over_anything_in_an_odd_room() -> None:
    room = shapely.Point(0, 0).buffer(100.0).difference(shapely.box(-10, -10, 10, 10))
    items = [StripItem(shapely.box(0, 0, 30, 20), 20, (0, 90)), StripItem(shapely.Point(0, 0).buffer(9), 30, (0,))]
    laid = fill(room, items)
    placed = []
    for each in laid:
        turned = shapely.affinity.rotate(items[each.item].shape, each.turned_deg, origin=(0, 0))
        placed.append(shapely.affinity.translate(turned, *each.shift_mm))
    assert len(placed) > 30
    assert all(room.buffer(1e-6).covers(shape) for shape in placed)
    assert shapely.unary_union(placed).area == pytest.approx(sum(shape.area for shape in placed), rel=1e-9)


def test_the_sheet_a_part_pays_for_adds_up_to_what_is_used(mixed: Nest) -> None:
    paid = sum(piece.count * mixed.area_of_one_mm2(index) for index, piece in enumerate(mixed.pieces))
    assert paid == pytest.approx(mixed.used_area_mm2)


@pytest.mark.parametrize("spare", [0.06, 0.3, 0.6, 0.9, 1.5])
def test_a_disc_with_hardly_any_room_round_it_lies_in_the_opening(spare: float) -> None:
    """`spare` is what is left all round beyond the gap; the disc is of the opening's diameter less two gaps and that."""
    across = 240.0 - 2 * (SPACING.gap_mm + spare)
    ring = Piece("ring", Face(circle(300.0, (150.0, 0.0)), (circle(240.0, (150.0, 0.0)).clockwise(),)), 2)
    layout = nest([ring, Piece("lid", Face(circle(across, (7.0, 3.0))), 3)], [SHEET], SPACING, seconds=2.0)
    measured(layout, slack=0.04)
    assert sum(p.inside is not None for sheet in layout.sheets for p in sheet.placements) == 2


def test_a_disc_that_would_take_the_gap_is_kept_out_of_the_opening() -> None:
    across = 240.0 - 2 * (SPACING.gap_mm - 0.1)
    ring = Piece("ring", Face(circle(300.0, (0.0, 0.0)), (circle(240.0, (0.0, 0.0)).clockwise(),)), 1)
    layout = nest([ring, Piece("lid", Face(circle(across, (0.0, 0.0))), 1)], [SHEET], SPACING, seconds=2.0)
    measured(layout)
    assert all(p.inside is None for sheet in layout.sheets for p in sheet.placements)


def test_a_plate_and_a_strip_lie_side_by_side_in_a_window_that_just_takes_both() -> None:
    """A window of 200 × 120 mm, a gap all round and between: 0.3 mm to spare across, less than a cell of the raster."""
    gap = SPACING.gap_mm
    window = polygon_outline([(50, 50), (250, 50), (250, 170), (50, 170)]).clockwise()
    frame = Piece("frame", Face(rectangle(300.0, 220.0), (window,)), 1)
    plate = Piece("plate", Face(rectangle(200.0 - 2 * gap - 0.3, 80.0)), 1, "along")
    strip = Piece("strip", Face(rectangle(200.0 - 2 * gap - 0.3, 40.0 - 3 * gap - 0.3)), 1, "along")
    layout = nest([frame, plate, strip], [SHEET], SPACING, seconds=2.0)
    measured(layout)
    assert sum(p.inside is not None for p in layout.sheets[0].placements) == 2
