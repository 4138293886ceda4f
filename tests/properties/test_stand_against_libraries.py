"""Random space frames beside two independent frame programs: displacements and member forces to 1e-6.

pyfe3d (Timoshenko beams with their shear stiffness made so large that they bend like Euler-Bernoulli beams) and
Pynite (Euler-Bernoulli, end releases). Both are BSD or MIT licensed and used in tests only.
"""

from __future__ import annotations

import numpy as np
import pytest

from steadfold.mechanics import Loads
from steadfold.stand.records import PINNED, WELDED, Held, Member, Stand
from steadfold.stand.section import section_of
from steadfold.stand.statics import Case, member_forces, solved
from steadfold.stand.structure import Built, built

SEEDS = range(20)
PROFILES = ("strut 41x41 12 ga", "strut 41x21 12 ga", "square tube 40x3", "angle 40x4", "timber 45x95", "round bar 20")
UP = (0.0, 1.0, 0.0)
"""Pynite keeps a member's own y axis upright along the global Y; ours takes any direction."""


def random_stand(seed: int, releases: bool) -> tuple[Stand, np.ndarray]:
    """A frame of six to nine nodes in a cubic metre, three of them clamped, joined by a tree and a few more members."""
    random = np.random.default_rng(1000 + seed)
    count = int(random.integers(6, 10))
    places = random.uniform(0.0, 1000.0, size=(count, 3))
    nodes = {f"n{k}": (float(x), float(y), float(z)) for k, (x, y, z) in enumerate(places)}
    pairs = {(int(random.integers(0, k)), k) for k in range(1, count)}
    while len(pairs) < count + 4:
        a, b = sorted(int(v) for v in random.choice(count, 2, replace=False))
        pairs.add((a, b))
    members = []
    meeting = {k: sum(k in pair for pair in pairs) for k in range(count)}
    for number, (a, b) in enumerate(sorted(pairs)):
        # a hinge on a member that leads nowhere would let it swing
        joint = PINNED if releases and number % 4 == 1 and min(meeting[a], meeting[b]) > 1 else WELDED
        profile = PROFILES[int(random.integers(len(PROFILES)))]
        members.append(Member(f"m{number}", f"n{a}", f"n{b}", profile, (joint, WELDED), UP, through=()))
    held = tuple(Held(f"n{k}", "clamped", "floor") for k in range(3))
    forces = np.zeros((count, 6))
    forces[3:] = random.normal(size=(count - 3, 6)) * np.array([500.0] * 3 + [2e4] * 3)
    return Stand("random", nodes, tuple(members), held, level_at=("n3",)), forces


def ours(stand: Stand, forces: np.ndarray) -> tuple[Built, np.ndarray, list[np.ndarray]]:
    ready = built(stand)
    nodal = np.zeros((len(ready.places), 6))
    nodal[: len(forces)] = forces
    result = solved(ready, [Case("", "", Loads(nodal=nodal))])[0]
    along = [
        np.array(
            [each.pull_n[0], each.moment_y_nmm[0], each.moment_y_nmm[-1], each.moment_z_nmm[0], each.moment_z_nmm[-1]]
        )
        for each in member_forces(ready, result)
    ]
    return ready, result.displacement[: len(forces)], along


