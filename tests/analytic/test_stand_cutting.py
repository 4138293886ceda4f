"""Cut list, saw settings, nesting, templates, holes on their pitch, and the order of assembly, each by hand."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from steadfold.quantities import Range
from steadfold.quantities.cutting_stock import _counted
from steadfold.stand.assembly import assembly
from steadfold.stand.cut_list import braces_on_pitch, cut_list, how_to_make, pitch_of, rod_cut_mm, saw_setting
from steadfold.stand.frames import RodChoice, shelf_frame, triangle_pair
from steadfold.stand.nesting import Piece, nested
from steadfold.stand.records import Joint, Machine, Stand, StandError, Workshop
from steadfold.stand.section import section_of
from steadfold.stand.template import SCALE_BAR_MM, template


def triangle(**more: object) -> Stand:
    frame = triangle_pair(650.0, 560.0, math.radians(30.0), 500.0, "strut 41x41 12 ga", **more)  # type: ignore[arg-type]
    return Stand("t", frame.nodes, frame.members, frame.held, frame.tie_rods, level_at=frame.level_at)


@pytest.mark.parametrize(
    ("angle", "reach", "set_to", "block", "reachable"),
    [(30.0, 50.0, 30.0, False, True), (60.0, 50.0, 30.0, True, True), (50.0, 50.0, 50.0, False, True),
     (45.0, 30.0, 45.0, True, False), (0.0, 45.0, 0.0, False, True)],
)  # fmt: skip
def test_a_saw_cuts_what_it_reaches_and_the_complement_against_a_block(
    angle: float, reach: float, set_to: float, block: bool, reachable: bool
) -> None:
    found = saw_setting(math.radians(angle), math.radians(reach))
    assert math.degrees(found.set_rad) == pytest.approx(set_to)
    assert (found.against_block, found.reachable) == (block, reachable)


def test_a_brace_ends_parallel_to_wall_and_arm() -> None:
    """At 30 degrees to the arm: 30 from square at the wall, 60 at the arm; both long points below, so it is a
    trapezium.

    Its centre line runs from the wall to the arm's under side: L - (h/2) / sin 30; long points stand out by (h/2)
    tan of each cut.
    """
    pieces = {each.name: each for each in cut_list(triangle()).pieces}
    brace = pieces["left brace"]
    depth = section_of("strut 41x41 12 ga").outside_mm[1]
    assert [math.degrees(end.setting.from_square_rad) for end in brace.ends] == pytest.approx([30.0, 60.0])
    centre = 560.0 / math.cos(math.radians(30.0)) - 0.5 * depth / 0.5
    assert brace.centre_mm == pytest.approx(centre)
    overs = 0.5 * depth * (math.tan(math.radians(30.0)) + math.tan(math.radians(60.0)))
    assert brace.long_mm == pytest.approx(centre + overs)
    assert brace.same_side
    assert brace.ends[1].meets == "left arm"


def test_long_points_of_the_brace_reach_wall_and_arm_exactly() -> None:
    """The lower edge of the brace, drawn out: from x = 0 to the arm's under side, long point to long point."""
    brace = next(each for each in cut_list(triangle()).pieces if each.name == "left brace")
    depth = section_of("strut 41x41 12 ga").outside_mm[1]
    theta = math.radians(30.0)
    foot = np.array([0.0, -560.0 * math.tan(theta)])
    along, below = np.array([math.cos(theta), math.sin(theta)]), np.array([math.sin(theta), -math.cos(theta)])
    edge = foot + 0.5 * depth * below
    start = edge - along * edge[0] / along[0]
    end = edge + along * ((-0.5 * depth - edge[1]) / along[1])
    assert brace.long_mm == pytest.approx(float(np.linalg.norm(end - start)), rel=1e-9)


