"""Plastic collapse: all loads grow together while the shells yield; small displacements.

The shift of the loads along themselves is prescribed and the load factor found with it, so that the curve
can be followed past its flat part. Newton with the consistent tangent, started along the last step's
direction. Beams, springs, contacts and ties stay elastic; contacts and ties open and close.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import sparse

from . import assembly, beam, triangle
from .factor import Factor
from .loads import force_vector
from .model import Loads, Model
from .parts import FloatArray
from .plasticity import layer_points, returned, tangent
from .results import Collapse
from .solve import Structure, factored, solve

BACKING = 1e-5
"""Share of the elastic law kept in the tangent only, never in the forces: the flat part stays solvable."""

FLAT = 0.01
"""Slope of the curve over its first slope below which it counts as flat."""


@dataclass(frozen=True, eq=False)
class _Layers:
    """What does not change while the shells yield, chunk by chunk, and the law of each element."""

    model: Model
    yield_mpa: FloatArray
    places: FloatArray
    weights: FloatArray
    parts: list[tuple[slice, FloatArray, FloatArray]]  # elements, rows (c, 3, 6, 18), area / 3 * thickness / 2
    law: FloatArray


def _layers(model: Model, yield_mpa: FloatArray, each_side: int) -> _Layers:
    places, weights = layer_points(each_side)
    shells = model.shells
    parts = []
    for part in triangle.chunks(shells.count):
        corners = model.nodes_mm[shells.triangles[part]]
        rows, area = triangle.strain_rows(corners, triangle.element_axes(corners), shells.poisson[part])
        parts.append((part, rows, area / 3.0 * shells.thickness_mm[part] / 2.0))
    return _Layers(model, yield_mpa, places, weights, parts, triangle.constitutive(shells))


@dataclass(frozen=True, eq=False)
class _State:
    """Forces (n, 6), tangent blocks, plastic strains (m, 3, layers, 3) and which points flow, at a
    displacement.
    """

    forces: FloatArray
    blocks: FloatArray
    plastic: FloatArray
    flowing: FloatArray


def _state(layers: _Layers, displacement: FloatArray, plastic: FloatArray) -> _State:
    model, shells = layers.model, layers.model.shells
    forces = np.zeros((model.node_count, 6))
    blocks = np.empty((shells.count, 3, 3, 6, 6))
    now = np.empty_like(plastic)
    flowing = np.empty(plastic.shape[:3])
    count = len(layers.places)
    for part, rows, size in layers.parts:
        many = len(size)
        height = layers.places * 0.5 * shells.thickness_mm[part, None]  # (c, layers)
        strain = np.matmul(rows.reshape(many, 18, 18),
                           displacement[shells.triangles[part]].reshape(many, 18, 1)).reshape(many, 3, 6)
        at_layers = strain[:, :, None, :3] + height[:, None, :, None] * strain[:, :, None, 3:]
        elastic = at_layers - plastic[part]
        trial = np.matmul(elastic.reshape(many, 3 * count, 3), layers.law[part])
        spread = [np.repeat(value[part], 3 * count) for value in (shells.modulus_mpa, shells.poisson, layers.yield_mpa)]
        stress, multiplier = returned(trial.reshape(-1, 3), *spread)
        moduli = tangent(stress, multiplier, spread[0], spread[1]).reshape(many, 3, count, 3, 3)
        moduli += BACKING * layers.law[part][:, None, None]
        stress = stress.reshape(many, 3, count, 3)
        flow = np.matmul(trial.reshape(many, 3, count, 3) - stress, np.linalg.inv(layers.law[part])[:, None])
        now[part] = plastic[part] + flow
        flowing[part] = multiplier.reshape(many, 3, count) > 0
        weight = layers.weights * size[:, None]
        lever = weight * height
        inner = np.concatenate([np.einsum("el,eplk->epk", weight, stress), np.einsum("el,eplk->epk", lever, stress)],
                               axis=2)
        flat_rows = rows.reshape(many, 18, 18)
        nodal = np.matmul(flat_rows.transpose(0, 2, 1), inner.reshape(many, 18, 1)).reshape(many, 3, 6)
        np.add.at(forces, shells.triangles[part], nodal)
        section = np.empty((many, 3, 6, 6))
        section[:, :, :3, :3] = np.einsum("el,eplij->epij", weight, moduli, optimize=True)
        section[:, :, :3, 3:] = section[:, :, 3:, :3] = np.einsum("el,eplij->epij", lever, moduli, optimize=True)
        section[:, :, 3:, 3:] = np.einsum("el,eplij->epij", lever * height, moduli, optimize=True)
        full = np.matmul(flat_rows.transpose(0, 2, 1), np.matmul(section, rows).reshape(many, 18, 18))
        blocks[part] = full.reshape(-1, 3, 6, 3, 6).transpose(0, 1, 3, 2, 4)
    return _State(forces, blocks, now, flowing)


class _Path:
    """The search along the curve; holds the constant matrices and counts the solutions."""

    def __init__(self, structure: Structure, load: FloatArray, layers: _Layers) -> None:
        model, self.freedoms = structure.model, structure.freedoms
        self.model, self.layers, self.load = model, layers, self.freedoms.reduced(load)
        self.rest = assembly.assembled(model.node_count, [
            (model.beams.ends, beam.stiffness_blocks(structure.beams)),
            (model.springs.ends, assembly.spring_blocks(model, model.springs)),
            (model.links.ends, assembly.spring_blocks(model, model.links))])
        self.rows = structure.compliance.rows if structure.compliance is not None else None
        self.reduced_rows = None if self.rows is None else self.freedoms.reduced_columns(self.rows.columns)
        self.solves = 0

    def imbalance(self, free: FloatArray, plastic: FloatArray) -> tuple[FloatArray, FloatArray, _State]:
        """Inside forces on the free freedoms, stiffness (k,) of the bearing rows, and the state."""
        moved = self.freedoms.expanded(free)
        state = _state(self.layers, moved.reshape(-1, 6), plastic)
        inside = self.freedoms.reduced(state.forces.reshape(-1) + self.rest @ moved)
        bears = np.zeros(0)
        if self.rows is not None and self.reduced_rows is not None:
            room = self.rows.room_mm + self.rows.columns.T @ moved
            push = np.maximum(-room, 0.0) / self.rows.compliance
            bears = np.where(push > 0, 1.0 / self.rows.compliance, 0.0)
            inside = inside - self.reduced_rows @ push
        return inside, bears, state

    def factor(self, state: _State, bears: FloatArray) -> Factor:
        full = assembly.assembled(self.model.node_count, [(self.model.shells.triangles, state.blocks)]) + self.rest
        matrix = self.freedoms.reduced_matrix(sparse.csr_matrix(full))
        if self.reduced_rows is not None:
            matrix = sparse.csc_matrix(matrix + self.reduced_rows @ sparse.diags_array(bears) @ self.reduced_rows.T)
        self.solves += 1
        return Factor.of(matrix)

    def step(self, free: FloatArray, factor: float, plastic: FloatArray, aim: float,
             most: int = 12) -> tuple[FloatArray, float, _State] | None:
        """Balance with the loads' work per unit factor at `aim`, from a first guess. None where it is not
        found.
        """
        for _ in range(most):
            inside, bears, state = self.imbalance(free, plastic)
            rest = factor * self.load - inside
            short = aim - float(self.load @ free)
            size = max(abs(factor), 1e-12) * np.abs(self.load).max()
            if np.abs(rest).max() <= 1e-7 * size and abs(short) <= 1e-9 * abs(aim):
                return free, factor, state
            answers = self.factor(state, bears).solve(np.stack([rest, self.load], axis=1), refine=False)
            change = (short - float(self.load @ answers[:, 0])) / float(self.load @ answers[:, 1])
            free = free + answers[:, 0] + change * answers[:, 1]
            factor += change
            if not np.isfinite(factor):
                return None
        return None


def asked(model: Model | Structure, case: Loads, yield_mpa: ArrayLike) -> tuple[Structure, FloatArray, FloatArray, float]:
    """What a collapse starts from: the structure, the yield of each shell (m,), the load (n, 6), and the sum of its forces, or
    of its moments where there is no force. Raises ValueError without shells or loads, with given settlement, or with a yield
    that is not above zero.
    """
    structure = model if isinstance(model, Structure) else factored(model)
    ready = structure.model
    if not ready.shells.count or case.settlement is not None:
        raise ValueError("collapse needs shells, and no settlement")
    strength = np.ascontiguousarray(np.broadcast_to(np.asarray(yield_mpa, dtype=float), (ready.shells.count,)))
    if not (strength > 0).all():
        raise ValueError("yield_mpa must be above zero")
    load = force_vector(ready, structure.beams, case)
    sizes = float(np.linalg.norm(load[:, :3], axis=1).sum()) or float(np.linalg.norm(load[:, 3:], axis=1).sum())
    if not sizes:
        raise ValueError("collapse needs loads")
    return structure, strength, load, sizes


def collapse(model: Model | Structure, case: Loads, yield_mpa: ArrayLike, *, layers_each_side: int = 3,
             furthest: float = 30.0, most_solves: int = 60) -> Collapse:
    """Grow all loads of a case until the shells give way plastically; the curve, its limit and what stays.

    yield_mpa: one, or one for each shell element. furthest: how many times the shift at first yield is
    followed at most. Steps that do not settle are halved; after `most_solves` linear solutions the curve
    ends where it is. Loads that stay the same while others grow are not covered. Raises ValueError without
    shells or without loads, or with given settlement.
    """
    structure, strength, load, sizes = asked(model, case, yield_mpa)
    ready = structure.model
    layers = _layers(ready, strength, layers_each_side)
    path = _Path(structure, load.reshape(-1), layers)
    first = solve(structure, [case])[0].displacement.reshape(-1)[structure.freedoms.free]
    plastic = np.zeros((ready.shells.count, 3, len(layers.places), 3))
    give = float(path.load @ first)
    start = _first_yield(layers, structure.freedoms.expanded(first).reshape(-1, 6))
    found = path.step(start * first, start, plastic, start * give)
    if found is None:
        raise ArithmeticError("no balance was found at first yield")
    free, factor, state = found
    before, before_aim = np.zeros_like(free), 0.0
    aim, growth = start * give, 0.2
    factors, works = [0.0, factor], [0.0, aim]
    elastic, reached = factor / aim, False
    while aim < furthest * start * give and path.solves < most_solves:
        ahead = aim * (1 + growth)
        way = (ahead - aim) / (aim - before_aim)
        slope = (factors[-1] - factors[-2]) / (works[-1] - works[-2])
        found = path.step(free + way * (free - before), factor + slope * (ahead - aim), state.plastic, ahead)
        if found is None:
            growth *= 0.5
            if growth < 0.01:
                break
            continue
        before, before_aim, (free, factor, state), aim = free, aim, found, ahead
        factors.append(factor)
        works.append(aim)
        growth = min(growth * 1.3, 0.6)
        if (factors[-1] - factors[-2]) / (works[-1] - works[-2]) < FLAT * elastic:
            reached = True
            break
    curve, work = np.array(factors), np.array(works)
    share = (state.flowing * layers.weights).sum(axis=2).mean(axis=1) / 2.0
    return Collapse(factors=curve, moved_mm=work / sizes, permanent_mm=(work - curve / elastic) / sizes,
                    first_yield=start, limit=float(curve.max()), reached=reached,
                    displacement=structure.freedoms.expanded(free).reshape(-1, 6), plastic_share=share,
                    solves=path.solves)


def _first_yield(layers: _Layers, displacement: FloatArray) -> float:
    """Factor at which the first layer point yields if everything grows in proportion."""
    shells = layers.model.shells
    highest = 0.0
    for part, rows, size in layers.parts:
        many = len(size)
        strain = np.matmul(rows.reshape(many, 18, 18),
                           displacement[shells.triangles[part]].reshape(many, 18, 1)).reshape(many, 3, 6)
        height = layers.places * 0.5 * shells.thickness_mm[part, None]
        at_layers = strain[:, :, None, :3] + height[:, None, :, None] * strain[:, :, None, 3:]
        stress = np.matmul(at_layers, layers.law[part][:, None])
        x, y, xy = np.moveaxis(stress, -1, 0)
        equivalent = np.sqrt(x**2 + y**2 - x * y + 3 * xy**2)
        highest = max(highest, float((equivalent / layers.yield_mpa[part, None, None]).max()))
    return 1.0 / highest
