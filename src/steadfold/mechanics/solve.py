"""Statics: a model is factored once and answers any number of load cases, contact and all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import sparse

from . import assembly, beam
from .assembly import Freedoms
from .contact import Compliance, Rows, one_sided_rows
from .factor import COLUMNS, Factor
from .loads import force_vectors
from .mechanism import checked_factor
from .model import Loads, Model
from .parts import GROUND, BoolArray, FloatArray
from .results import Mechanism, Result, Unbalanced

LIMIT = 1e-6
"""Largest imbalance, over the load, of an answer that is shown."""


@dataclass(frozen=True, eq=False)
class Structure:
    """A model with its stiffness assembled and factored. Make one with `factored`."""

    model: Model
    beams: beam.BeamSet
    stiffness: sparse.csr_matrix
    freedoms: Freedoms
    factor: Factor
    compliance: Compliance | None


def _energy(model: Model, beams: beam.BeamSet, rows: Rows | None = None) -> Callable[[FloatArray], float]:
    """Strain energy of a motion (n, 6), with the springs of all contacts and ties where `rows` are given."""
    def of(motion: FloatArray) -> float:
        energy = float(assembly.energies(model, beams, motion))
        if rows is not None:
            energy += 0.5 * float(np.square(rows.columns.T @ motion.reshape(-1)) @ (1.0 / rows.compliance))
        return energy
    return of


def with_springs(matrix: sparse.csc_matrix, rows: sparse.csc_matrix,
                 stiffness: FloatArray) -> sparse.csc_matrix:
    """Matrix with a spring along each column of `rows`."""
    return sparse.csc_matrix(matrix + rows @ sparse.diags_array(stiffness) @ rows.T)


def factored(model: Model) -> Structure:
    """Assemble and factor a model once, for as many load cases, buckling and vibration questions as wanted.

    Raises Mechanism where something can move freely. Where only contacts or ties stand in its way, that is
    left for each load case to show.
    """
    beams = beam.beam_set(model)
    full = assembly.stiffness(model, beams)
    freedoms = assembly.freedoms(model)
    matrix = freedoms.reduced_matrix(full)
    rows = one_sided_rows(model) if model.contacts.count + model.ties.count else None
    if rows is None:
        return Structure(model, beams, full, freedoms, checked_factor(model, matrix, freedoms,
                         _energy(model, beams)), None)
    reduced = freedoms.reduced_columns(rows.columns)
    helpers = np.zeros(rows.count)
    try:
        factor = checked_factor(model, matrix, freedoms, _energy(model, beams))
    except Mechanism:
        beside = np.asarray((reduced.multiply(matrix @ reduced)).sum(axis=0)).reshape(-1)
        own = 1.0 / rows.compliance
        helpers = np.where(beside > 0, np.minimum(own, beside), own)
        factor = checked_factor(model, with_springs(matrix, reduced, helpers), freedoms,
                                _energy(model, beams, rows))
    answers = answers_to(factor, reduced)
    give = reduced.T @ answers
    return Structure(model, beams, full, freedoms, factor,
                     Compliance(rows, answers, 0.5 * (give + give.T), helpers))


def solve(model: Model | Structure, cases: Sequence[Loads]) -> list[Result]:
    """Answers of all load cases, in their order.

    Raises Mechanism where something can move freely (with one-sided parts: under that case), Unbalanced
    where the forces do not balance to 1e-6 of the load, ValueError for loads that do not fit the model.
    """
    structure = model if isinstance(model, Structure) else factored(model)
    freedoms, factor, ready = structure.freedoms, structure.factor, structure.model
    if not cases:
        return []
    outside = force_vectors(ready, structure.beams, cases)
    settled = np.stack([_settlement(ready, case) for case in cases], axis=1)
    right = freedoms.reduced(outside)
    given = settled[freedoms.held]
    if given.any():
        right = right - freedoms.reduced(structure.stiffness @ freedoms.expanded(
            np.zeros((len(freedoms.free), len(cases))), given))
    one_sided_later = structure.compliance is not None and not structure.compliance.helpers.any()
    free = factor.solve(right, refine=not one_sided_later)
    pushes = np.zeros((0, len(cases)))
    methods = ["linear"] * len(cases)
    one_sided = np.zeros_like(outside)
    if structure.compliance is not None:
        free, pushes, methods = _one_sided(structure, free, given)
        one_sided = structure.compliance.rows.columns @ pushes
        free = _polished(structure, free, right + freedoms.reduced(one_sided))
    moved = freedoms.expanded(free, given)
    return _results(structure, cases, moved, outside, one_sided, pushes, methods)


def answers_to(factor: Factor, rows: sparse.csc_matrix, careful: bool = True) -> FloatArray:
    """Answers (f, k) to unit forces along sparse columns (f, k).

    Refined only where the first few show that it changes anything, and not at all unless `careful`: every load case is
    refined in the end.
    """
    answers = np.empty(rows.shape, order="F")
    for start in range(0, rows.shape[1], COLUMNS):
        part = slice(start, start + COLUMNS)
        right = rows[:, part].toarray(order="F")
        answers[:, part] = factor.solve(right, refine=False)
        if careful:
            change = factor.solve(right - factor.matrix @ answers[:, part], refine=False)
            answers[:, part] += change
            careful = bool(np.abs(change).max() > 1e-9 * np.abs(answers[:, part]).max())
    return answers


def _settlement(model: Model, case: Loads) -> FloatArray:
    if case.settlement is None:
        return np.zeros(6 * model.node_count)
    given = np.asarray(case.settlement, dtype=float)
    if given.shape != (model.node_count, 6):
        raise ValueError(f"settlement has shape {given.shape}; expected {(model.node_count, 6)}")
    if (given[~np.asarray(model.fixed)] != 0).any():
        raise ValueError("settlement is given for a freedom that is not fixed")
    return given.reshape(-1)


def _one_sided(structure: Structure, free: FloatArray,
               given: FloatArray) -> tuple[FloatArray, FloatArray, list[str]]:
    compliance = structure.compliance
    assert compliance is not None
    movement = compliance.rows.columns.T @ structure.freedoms.expanded(free, given)
    pushes = np.zeros_like(movement)
    drives = np.zeros_like(movement)
    methods = []
    start: BoolArray | None = None
    for k in range(movement.shape[1]):
        found = compliance.forces(movement[:, k], start)
        if found is None:
            raise _unheld(structure)
        pushes[:, k], drives[:, k], method = found
        start = pushes[:, k] > 0
        methods.append(method)
    return free + compliance.answers @ drives, pushes, methods


def _unheld(structure: Structure) -> Mechanism:
    """What moves when the contacts and ties that would have to pull or push let go."""
    model, compliance = structure.model, structure.compliance
    assert compliance is not None
    plain = Model(model.nodes_mm, model.shells, model.beams, model.springs, model.spiders, model.fixed,
                  masses=model.masses, links=model.links)
    try:
        factored(plain)
    except Mechanism as loose:
        return _let_go(loose)
    raise ArithmeticError("contacts and ties did not settle")


def _let_go(loose: Mechanism) -> Mechanism:
    return Mechanism(f"under this load the contacts and ties let go: {loose}", nodes=loose.nodes,
                     motion=loose.motion, direction=loose.direction, kind=loose.kind, count=loose.count)


NO_PUSH = 1e-9
"""Share of the loads and of what contacts and ties start with below which one of them holds nothing."""


def _still_held(structure: Structure, pushes: FloatArray, load_n: float) -> None:
    """Raise Mechanism where the contacts and ties that bear do not hold the structure by themselves.

    Its base had to be propped (helpers) to be factored; where those that would hold it let go, or go slack in taking up
    what they were stretched by, nothing balances and the answer is that it moves.
    """
    compliance = structure.compliance
    if compliance is None or not compliance.helpers.any():
        return
    rows = compliance.rows
    start_n = float((np.abs(rows.room_mm) / rows.compliance).max(initial=0.0))
    bears = pushes > NO_PUSH * max(load_n, start_n)
    kept = Rows(rows.columns[:, bears], rows.room_mm[bears], rows.compliance[bears])
    reduced = structure.freedoms.reduced_columns(rows.columns)
    matrix = with_springs(structure.factor.matrix, reduced, np.where(bears, 1.0 / rows.compliance, 0.0) - compliance.helpers)
    try:
        checked_factor(structure.model, matrix, structure.freedoms, _energy(structure.model, structure.beams, kept))
    except Mechanism as loose:
        raise _let_go(loose) from None


def _polished(structure: Structure, free: FloatArray, right: FloatArray) -> FloatArray:
    """One refinement of superposed answers on the true stiffness, helpers left out."""
    compliance = structure.compliance
    assert compliance is not None
    if compliance.helpers.any():
        return free
    return np.asarray(free + structure.factor.solve(right - structure.factor.matrix @ free, refine=False))


def _results(structure: Structure, cases: Sequence[Loads], moved: FloatArray, outside: FloatArray,
             one_sided: FloatArray, pushes: FloatArray, methods: list[str]) -> list[Result]:
    model, freedoms = structure.model, structure.freedoms
    inside = structure.stiffness @ moved
    applied = outside + one_sided
    rest = freedoms.reduced(inside - applied)
    reaction = np.zeros_like(moved)
    reaction[freedoms.held] = freedoms.on_held(inside - applied)
    length = max(float(np.linalg.norm(np.ptp(model.nodes_mm, axis=0))), 1.0)
    weight = np.tile([1.0, 1.0, 1.0, 1 / length, 1 / length, 1 / length], model.node_count)[:, None]
    size = np.maximum.reduce([np.abs(weight * applied).max(axis=0), np.abs(weight * reaction).max(axis=0),
                              pushes.max(axis=0, initial=0.0), np.full(len(cases), 1e-300)])
    residual = np.abs(weight[freedoms.free] * rest).max(axis=0, initial=0.0) / size
    contacts = model.contacts.count
    room = np.zeros((contacts, len(cases)))
    if structure.compliance is not None:
        rows = structure.compliance.rows
        room = (rows.room_mm[:, None] + rows.columns.T @ moved + rows.compliance[:, None] * pushes)[:contacts]
        room[pushes[:contacts] > 0] = 0.0
    found = []
    for k, case in enumerate(cases):
        if not residual[k] <= LIMIT:
            _still_held(structure, pushes[:, k], float(np.abs(outside[:, k]).max(initial=0.0)))
            raise Unbalanced(float(residual[k]), LIMIT)
        own = np.ascontiguousarray(moved[:, k])
        found.append(Result(
            model=model, loads=case, displacement=own.reshape(-1, 6),
            reaction=np.ascontiguousarray(reaction[:, k]).reshape(-1, 6), contact_n=pushes[:contacts, k],
            gap_mm=room[:, k], tie_n=pushes[contacts:, k], residual=float(residual[k]),
            imbalance=_imbalance(structure, own, outside[:, k] + reaction[:, k], one_sided[:, k]),
            work_nmm=0.5 * float(own @ (applied[:, k] + reaction[:, k])), solver=methods[k]))
    return found


def _imbalance(structure: Structure, moved: FloatArray, applied: FloatArray, one_sided: FloatArray) -> FloatArray:
    """Sum (6,) of everything from outside: loads, supports, ground springs, contacts and ties with the
    ground.
    """
    model = structure.model
    total = (applied + one_sided).reshape(-1, 6)
    grounded = model.springs.ends[:, 1] == GROUND
    if grounded.any():
        opening = assembly.spring_motion(model, moved.reshape(-1, 6), model.springs)
        pull = np.einsum("ekl,el->ek", model.springs.stiffness, opening)
        forces = np.concatenate([np.einsum("eij,ei->ej", model.springs.axes, pull[:, :3]),
                                 np.einsum("eij,ei->ej", model.springs.axes, pull[:, 3:])], axis=1)
        np.add.at(total, model.springs.ends[grounded, 0], forces[grounded])
    middle = model.nodes_mm.mean(axis=0)
    moments = total[:, 3:] + np.cross(model.nodes_mm - middle, total[:, :3])
    return np.concatenate([total[:, :3].sum(axis=0), moments.sum(axis=0)])