@pytest.mark.parametrize("seed", SEEDS)
def test_random_frames_move_as_pyfe3d_says(seed: int) -> None:
    pytest.importorskip("pyfe3d")
    from pyfe3d.beamc import BeamC, BeamCData, BeamCProbe
    from pyfe3d.beamprop import BeamProp
    from scipy.sparse import coo_matrix

    stand, forces = random_stand(seed, releases=False)
    ready, moved, _ = ours(stand, forces)
    count = len(forces)
    flat = np.ascontiguousarray(ready.places[:count].reshape(-1))
    data, probe = BeamCData(), BeamCProbe()
    size = data.KC0_SPARSE_SIZE * len(stand.members)
    rows, columns, values = np.zeros(size, dtype=np.int64), np.zeros(size, dtype=np.int64), np.zeros(size)
    for number, member in enumerate(stand.members):
        section = section_of(member.profile)
        a, b = ready.node_of[member.start], ready.node_of[member.end]
        x = (ready.places[b] - ready.places[a]) / np.linalg.norm(ready.places[b] - ready.places[a])
        z = np.asarray(UP) - (np.asarray(UP) @ x) * x
        y = np.cross(z / np.linalg.norm(z), x)
        prop = BeamProp()
        prop.A, prop.E = section.area_mm2, section.modulus_mpa
        prop.Iyy, prop.Izz = section.second_moment_y_mm4, section.second_moment_z_mm4
        prop.GJ = section.shear_modulus_mpa * section.torsion_mm4
        prop.G12 = prop.G13 = 1e9 * section.modulus_mpa
        beam = BeamC(probe)
        beam.c1, beam.c2, beam.n1, beam.n2 = 6 * a, 6 * b, a, b
        beam.init_k_KC0 = number * data.KC0_SPARSE_SIZE
        beam.update_rotation_matrix(*y, flat)
        beam.update_probe_xe(flat)
        beam.update_KC0(rows, columns, values, prop)
    stiffness = coo_matrix((values, (rows, columns)), shape=(6 * count, 6 * count)).toarray()
    free = np.arange(18, 6 * count)
    expected = np.zeros(6 * count)
    expected[free] = np.linalg.solve(stiffness[np.ix_(free, free)], forces.reshape(-1)[free])
    expected = expected.reshape(-1, 6)
    for part in (slice(0, 3), slice(3, 6)):
        scale = np.abs(expected[:, part]).max()
        assert np.abs(moved[:, part] - expected[:, part]).max() <= 1e-6 * scale


@pytest.mark.parametrize("seed", SEEDS)
def test_random_frames_with_hinged_ends_carry_what_pynite_says(seed: int) -> None:
    pynite = pytest.importorskip("Pynite")
    stand, forces = random_stand(seed, releases=True)
    _, moved, along = ours(stand, forces)
    model = pynite.FEModel3D()
    for name, (x, y, z) in stand.nodes.items():
        model.add_node(name, x, y, z)
    for each in stand.held:
        model.def_support(each.node, *[True] * 6)
    for member in stand.members:
        section = section_of(member.profile)
        model.add_material(member.name, section.modulus_mpa, section.shear_modulus_mpa, 0.3, 0.0)
        # its z is our y: bending in the upright plane
        model.add_section(
            member.name, section.area_mm2, section.second_moment_z_mm4, section.second_moment_y_mm4, section.torsion_mm4
        )
        model.add_member(member.name, member.start, member.end, member.name, member.name)
        if member.joints[0].kind == "pinned":
            model.def_releases(member.name, Rzi=True)
    for name, row in zip(stand.nodes, forces, strict=True):
        for direction, value in zip(("FX", "FY", "FZ", "MX", "MY", "MZ"), row, strict=True):
            model.add_node_load(name, direction, float(value))
    model.analyze_linear(check_stability=False, sparse=False)
    expected = np.array(
        [[getattr(model.nodes[n], d)["Combo 1"] for d in ("DX", "DY", "DZ", "RX", "RY", "RZ")] for n in stand.nodes]
    )
    for part in (slice(0, 3), slice(3, 6)):
        assert np.abs(moved[:, part] - expected[:, part]).max() <= 1e-6 * np.abs(expected[:, part]).max()
    theirs = [model.members[m.name].f("Combo 1").reshape(-1) for m in stand.members]
    pulls = np.array([-f[0] for f in theirs])
    assert np.abs(np.array([a[0] for a in along]) - pulls).max() <= 1e-6 * np.abs(pulls).max()
    # moments in the upright plane at both ends, whatever their sign convention
    ends = np.array([[abs(f[5]), abs(f[11])] for f in theirs])
    assert np.abs(np.abs(np.array([[a[1], a[2]] for a in along])) - ends).max() <= 1e-6 * ends.max()
