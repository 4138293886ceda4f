"""A frame that sits on folded parts of the same job, solved with them as one system: beside beam theory, beside the bracket
alone under what the frame puts on it, and beside statics.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from steadfold.job import read_job_text
from steadfold.job.problem import JobProblems
from steadfold.job.stand_table import read_stand
from steadfold.mechanics import Loads, solve, spring_forces
from steadfold.mount.structure import against_wall
from steadfold.quantities import weight_n
from steadfold.review.review import review
from steadfold.review.shop import shop_of
from steadfold.review.stand_parts import on_parts, read_pieces
from steadfold.stand.review import review_stand
from steadfold.stand.statics import cases_of, member_forces, sag_mm, solved, support_forces
from steadfold.stand.structure import built

SPAN_MM, MASS_KG = 1200.0, 60.0

PART = """
steadfold = 1
name = "Boat shed, beam on bearers"

[[part]]
name = "bearer"
quantity = {quantity}
material = "S235"
thickness = "{thickness} mm"
shape = "panels"
  [[part.panel]]
  name = "back"
  size = ["120 mm", "160 mm"]
  [[part.panel.cutout]]
  shape = "circle"
  diameter = "11 mm"
  at = ["30 mm", "120 mm"]
  repeat = {{ count = 2, step = ["60 mm", "0 mm"] }}
  [[part.panel]]
  name = "shelf"
  from = "back"
  edge = "bottom"
  bend = "90 deg"
  size = ["120 mm", "100 mm"]
  [part.mount]
  to = "steel"
  fastener = "M10"
  grade = "8.8"
  holes = "back"
"""
BEAM = """
[[stand]]
name = "beam"
frame = "free"
profile = "strut 41x41x2.5"
level_at = ["middle"]
knock = "none"
  [[stand.node]]
  name = "left"
  at = ["60 mm", "0 mm", "0 mm"]
  [[stand.node]]
  name = "middle"
  at = ["60 mm", "600 mm", "0 mm"]
  [[stand.node]]
  name = "right"
  at = ["60 mm", "1200 mm", "0 mm"]
  [[stand.member]]
  name = "beam"
  from = "left"
  to = "right"
  role = "beam"
  joint = {{ kind = "{kind}" {more} }}
  [[stand.on_part]]
  node = "left"
  part = "bearer"
  on = "shelf"
  at = ["60 mm", "{at} mm"]
  fastener = "M10"
  washer = "40 mm"
  [[stand.on_part]]
  node = "right"
  part = "bearer"
  on = "shelf"
  at = ["60 mm", "{at} mm"]
  fastener = "M10"
  washer = "40 mm"
  [stand.machine]
  name = "vice"
  mass = "60 kg"
  centre = ["60 mm", "600 mm", "100 mm"]
  feet = [["60 mm", "600 mm"]]
  [stand.leaning]
  force = "none"
