"""Claims that hold for any stand: balance, symmetry, more weight is never better, less knowledge never improves a
verdict.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from steadfold.findings import Verdict
from steadfold.quantities import Range, weight_n
from steadfold.stand.footing import foot_loads_n
from steadfold.stand.frames import shelf_frame, triangle_pair
from steadfold.stand.records import Bench, Fixing, Joint, Leaning, Machine, Stand
from steadfold.stand.review import review_stand
from steadfold.stand.statics import cases_of, member_forces, solved, support_forces
from steadfold.stand.structure import built

ORDER = list(Verdict)
BOLTED = Fixing("wood board", "1/2", 2, 80.0, "grade 5", wood="D30", wood_mm=60.0, through=True, washer_mm=44.0)
NUT = Joint("pinned", bolt="1/2", bolts=2, in_channel=True, from_end_mm=40.0)


@st.composite
def stands(draw: st.DrawFn) -> Stand:
    """A triangle pair with a machine somewhere on its arms and a bench behind it."""
    reach = draw(st.floats(350.0, 800.0))
    at = draw(st.floats(0.6, 0.95)) * reach
    angle = math.radians(draw(st.floats(25.0, 65.0)))
    spacing = draw(st.floats(300.0, 700.0))
    profile = draw(
        st.sampled_from(["strut 41x41 12 ga", "strut 41x41x2.5", "square tube 40x3", "strut 41x41 12 ga double"])
    )
    joint = NUT if profile == "strut 41x41 12 ga" else Joint("pinned", bolt="M12", bolts=2, grade="8.8")
    frame = triangle_pair(reach, at, angle, spacing, profile, arm_joint=joint, brace_joint=joint, fixing=BOLTED)
    mass = draw(st.floats(20.0, 150.0))
    feet = tuple((x * reach, y) for x in (0.2, 0.9) for y in (0.0, spacing))
    share = draw(st.floats(0.25, 0.85)), draw(st.floats(0.1, 0.9))
    machine = Machine("m", Range(mass, mass), (share[0] * reach, share[1] * spacing, 200.0), feet)
    behind = ((-20.0, 0.0), (-20.0, spacing), (-1700.0, 0.0), (-1700.0, spacing))
    bench = Bench(Range(250.0, 250.0), (-900.0, 0.5 * spacing), behind, 850.0)
    return Stand(
        "s", frame.nodes, frame.members, frame.held, (), machine, Leaning(200.0), bench, level_at=frame.level_at
    )


@settings(max_examples=25)
@given(stands())
def test_supports_carry_exactly_what_stands_on_them(stand: Stand) -> None:
    ready = built(stand)
    case = cases_of(ready)[0]
    held = support_forces(ready, solved(ready, [case])[0])
    assert stand.machine is not None
    weight = weight_n(stand.machine.mass_kg.middle + ready.mass_kg)
    total = sum(held.values())
    assert total[:3] == pytest.approx([0.0, 0.0, weight], abs=1e-6 * weight)


@settings(max_examples=25)
@given(stands())
def test_inside_forces_are_whole_where_nothing_joins_and_nothing_hangs(stand: Stand) -> None:
    """At the places between joints and feet, what one beam passes on is what the next takes over, all six of it."""
    ready = built(stand)
    result = solved(ready, [cases_of(ready)[0]])[0]
    busy = {*ready.node_of.values(), *(each.node for each in ready.feet)}
    checked = 0
    for along, stations in zip(member_forces(ready, result), ready.stations, strict=True):
        values = np.array(
            [along.pull_n, along.shear_y_n, along.shear_z_n, along.twist_nmm, along.moment_y_nmm, along.moment_z_nmm]
        )
        for number, (_, node) in enumerate(stations[1:-1], 1):
            if node not in busy:
                before, after = values[:, 3 * number - 1], values[:, 3 * number]
                assert after == pytest.approx(before, abs=1e-6 * float(np.abs(values).max()))
                checked += 1
    assert checked


@settings(max_examples=20)
@given(stands())
def test_a_mirrored_stand_sags_and_works_alike(stand: Stand) -> None:
    assert stand.machine is not None
    spacing = max(y for _, y in stand.machine.feet_mm)
    x, y, z = stand.machine.centre_mm
    other = replace(stand, machine=replace(stand.machine, centre_mm=(x, spacing - y, z)))
    first, second = review_stand(stand), review_stand(other)
    assert first.sag_mm == pytest.approx(second.sag_mm, rel=1e-6)
    ours = {each.name: each.share for each in first.members}
    theirs = {each.name: each.share for each in second.members}
    swap = {"left": "right", "right": "left"}
    for name, share in ours.items():
        head, _, rest = name.partition(" ")
        assert share == pytest.approx(theirs[f"{swap[head]} {rest}" if head in swap else name], rel=1e-5)


@settings(max_examples=20)
@given(stands(), st.floats(1.05, 2.0))
def test_a_heavier_machine_presses_its_braces_and_tips_its_bench_more(stand: Stand, more: float) -> None:
    """All weight stands out from the hinges at the roots: braces are pressed in proportion to it, tipping only worsens."""
    assert stand.machine is not None
    mass = stand.machine.mass_kg.high * more
    heavier = replace(stand, machine=replace(stand.machine, mass_kg=Range(mass, mass)))
    pressed = []
    for each in (stand, heavier):
        ready = built(each)
        case = cases_of(ready, own_weight=False)[0]
        along = member_forces(ready, solved(ready, [case])[0])
        pressed.append(sum(-a.axial_n for a, m in zip(along, each.members, strict=True) if m.role == "brace"))
    assert pressed[1] == pytest.approx(more * pressed[0], rel=1e-6)
    light, heavy = review_stand(stand), review_stand(heavier)
    assert light.tipping_factor is not None and heavy.tipping_factor is not None
    assert heavy.tipping_factor < light.tipping_factor


@settings(max_examples=20)
@given(stands(), st.sampled_from(["bench", "machine", "bolts", "fixing", "guess", "range"]))
def test_less_knowledge_never_improves_a_verdict(stand: Stand, lost: str) -> None:
    assert stand.machine is not None
    full = review_stand(stand)
    mass = stand.machine.mass_kg
    poorer = {
        "bench": lambda: replace(stand, bench=None),
        "machine": lambda: replace(stand, machine=None),
        "bolts": lambda: replace(
            stand,
            members=tuple(
                replace(m, joints=(Joint("pinned"), m.joints[1])) if m.role == "brace" else m for m in stand.members
            ),
        ),
        "fixing": lambda: replace(stand, held=tuple(replace(h, fixing=None) for h in stand.held)),
        "guess": lambda: replace(stand, machine=replace(stand.machine, weighed="guessed")),
        "range": lambda: replace(stand, machine=replace(stand.machine, mass_kg=Range(0.8 * mass.low, 1.2 * mass.high))),
    }[lost]()
    poor = review_stand(poorer)
    known = ORDER.index(full.verdict) if full.verdict in (Verdict.ENOUGH, Verdict.TIGHT) else 0
    assert ORDER.index(poor.verdict) >= known
    if lost != "range":
        assert poor.verdict not in (Verdict.ENOUGH, Verdict.TIGHT)


@settings(max_examples=50)
@given(
    st.lists(st.tuples(st.floats(-500.0, 500.0), st.floats(-500.0, 500.0)), min_size=3, max_size=6),
    st.lists(st.floats(0.05, 1.0), min_size=6, max_size=6),
)
def test_feet_balance_the_machine_and_never_pull(feet: list[tuple[float, float]], mix: list[float]) -> None:
    """The centre of mass is a mixture of the feet, so it lies inside them; loads must balance force and both
    moments.
    """
    places = np.array(feet)
    if np.linalg.matrix_rank(places - places.mean(axis=0), tol=50.0) < 2:
        return
    shares = np.array(mix[: len(feet)]) / sum(mix[: len(feet)])
    centre = shares @ places
    loads = np.array(foot_loads_n(tuple(feet), (float(centre[0]), float(centre[1])), 1000.0))
    assert (loads >= 0.0).all()
    assert loads.sum() == pytest.approx(1000.0, rel=1e-6)
    assert loads @ places == pytest.approx(1000.0 * centre, abs=0.01)


@pytest.mark.parametrize("braces", [None, 150.0])
def test_a_frame_on_legs_presses_on_all_its_feet(braces: float | None) -> None:
    frame = shelf_frame(800.0, 500.0, 700.0, "square tube 40x3", low_rails_mm=150.0, braces_mm=braces)
    machine = Machine(
        "m", Range(60.0, 60.0), (250.0, 400.0, 800.0), ((0.0, 0.0), (500.0, 0.0), (0.0, 800.0), (500.0, 800.0))
    )
    ready = built(Stand("s", frame.nodes, frame.members, frame.held, (), machine, level_at=frame.level_at))
    held = support_forces(ready, solved(ready, [cases_of(ready)[0]])[0])
    each = weight_n(60.0 + ready.mass_kg) / 4.0
    assert [force[2] for force in held.values()] == pytest.approx([each] * 4, rel=1e-3)
