"""Plastic collapse without a second factorisation: the plastic strains are loads on the elastic structure.

What yields is put on the elastic structure as forces that would stretch it so, and contact is settled on the structure's
own compliance, so that one step costs a back-substitution. The answer is where this settles; Anderson's mixing of the
last few steps gets there in a dozen or two. The shift of the loads along themselves is prescribed and the load factor
found with it, so the curve can be followed to its flat part. Loads grow in proportion; small displacements; no hardening.

Sources: Zienkiewicz, Valliappan & King, 'Elasto-plastic solutions of engineering problems: initial stress approach', Int.
J. Num. Meth. Eng. 1 (1969) 75-100; Anderson, 'Iterative procedures for nonlinear integral equations', J. ACM 12 (1965)
547-560; Walker & Ni, SIAM J. Num. Anal. 49 (2011) 1715-1735 (all recalled).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from . import triangle
from .collapse import asked
from .model import Loads, Model
from .parts import BoolArray, FloatArray, IntArray
from .plasticity import layer_points, returned
from .solve import Structure

DEPTH = 8
"""Steps that are mixed."""

SETTLED = 1e-5
"""Change of the displacements in a step, each weighed by its own stiffness, over their size, at which they have settled."""

NEAR = 0.9
"""Share of the yield stress from which an element is watched."""

GROWTH = 0.3
"""Growth of the prescribed shift from one point of the curve to the next."""

FLAT = 0.01
"""Slope of the curve over its first slope below which it counts as flat."""


@dataclass(frozen=True, eq=False)
class Yielded:
    """How far a structure of ductile plates is from giving way under a loading that grows.

    factors (s,) and moved_mm (s,): the curve, load factor over mean shift of the loads along themselves. limit: the
    largest factor met; reached: whether the curve was flat there, else the structure carries at least that. first_yield:
    factor at which the first layer yields, a number of the mesh more than of the part. set_mm: what stays of the shift
    after the factor asked for is put on and taken off again; None where it does not carry that. moved_at_set_mm: the
    shift under that factor. steps: back-substitutions it took; complete: False where it was ended by their number.
    """

    factors: FloatArray
    moved_mm: FloatArray
    limit: float
    reached: bool
    first_yield: float
    set_mm: float | None
    moved_at_set_mm: float | None
    steps: int
    complete: bool


def _squared(stress: FloatArray) -> FloatArray:
    """The square of von Mises' stress of plane stresses (..., 3)."""
    x, y, xy = stress[..., 0], stress[..., 1], stress[..., 2]
    return np.asarray(x * x + y * y - x * y + 3 * xy * xy)


class _Sheet:
    """The layers of all shell elements: from displacements to plastic strains, and to the forces these stand for."""

    def __init__(self, model: Model, strength: FloatArray, each_side: int) -> None:
        shells = model.shells
        self.model, self.strength = model, strength
        self.places, self.weights = layer_points(each_side)
        self.law = triangle.constitutive(shells)
        self.softness = np.linalg.inv(self.law)
        self.rows = np.empty((shells.count, 18, 18))
        self.size = np.empty(shells.count)
        for part in triangle.chunks(shells.count):
            corners = model.nodes_mm[shells.triangles[part]]
            rows, area = triangle.strain_rows(corners, triangle.element_axes(corners), shells.poisson[part])
            self.rows[part] = rows.reshape(-1, 18, 18)
            self.size[part] = area / 3.0 * shells.thickness_mm[part] / 2.0
        self.points = 3 * len(self.places)

    def strains(self, displacement: FloatArray, chosen: IntArray | slice) -> FloatArray:
        """Strains (c, 3, layers, 3) at every point of some elements."""
        shells = self.model.shells
        moved = displacement[shells.triangles[chosen]].reshape(-1, 18, 1)
        strain = np.matmul(self.rows[chosen], moved).reshape(-1, 3, 6)
        height = self.places * 0.5 * shells.thickness_mm[chosen, None]
        return strain[:, :, None, :3] + height[:, None, :, None] * strain[:, :, None, 3:]

    def hardest(self, displacement: FloatArray) -> FloatArray:
        """The largest share of the yield stress (m,) in each element, were all elastic."""
        out = np.empty(self.model.shells.count)
        for part in triangle.chunks(len(out)):
            strain = self.strains(displacement, part)
            stress = np.matmul(strain.reshape(len(strain), self.points, 3), self.law[part])
            out[part] = np.sqrt(_squared(stress).max(axis=1)) / self.strength[part]
        return out

    def near(self, displacement: FloatArray, before: FloatArray) -> BoolArray:
        """Elements (m,) that have flowed, flow at a displacement, or are near to it."""
        found = np.asarray(before.any(axis=(1, 2, 3)), dtype=bool)
        for part in triangle.chunks(self.model.shells.count):
            trial = self._trial(displacement, before, part)
            found[part] |= (_squared(trial) > (NEAR * self.strength[part, None]) ** 2).any(axis=1)
        return found

    def flowed(self, displacement: FloatArray, before: FloatArray, chosen: IntArray) -> FloatArray:
        """Plastic strains (m, 3, layers, 3) at a displacement, from those before, where only the chosen elements flow."""
        now, shells = before.copy(), self.model.shells
        trial = self._trial(displacement, before, chosen)
        which, point = np.nonzero(_squared(trial) > self.strength[chosen, None] ** 2)
        if len(which):
            element = chosen[which]
            tried = trial[which, point]
            stress, _ = returned(tried, shells.modulus_mpa[element], shells.poisson[element], self.strength[element])
            change = np.matmul((tried - stress)[:, None, :], self.softness[element])[:, 0]
            now.reshape(shells.count, self.points, 3)[element, point] += change
        return now

    def _trial(self, displacement: FloatArray, before: FloatArray, chosen: IntArray | slice) -> FloatArray:
        """Stresses (c, points, 3) if nothing more flowed."""
        elastic = self.strains(displacement, chosen) - before[chosen]
        return np.matmul(elastic.reshape(len(elastic), self.points, 3), self.law[chosen])

    def forces(self, plastic: FloatArray) -> FloatArray:
        """Forces (n, 6) that would strain the elastic sheet as it has flowed."""
        shells = self.model.shells
        chosen = np.flatnonzero(plastic.any(axis=(1, 2, 3)))
        if not len(chosen):
            return np.zeros((self.model.node_count, 6))
        stress = np.matmul(plastic[chosen].reshape(len(chosen), self.points, 3), self.law[chosen])
        stress = stress.reshape(len(chosen), 3, -1, 3)
        weight = self.weights * self.size[chosen, None]
        lever = weight * self.places * 0.5 * shells.thickness_mm[chosen, None]
        inner = np.concatenate([np.einsum("el,eplk->epk", weight, stress), np.einsum("el,eplk->epk", lever, stress)], axis=2)
        nodal = np.matmul(self.rows[chosen].transpose(0, 2, 1), inner.reshape(-1, 18, 1)).reshape(-1, 6)
        corners = shells.triangles[chosen].reshape(-1)
        return np.stack([np.bincount(corners, nodal[:, k], self.model.node_count) for k in range(6)], axis=1)