"""


def job_of(
    thickness: float = 4.0, quantity: int = 2, kind: str = "pinned", more: str = "", at: float = 60.0, beam: str = BEAM
):  # type: ignore[no-untyped-def]
    text = PART.format(thickness=thickness, quantity=quantity) + beam.format(kind=kind, more=more, at=at)
    return read_job_text(text, "beam.toml")


def carried(job):  # type: ignore[no-untyped-def]
    table = job.stands[0]
    return on_parts(job, table, read_stand(table), shop_of(job))


def solved_on_parts(job):  # type: ignore[no-untyped-def]
    stand, pieces = carried(job)
    ready = built(stand)
    cases = cases_of(ready, own_weight=False)
    ready = ready.on_wall([case.loads for case in cases])
    return ready, pieces, cases, solved(ready, cases)


@pytest.mark.parametrize(("thickness", "at"), [(10.0, 40.0), (4.0, 60.0), (3.0, 75.0)])
def test_a_beam_on_brackets_sags_by_beam_theory_and_by_what_the_brackets_give(thickness: float, at: float) -> None:
    """P L^3 / 48 E I of a beam on two hinges, and the lowering of the brackets under P / 2 each; a stiff bracket gives
    next to nothing, so that beam theory alone is the answer.
    """
    ready, _, _, results = solved_on_parts(job_of(thickness, at=at))
    section = ready.sections[0]
    load = weight_n(MASS_KG)
    beam = load * SPAN_MM**3 / (48.0 * section.modulus_mpa * section.second_moment_y_mm4)
    seats = [sag_mm(ready, results[0], node) for node in ("left", "right")]
    assert sag_mm(ready, results[0], "middle") == pytest.approx(beam + np.mean(seats), rel=1e-3)
    assert seats[0] == pytest.approx(seats[1], rel=1e-3)  # alike; the wall is gathered into other patches
    if thickness == 10.0:
        assert sag_mm(ready, results[0], "middle") == pytest.approx(beam, rel=0.02)


@pytest.mark.parametrize(("kind", "more"), [("pinned", ""), ("welded", "")])
def test_a_bracket_in_the_frame_works_as_the_bracket_alone_under_the_frames_reaction(kind: str, more: str) -> None:
    """The same bracket on the same wall, without the frame, under the force and moment that the beam's end has."""
    job = job_of(kind=kind, more=more)
    ready, pieces, cases, results = solved_on_parts(job)
    force = support_forces(ready, results[0])["left"]
    here, turn = pieces[0].here, pieces[0].carrier.turn
    nodal = np.zeros((len(here.nodes_mm), 6))
    nodal[here.seat_nodes[0], :3] = -force[:3] @ turn
    nodal[here.seat_nodes[0], 3:] = -force[3:] @ turn
    alone = solve(against_wall(here, [Loads(nodal)]).structure, [Loads(nodal)])[0]
    lowered = float(alone.displacement[here.seat_nodes[0], :3] @ here.down)
    assert lowered == pytest.approx(sag_mm(ready, results[0], "left"), rel=0.01)
    pull = max(-float(f[2]) for f in spring_forces(alone))
    found = read_pieces(pieces, ready, cases, results)[0]
    fixing = next(link for link in found.links if link.place.startswith("the fixing"))
    assert float(fixing.say.split(" N pull")[0].split()[-1]) == pytest.approx(pull, rel=0.03)
    if kind == "welded":
        assert np.linalg.norm(force[3:]) > 1000.0


def test_what_the_frame_weighs_goes_through_the_fixings_of_its_brackets() -> None:
    """Statics: half the machine's weight on each bracket, all of it in the shear of its two bolts."""
    ready, pieces, _, results = solved_on_parts(job_of())
    load = weight_n(MASS_KG)
    for index, node in enumerate(("left", "right")):
        assert support_forces(ready, results[0])[node][2] == pytest.approx(0.5 * load, rel=1e-6)
        numbers = ready.carrier_nodes[index][pieces[index].here.bolt_nodes]
        whole = spring_forces(results[0])
        mine = [k for k, end in enumerate(ready.model.springs.ends[:, 0]) if end in numbers]
        axes = ready.model.springs.axes[mine]
        up = np.einsum("kj,kji->i", whole[mine, :3], axes)[2]
        assert up == pytest.approx(0.5 * load, rel=1e-6)


def test_a_yielding_bracket_takes_the_moment_off_a_stiff_joint() -> None:
    """Between hinged (M = 0) and clamped (M = P L / 8) ends; the thinner the bracket, the nearer to hinged."""
    clamped = weight_n(MASS_KG) * SPAN_MM / 8.0
    ends = []
    for thickness in (3.0, 10.0):
        ready, _, _, results = solved_on_parts(job_of(thickness, kind="welded", at=40.0))
        ends.append(abs(float(member_forces(ready, results[0])[0].moment_y_nmm[0])))
    assert 0.0 < ends[0] < ends[1] < clamped


