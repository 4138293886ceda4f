"""Finding what can still move, and saying so.

A free motion stretches nothing. Whether one is free is judged from the energy of the elements' own
strains, which vanishes to the square of rounding for a true mechanism and does not for a merely slender part.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from .assembly import Freedoms, arm
from .factor import Factor, Singular
from .model import Model
from .parts import FloatArray, IntArray
from .results import Mechanism

SUSPECT = 1e-8
"""Smallest scaled eigenvalue below which the energy of the softest motion is looked at."""

FREE = 1e-17
"""Energy over stiffness-weighted size below which a motion counts as free."""

MOST = 6

Energy = Callable[[FloatArray], float]


def _freedom(matrix: sparse.csc_matrix, vector: FloatArray, expand: Callable[[FloatArray], FloatArray],
             energy: Energy) -> float:
    size = float(np.square(vector) @ np.maximum(matrix.diagonal(), 0))
    return energy(expand(vector)) / size if size > 0 else 0.0


def checked_factor(model: Model, matrix: sparse.csc_matrix, freedoms: Freedoms, energy: Energy) -> Factor:
    """Factor of the stiffness on the free freedoms. Raises Mechanism where something can move for nothing.

    energy: strain energy of a motion (n, 6).
    """
    def expand(vector: FloatArray) -> FloatArray:
        return freedoms.expanded(vector).reshape(-1, 6)

    try:
        factor = Factor.of(matrix, model.nodes_mm[freedoms.free // 6])
        value, vector = factor.softest()
        if np.isfinite(vector).all() and value > SUSPECT:
            return factor
        if np.isfinite(vector).all():
            vector = vector / np.linalg.norm(vector)
            if _freedom(matrix, vector, expand, energy) > FREE:
                return factor
    except Singular:
        pass
    motions = _free_motions(matrix, expand, energy)
    if not len(motions):
        raise Singular("the stiffness cannot be factored, yet nothing moves freely")
    raise described(model, motions)


def _free_motions(matrix: sparse.csc_matrix, expand: Callable[[FloatArray], FloatArray],
                  energy: Energy) -> list[FloatArray]:
    """Free motions (each n, 6), at most `MOST`, by subspace iteration on the slightly stiffened matrix."""
    diagonal = matrix.diagonal()
    floor = np.where(diagonal > 0, diagonal, max(float(diagonal.max(initial=0.0)), 1.0) * 1e-12)
    scale = 1.0 / np.sqrt(floor)
    scaled = sparse.diags_array(scale) @ matrix @ sparse.diags_array(scale)
    count = matrix.shape[0]
    factor = Factor.of(sparse.csc_matrix(scaled + 1e-9 * sparse.eye_array(count)))
    basis = np.random.default_rng(20240229).normal(size=(count, min(MOST + 2, count)))
    for _ in range(5):
        basis, _ = np.linalg.qr(factor.solve(basis))
    values, turn = np.linalg.eigh(basis.T @ (scaled @ basis))
    found = []
    for vector in (basis @ turn[:, values < SUSPECT]).T[:MOST]:
        motion = expand(vector * scale)
        if energy(motion) <= FREE:
            found.append(motion)
    return found


def _plainest(model: Model, motions: list[FloatArray]) -> FloatArray:
    """The combination of free motions that is a plain shift along an axis or, failing that, a turn about
    one.
    """
    length = max(float(np.ptp(model.nodes_mm, axis=0).max()), 1.0)
    mean = np.stack([motion.mean(axis=0) for motion in motions], axis=1)
    mean = mean / np.array([[1.0], [1.0], [1.0], [1 / length], [1 / length], [1 / length]])
    mean = mean / max(float(np.abs(mean).max()), 1e-300)
    for start in (0, 3):  # a shift without any turn; then a turn, wherever its axis lies
        for freedom in range(3):
            wish = np.eye(6 - start)[freedom]
            shares, *_ = np.linalg.lstsq(mean[start:], wish, rcond=1e-8)
            if np.linalg.norm(mean[start:] @ shares - wish) < 1e-3:
                return np.asarray(sum(share * motion for share, motion in zip(shares, motions, strict=True)))
    return motions[0]


def _direction_name(vector: NDArray[np.floating]) -> str:
    vector = vector / np.linalg.norm(vector)
    axis = int(np.argmax(np.abs(vector)))
    if abs(vector[axis]) > 0.9995:
        return "xyz"[axis]
    return "(" + ", ".join(f"{v:.2f}" for v in np.round(vector, 2) + 0.0) + ")"


def _list(nodes: IntArray, total: int) -> str:
    if len(nodes) == total:
        return f"all {total} nodes"
    names = ", ".join(str(int(node)) for node in nodes[:6])
    more = f" and {len(nodes) - 6} more" if len(nodes) > 6 else ""
    return f"node{'s' if len(nodes) > 1 else ''} {names}{more}"


def described(model: Model, motions: list[FloatArray]) -> Mechanism:
    """The finding for a set of free motions: what moves, how, and how many ways there are."""
    motion = _plainest(model, motions)
    shift = np.linalg.norm(motion[:, :3], axis=1)
    turn = np.linalg.norm(motion[:, 3:], axis=1)
    length = max(float(np.ptp(model.nodes_mm, axis=0).max()), 1.0)
    count = len(motions)
    if shift.max() <= 1e-6 * turn.max() * length:  # only turning on the spot
        motion = motion / turn.max()
        nodes = np.flatnonzero(turn > 0.3 * turn.max())
        direction = motion[nodes].mean(axis=0)
        kind = "turns"
        lead = motion[int(np.argmax(turn)), 3:]
        how = f"can turn about {_direction_name(lead)} on the spot"
    else:
        motion = motion / shift.max()
        nodes = np.flatnonzero(shift > 0.3 * shift.max())
        direction = motion[nodes].mean(axis=0)
        kind, how = _rigid_kind(model.nodes_mm[nodes], motion[nodes])
    ways = "" if count == 1 else f"; {count}{' or more' if count == MOST else ''} such free motions in all"
    text = f"not held: {_list(nodes, model.node_count)} {how}{ways}"
    return Mechanism(text, nodes=nodes, motion=motion, direction=direction, kind=kind, count=count)


def _rigid_kind(places: FloatArray, motion: FloatArray) -> tuple[str, str]:
    middle = places.mean(axis=0)
    reach = arm(places - middle)[:, :3].reshape(-1, 6)
    shifts = motion[:, :3].reshape(-1)
    fitted, *_ = np.linalg.lstsq(reach, shifts, rcond=1e-9)
    if len(places) < 2:
        fitted[3:] = motion[0, 3:]
    misfit = np.linalg.norm(reach @ fitted - shifts) / np.linalg.norm(shifts)
    slide, spin = fitted[:3], fitted[3:]
    size = max(float(np.linalg.norm(np.ptp(places, axis=0))), 1e-9)
    if misfit > 0.05:
        lead = motion[int(np.argmax(np.linalg.norm(motion[:, :3], axis=1))), :3]
        return "bends", f"can move, most along {_direction_name(lead)}, out of shape"
    if np.linalg.norm(spin) * size < 0.02 * np.linalg.norm(slide):
        return "slides", f"can slide along {_direction_name(slide)}"
    through = middle + np.cross(spin, slide) / (spin @ spin)
    along = spin / np.linalg.norm(spin)
    at = ", ".join(f"{value:.1f}" for value in np.round(through, 1) + 0.0)
    screw = " while sliding along it" if abs(slide @ along) > 0.1 * np.linalg.norm(spin) * size else ""
    return "turns", f"can turn about {_direction_name(along)} through ({at}){screw}"