class _Base:
    """The elastic structure with its contacts: its free freedoms under a factor on the loads and some forces."""

    def __init__(self, structure: Structure, load: FloatArray) -> None:
        self.structure = structure
        self.load = structure.freedoms.reduced(load)
        self.under_load = structure.factor.solve(self.load)
        self.weight = np.sqrt(structure.factor.matrix.diagonal())
        self.steps = 0
        own = structure.compliance
        self.touch: BoolArray | None = None
        if own is not None:
            self.columns = structure.freedoms.reduced_columns(own.rows.columns).T.tocsr()
            self.felt = self.columns @ self.under_load
            self.lift = self.load @ own.answers
        self.shift = float(self.load @ self.under_load)

    def alone(self, forces: FloatArray) -> FloatArray:
        """Free freedoms under forces (n, 6), contacts and ties left out."""
        self.steps += 1
        return self.structure.factor.solve(self.structure.freedoms.reduced(forces.reshape(-1)), refine=False)

    def at(self, factor: float, own: FloatArray) -> FloatArray:
        """Free freedoms with contacts settled; `own` are those from the forces alone."""
        free = factor * self.under_load + own
        compliance = self.structure.compliance
        if compliance is None:
            return free
        return free + compliance.answers @ self._drives(factor, self.columns @ own)

    def _drives(self, factor: float, felt: FloatArray) -> FloatArray:
        compliance = self.structure.compliance
        assert compliance is not None
        found = compliance.forces(factor * self.felt + felt, self.touch)
        if found is None:
            raise ArithmeticError("contacts and ties let go")
        self.touch = found[0] > 0
        return found[1]

    def factor_for(self, aim: float, own: FloatArray, guess: float) -> float:
        """The factor at which the loads' work for a unit factor comes to `aim`."""
        start = float(self.load @ own)
        if self.structure.compliance is None:
            return (aim - start) / self.shift
        felt = self.columns @ own

        def work(factor: float) -> float:
            return factor * self.shift + start + float(self.lift @ self._drives(factor, felt))

        one, value = guess, work(guess) - aim
        two = guess - value / self.shift
        for _ in range(20):
            further = work(two) - aim
            if abs(further) <= 1e-6 * abs(aim) or two == one:
                break
            slope = (further - value) / (two - one)
            one, value, two = two, further, two - further / (slope if slope > 0 else self.shift)
        return two