def test_rails_of_a_frame_stop_at_its_legs() -> None:
    """800 between leg centres, legs 40 wide: 760; square ends."""
    frame = shelf_frame(800.0, 500.0, 700.0, "square tube 40x3", low_rails_mm=150.0)
    pieces = {each.name: each for each in cut_list(Stand("s", frame.nodes, frame.members, frame.held)).pieces}
    assert pieces["top back rail"].long_mm == pytest.approx(760.0)
    assert pieces["low left rail"].long_mm == pytest.approx(460.0)
    assert pieces["back left leg"].long_mm == pytest.approx(700.0)
    assert all(end.setting.say == "square" for end in pieces["top back rail"].ends)


def test_holes_stand_where_the_bolts_go_and_say_how_they_are_made() -> None:
    """13 mm for half an inch with 0.3 mm of room, 40 from the end of the arm; thin metal takes a step drill."""
    joint = Joint("pinned", bolt="1/2", from_end_mm=40.0, clearance_mm=0.3)
    pieces = {each.name: each for each in cut_list(triangle(arm_joint=joint)).pieces}
    hole = pieces["left arm"].holes[0]
    assert hole.at_mm == pytest.approx(40.0) and hole.diameter_mm == pytest.approx(13.0)
    assert "step drill" in hole.how and "clamp" in hole.how
    assert how_to_make(6.6, section_of("strut 41x41 12 ga")).startswith("drill 6.6 mm")
    in_channel = Joint("pinned", bolt="1/2", in_channel=True)
    assert not cut_list(triangle(arm_joint=in_channel)).pieces[0].holes


def test_rods_are_cut_long_enough_for_nuts_at_both_ends() -> None:
    """650 between nodes: washer 2, nut 8, and 20 to turn on at each end of an M10."""
    assert rod_cut_mm(650.0, "M10") == pytest.approx(650.0 + 2.0 * (2.0 + 8.0 + 20.0))
    assert cut_list(triangle(rods=RodChoice(600.0, 250.0, "M10"))).rods[0][:2] == ("left rod", "M10")


def brute_force(lengths: list[float], stock: tuple[float, ...], kerf: float) -> float:
    """The least stock bought, by trying every way to put each piece on a bar (few pieces only)."""
    best = math.inf

    def place(index: int, bars: list[float]) -> None:
        nonlocal best
        cost = sum(min((s for s in stock if s + kerf >= used), default=math.inf) for used in bars)
        if cost >= best:
            return
        if index == len(lengths):
            best = cost
            return
        need = lengths[index] + kerf
        for k in range(len(bars)):
            place(index + 1, [*bars[:k], bars[k] + need, *bars[k + 1 :]])
        place(index + 1, [*bars, need])

    place(0, [])
    return best


@pytest.mark.parametrize("seed", range(12))
def test_nesting_buys_no_more_than_trying_everything(seed: int) -> None:
    random = np.random.default_rng(seed)
    lengths = [float(v) for v in np.sort(random.integers(150, 1900, size=7))[::-1]]
    stock = ((2000.0,), (1500.0, 2000.0), (2000.0, 3000.0))[seed % 3]
    if max(lengths) > max(stock):
        lengths = [min(each, max(stock)) for each in lengths]
    found = nested([Piece(f"p{k}", each) for k, each in enumerate(lengths)], stock, 3.0)
    assert found.optimal
    assert found.bought_mm == pytest.approx(brute_force(lengths, stock, 3.0))
    assert found.bound_mm <= found.bought_mm + 1e-6


@pytest.mark.parametrize("seed", range(4))
def test_every_piece_is_cut_once_and_no_bar_is_overfull(seed: int) -> None:
    random = np.random.default_rng(100 + seed)
    pieces = [Piece(f"p{k}", float(random.choice([287.0, 412.5, 633.0, 801.0, 955.0, 1210.0]))) for k in range(30)]
    found = nested(pieces, (3000.0, 6000.0), 3.0)
    names = sorted(piece.name for cut in found.cuts for piece in cut.pieces)
    assert names == sorted(piece.name for piece in pieces)
    for cut in found.cuts:
        used = sum(piece.length_mm for piece in cut.pieces) + 3.0 * (len(cut.pieces) - 1)
        assert used <= cut.stock_mm + 0.1 * len(cut.pieces)
        assert cut.rest_mm == pytest.approx(cut.stock_mm - sum(piece.length_mm for piece in cut.pieces))