def test_a_part_that_carries_nothing_else_is_rated_by_its_frame() -> None:
    result = review(job_of(quantity=1))
    part, stand = result.parts[0], result.stands[0]
    codes = [finding.code for finding in part.findings]
    assert "load-unknown" not in codes
    assert "carries-frame" in codes
    assert "too-few-pieces" in codes
    assert {each.part for each in stand.carried_by} == {"bearer"}
    assert any(link.name.startswith("bearer (left)") for link in stand.links)
    thin = review(job_of(thickness=1.5, quantity=2))
    assert str(thin.parts[0].verdict) == "not enough"
    assert str(thin.stands[0].verdict) == "not enough"


def test_without_its_part_at_hand_a_seat_counts_as_clamped() -> None:
    job = job_of()
    alone = review_stand(read_stand(job.stands[0]), own_weight=False)
    assert alone.carried_by == ()
    assert alone.sag_mm is not None
    stand, pieces = carried(job)
    whole = review_stand(stand, own_weight=False, read_parts=lambda *given: read_pieces(pieces, *given))
    assert whole.sag_mm > alone.sag_mm  # type: ignore[operator]
    assert replace(stand, carriers=()).held == stand.held


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (('part = "bearer"', 'part = "shelf bearer"'), "no part 'shelf bearer'"),
        (('on = "shelf"', 'on = "lid"'), "no panel 'lid'"),
        (('node = "left"\n  part', 'node = "lefft"\n  part'), "no place of this frame"),
        (('fastener = "M10"\n  washer = "40 mm"\n  [[', "[["), "fastener"),
        (('at = ["60 mm", "{at} mm"]', 'at = ["600 mm", "{at} mm"]'), "off panel 'shelf'"),
    ],
)
def test_a_seat_that_cannot_be_is_told_at_its_line(change: tuple[str, str], words: str) -> None:
    job = job_of(beam=BEAM.replace(change[0], change[1], 1))
    with pytest.raises(JobProblems) as caught:
        carried(job)
    problem = caught.value.problems[0]
    assert words in problem.sentence
    assert problem.line > 0


def test_two_nodes_on_one_piece_must_lie_as_its_seats_do() -> None:
    both = BEAM.replace('part = "bearer"', 'part = "bearer"\n  piece = "only"')
    both = both.replace('at = ["60 mm", "{at} mm"]', 'at = ["20 mm", "{at} mm"]', 1).replace(
        'washer = "40 mm"', 'washer = "30 mm"'
    )
    with pytest.raises(JobProblems, match="where the node is not"):
        carried(job_of(beam=both))


CHEEK = """
  [[part.panel]]
  name = "cheek"
  from = "shelf"
  edge = "right"
  bend = "90 deg"
  outline = [["40 mm", "0 mm"], ["100 mm", "0 mm"], ["100 mm", "15 mm"], ["4 mm", "80 mm"], ["4 mm", "40 mm"], ["40 mm", "20 mm"]]
"""
SEAM = """
  [[part.seam]]
  panel = "cheek"
  edge = 3
  to = "back"
  how = "welded"
  throat = "2 mm"
"""


def test_a_cheek_welded_to_the_back_of_a_bracket_stiffens_it_and_its_weld_is_a_link_under_the_frame() -> None:
    """Before the weld the root bend alone takes the moment; after it the cheek and the weld take part of it."""
    lowered = {}
    for seam in ("", SEAM):
        text = PART.replace("  [part.mount]", CHEEK + seam + "  [part.mount]") + BEAM
        job = read_job_text(text.format(thickness=4.0, quantity=2, kind="pinned", more="", at=60.0), "beam.toml")
        ready, pieces, cases, results = solved_on_parts(job)
        taken = read_pieces(pieces, ready, cases, results)
        links = {link.what: link.share for link in taken[0].links}
        assert ("seam" in links) == bool(seam)
        lowered[bool(seam)] = max(taken[0].lowered_mm)
    assert 0.0 < (links["seam"] or 0.0) < 1.0
    assert 0.0 < lowered[True] < 0.7 * lowered[False]