def yielded(model: Model | Structure, case: Loads, yield_mpa: ArrayLike, *, set_factor: float = 1.5, enough: float = np.inf,
            layers_each_side: int = 3, furthest: float = 12.0, most_steps: int = 400) -> Yielded:
    """Grow all loads of a case until the shells give way plastically, or carry a factor that is enough.

    yield_mpa: one, or one for each shell element. set_factor: the factor whose lasting set is asked for. furthest: how
    many times the shift at first yield is followed at most. most_steps: back-substitutions after which the curve ends
    where it is. Raises ValueError without shells or loads, or with given settlement, ArithmeticError where contacts and
    ties let go.
    """
    structure, strength, load, sizes = asked(model, case, yield_mpa)
    return _Search(structure, load, strength, layers_each_side, most_steps).curve(sizes, set_factor, enough, furthest)


class _Search:
    """The search along the curve."""

    def __init__(self, structure: Structure, load: FloatArray, strength: FloatArray, each_side: int, most: int) -> None:
        self.structure, self.most = structure, most
        self.base = _Base(structure, load.reshape(-1))
        self.sheet = _Sheet(structure.model, strength, each_side)

    def moved(self, free: FloatArray) -> FloatArray:
        return self.structure.freedoms.expanded(free).reshape(-1, 6)

    def settle(self, free: FloatArray, before: FloatArray, factor: float, aim: float | None) -> tuple[
            FloatArray, float, FloatArray, FloatArray] | None:
        """Free freedoms, factor, plastic strains and what these alone do, at a given factor or, with `aim`, a given shift.

        None where it does not settle.
        """
        base, weight = self.base, self.base.weight
        states: list[FloatArray] = []
        rests: list[FloatArray] = []
        watched = self.sheet.near(self.moved(free), before)
        for _ in range(60):
            plastic = self.sheet.flowed(self.moved(free), before, np.flatnonzero(watched))
            own = base.alone(self.sheet.forces(plastic))
            if aim is not None:
                factor = base.factor_for(aim, own, factor)
            ahead = base.at(factor, own)
            rest = (ahead - free) * weight
            if float(np.linalg.norm(rest)) <= SETTLED * float(np.linalg.norm(ahead * weight)):
                missed = self.sheet.near(self.moved(ahead), plastic) & ~watched
                if not missed.any():
                    return ahead, factor, plastic, own
                watched |= missed
            if base.steps >= self.most or not np.isfinite(rest).all():
                return None
            states, rests = [*states, ahead][-DEPTH - 1:], [*rests, rest][-DEPTH - 1:]
            free = _mixed(states, rests)
        return None

    def curve(self, sizes: float, set_factor: float, enough: float, furthest: float) -> Yielded:
        base, sheet = self.base, self.sheet
        nothing = np.zeros((self.structure.model.shells.count, 3, len(sheet.places), 3))
        still = np.zeros_like(base.load)
        elastic = base.at(1.0, still)
        give = float(base.load @ elastic)
        start = 1.0 / float(sheet.hardest(self.moved(elastic)).max())
        free, factor, plastic = start * elastic, start, nothing
        factors, works = [0.0, start], [0.0, start * give]
        before = (np.zeros_like(free), 0.0)
        aim, growth, reached, complete = start * give, GROWTH, False, True
        lasting: tuple[float, float] | None = (0.0, set_factor * give) if start >= set_factor else None
        while factor < enough and aim < furthest * start * give:
            ahead = aim * (1.0 + growth)
            guess = free + (ahead - aim) / (aim - before[1]) * (free - before[0])
            found = self.settle(guess, plastic, factor, ahead)
            if found is None:
                growth *= 0.5
                if growth < 0.04 or base.steps >= self.most:
                    complete = False
                    break
                continue
            if lasting is None and found[1] >= set_factor:
                lasting = self._lasting(free, plastic, set_factor)
            before = (free, aim)
            free, factor, plastic, _ = found
            aim = ahead
            factors.append(factor)
            works.append(aim)
            growth = min(growth * 1.3, 0.6)
            if (factors[-1] - factors[-2]) / (works[-1] - works[-2]) < FLAT / give:
                reached = True
                break
        limit = max(factors)
        return Yielded(np.array(factors), np.array(works) / sizes, limit, reached, start,
                       None if lasting is None else lasting[0] / sizes, None if lasting is None else lasting[1] / sizes,
                       base.steps, complete)

    def _lasting(self, free: FloatArray, plastic: FloatArray, factor: float) -> tuple[float, float] | None:
        """The loads' work for a unit factor after a factor is put on and taken off, and under it."""
        found = self.settle(free, plastic, factor, None)
        if found is None:
            return None
        left = self.base.at(0.0, found[3])
        return float(self.base.load @ left), float(self.base.load @ found[0])


def _mixed(states: list[FloatArray], rests: list[FloatArray]) -> FloatArray:
    """Anderson's mixing: the mean of the last answers whose rests come closest to nothing together."""
    if len(states) == 1:
        return states[0]
    steps = np.stack([b - a for a, b in pairwise(rests)], axis=1)
    shares, *_ = np.linalg.lstsq(steps, rests[-1], rcond=1e-8)
    moves = np.stack([b - a for a, b in pairwise(states)], axis=1)
    return np.asarray(states[-1] - moves @ shares)