def test_many_kinds_of_pieces_are_nested_by_generated_patterns_and_proven_by_their_bound() -> None:
    """Forty pieces of forty lengths: too many patterns to list; what is bought meets the linear bound rounded up."""
    random = np.random.default_rng(1)
    pieces = [Piece(f"p{k}", 300.0 + 17.3 * k) for k in range(40)]
    random.shuffle(pieces)
    found = nested(pieces, (6000.0,), 3.0)
    assert found.bought_mm >= found.bound_mm - 1e-6
    total = sum(each.length_mm + 3.0 for each in pieces)
    assert found.bound_mm >= total / 6003.0 * 6000.0 - 1e-6
    assert found.optimal == (found.bought_mm == math.ceil(found.bound_mm / 6000.0 - 1e-9) * 6000.0)
    assert found.bought_mm <= (math.ceil(total / 6003.0) + 1) * 6000.0


def test_a_piece_longer_than_all_stock_is_refused_by_name() -> None:
    with pytest.raises(StandError, match="'arm' is 3100 mm long and the longest stock is 3000 mm"):
        nested([Piece("arm", 3100.0)], (2000.0, 3000.0), 3.0)


def test_the_workshops_own_stock_is_cut_before_any_catalogue_length() -> None:
    stand = triangle()
    own = Stand(stand.name, stand.nodes, stand.members, stand.held, level_at=stand.level_at,
                workshop=Workshop(stock_mm={"strut 41x41 12 ga": (2000.0,)}))  # fmt: skip
    assert {cut.stock_mm for _, plan in cut_list(own).stock for cut in plan.cuts} == {2000.0}


@pytest.mark.parametrize("angle", [15.0, 45.0, 60.0])
def test_a_template_for_a_box_rises_by_its_side_times_the_tangent(angle: float) -> None:
    """40 mm box: 40 tan(angle); girth 4 x 40 less the rounding of its corners, 2 pi r for four quarters: 8 r - 2 pi
    r.
    """
    found = template("square tube 40x3", math.radians(angle))
    assert found.rise_mm == pytest.approx(40.0 * math.tan(math.radians(angle)))
    assert found.girth_mm == pytest.approx(160.0 - (8.0 - 2.0 * math.pi) * 6.0, rel=2e-3)
    assert len(found.folds_mm) == 4 and SCALE_BAR_MM == 50.0


def test_a_template_for_a_round_bar_is_a_cosine() -> None:
    """x = r tan(a) (1 + cos of the angle round it) up to where counting starts; girth pi d (elementary development)."""
    found = template("round bar 20", math.radians(45.0))
    round_it = found.around_mm / 10.0
    expected = 10.0 * (1.0 + np.sin(round_it))
    assert found.girth_mm == pytest.approx(math.pi * 20.0, rel=1e-3)
    assert np.abs(found.along_mm - expected).max() < 0.02


def test_a_template_for_strut_leaves_its_open_face_out() -> None:
    """Face, side, back, side, face: 2 x 9.5 + 3 x 41.3 less the rounding of four corners of 4.2 mm outside radius."""
    found = template("strut 41x41 12 ga", math.radians(60.0))
    outer = 1.524 + 2.667
    expected = 2 * 0.5 * (41.275 - 22.225) + 3 * 41.275 - (8.0 - 2.0 * math.pi) * outer
    assert found.girth_mm == pytest.approx(expected, rel=2e-3)
    assert found.rise_mm == pytest.approx(41.275 * math.tan(math.radians(60.0)))


def test_a_laid_template_is_a_triangle() -> None:
    found = template("timber 45x95", math.radians(30.0), laid=True)
    assert found.rise_mm == pytest.approx(95.0 * math.tan(math.radians(30.0)))
    assert found.laid and not found.folds_mm


@pytest.mark.parametrize("angle", [-0.1, math.radians(80.0), 1.6])
def test_a_template_for_a_cut_along_the_piece_is_refused(angle: float) -> None:
    with pytest.raises(ValueError, match="80 degrees"):
        template("round bar 20", angle)


def test_braces_on_the_pitch_are_pythagorean_or_nearly() -> None:
    found = braces_on_pitch(50.0, 560.0, math.radians(30.0))
    assert found[0].along == 12 and found[0].down == 5 and found[0].brace == 13 and found[0].off_mm == 0.0
    for each in found:
        exact = math.hypot(each.along, each.down) * 50.0
        assert abs(exact - 50.0 * each.brace) <= 1.5
        assert each.angle_rad == pytest.approx(math.atan2(each.down, each.along))
    every = [
        (i, j) for i, j in itertools.product(range(1, 19), repeat=2)
        if abs(math.hypot(i, j) - round(math.hypot(i, j))) * 50.0 <= 1.5
    ]  # fmt: skip
    wanted = (560.0, 560.0 * math.tan(math.radians(30.0)))
    nearest = min(every, key=lambda pair: math.hypot(50.0 * pair[0] - wanted[0], 50.0 * pair[1] - wanted[1]))
    assert nearest == (found[0].along, found[0].down)
    assert pitch_of("strut 41x41x2.5") == 50.0 and pitch_of("square tube 40x3") is None


def test_arms_are_propped_until_their_own_braces_are_in() -> None:
    stand = triangle(rods=RodChoice(600.0, 250.0, "M10"))
    machine = Machine(
        "m", Range(50.0, 50.0), (300.0, 250.0, 100.0), ((120.0, 0.0), (120.0, 500.0), (580.0, 0.0), (580.0, 500.0))
    )
    full = Stand(stand.name, stand.nodes, stand.members, stand.held, stand.tie_rods, machine, level_at=stand.level_at)
    steps = assembly(full)
    number = {step.parts[0]: k for k, step in enumerate(steps, 1) if step.parts}
    for side in ("left", "right"):
        arm = steps[number[f"{side} arm"] - 1]
        assert arm.prop == f"prop {side} arm until {side} brace is in"
        assert arm.prop_until == number[f"{side} brace"]
        assert not steps[number[f"{side} brace"] - 1].prop
    assert number["left arm"] < number["left brace"] < number["crossbar"] < number["left rod"] < number["m"]


def test_channel_nuts_go_in_before_anything_closes_the_channel() -> None:
    nut = Joint("pinned", bolt="1/2", in_channel=True)
    steps = assembly(triangle(arm_joint=nut, brace_joint=nut))
    assert "channel nut" in steps[0].say
    arm = next(step for step in steps if step.parts == ("left arm",))
    assert steps[(arm.prop_until or 0) - 1].parts == ("left brace",)


@pytest.mark.parametrize("seed", range(10))
def test_counting_through_a_grid_finds_the_pattern_worth_most(seed: int) -> None:
    """Beside every pattern there is, for a few kinds of pieces."""
    random = np.random.default_rng(seed)
    lengths = [float(v) / 10.0 for v in random.integers(200, 900, size=4)]
    counts = [int(v) for v in random.integers(1, 5, size=4)]
    prices = [float(v) for v in random.uniform(0.0, 1.0, size=4)]
    worth, pattern = _counted(lengths, counts, prices, 200.0, 10)
    every = itertools.product(*(range(count + 1) for count in counts))
    fits = [p for p in every if sum(n * length for n, length in zip(p, lengths, strict=True)) <= 200.0 + 1e-9]
    assert worth == pytest.approx(max(sum(n * price for n, price in zip(p, prices, strict=True)) for p in fits))
    assert sum(n * length for n, length in zip(pattern, lengths, strict=True)) <= 200.0 + 1e-9
    assert worth == pytest.approx(sum(n * price for n, price in zip(pattern, prices, strict=True)))
    assert all(n <= count for n, count in zip(pattern, counts, strict=True))
