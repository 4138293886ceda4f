"""A wall felt at every node of a back, at the cost of the few dozen patches that tell its pushes.

A bed is a set of contacts, each with the share of the wall's area that is its own. Pushing on each of them costs a
solution with the factor, so they are gathered into patches that push evenly, by their mean motion. A patch is true
where all of it bears or none does. Patches of which only a part would bear are split along that line, worst first, until
the pushes would hardly change. The rest of a split patch needs no new solution: it is the whole less the part.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.spatial import cKDTree

from .contact import Compliance, Rows, one_sided_rows, settled
from .grid import spaced
from .loads import force_vectors
from .model import Loads
from .parts import GROUND, BoolArray, Contacts, FloatArray, IntArray, no_ties
from .solve import Structure, answers_to

FIRST = 20
"""About how many patches there are at first, on the rim and inside."""

ROUNDS = 12
AT_A_TIME = 20
"""Patches split in one round."""

UNEVEN = 0.2
"""What pushes count that are spread unevenly over a patch but sum up right (judgement)."""


def bedded(structure: Structure, bed: Contacts, cases: Sequence[Loads], on_rim: BoolArray | None = None,
           tolerance: float = 0.02, most: int = 140) -> Structure:
    """The structure against a bed, in as few patches as these load cases allow, on the same factor.

    bed: contacts with the ground, each with its own compliance and gap; on_rim: which of them lie on an edge, where
    pushes are sharpest, so that they start in patches of their own. tolerance: what may be left wrong of the
    pushes, as a share of their sum in a case; most: how many patches at the most, which may leave more wrong. The
    contacts of the answer are the patches, each named by a node in its middle.

    Contacts that the structure has already come before the patches, and its ties stay; they push and pull beside the
    patches all the while.

    Raises ValueError for a bed that is not against the ground.
    """
    if (bed.against != GROUND).any():
        raise ValueError("a bed is against the ground")
    if not bed.count or not cases:
        return structure
    every = one_sided_rows(replace(structure.model, contacts=bed, ties=no_ties()))
    rows = structure.freedoms.reduced_columns(every.columns)
    across = sparse.csr_matrix(rows.T)
    outside = force_vectors(structure.model, structure.beams, cases)
    alone = structure.factor.solve(structure.freedoms.reduced(outside), refine=False)
    room = bed.gap_mm[:, None] + across @ alone
    places = structure.model.nodes_mm[bed.nodes]
    stiffness = 1.0 / bed.compliance_mm_per_n
    owner = _first(places, on_rim)
    answers = answers_to(structure.factor, sparse.csc_matrix(rows @ _means(owner, stiffness)))
    beside = _Beside.of(structure, alone)
    felt_beside = across @ beside.answers
    for turn in range(ROUNDS + 1):
        mean = _means(owner, stiffness)
        together = np.asarray(np.bincount(owner, stiffness), dtype=float)
        felt = across @ answers
        give = beside.around(np.asarray(mean.T @ felt), np.asarray(mean.T @ felt_beside))
        every_push = _pushes(give, np.append(1.0 / together, beside.soft), np.vstack([mean.T @ room, beside.room]))
        pushes, others = every_push[: len(together)], every_push[len(together) :]
        sunk = np.maximum(-(room + felt @ pushes + felt_beside @ others), 0.0)
        wrong = (stiffness[:, None] * sunk - (stiffness / together[owner])[:, None] * pushes[owner]) / np.maximum(
            pushes.sum(axis=0), 1e-300)
        left = _left(owner, wrong)
        measure = left.max(axis=1)
        free = min(AT_A_TIME, most - len(together))
        if measure.sum() <= tolerance or free <= 0 or turn == ROUNDS:
            break
        worst = np.argsort(-measure, kind="stable")[:free]
        parts = [_part(np.flatnonzero(owner == p), places, sunk[:, left[p].argmax()])
                 for p in worst if measure[p] > 0.01 * tolerance]
        parts = [part for part in parts if len(part)]
        if not parts:
            break
        owner, answers = _split(owner, answers, parts, stiffness, rows, structure)
    return _against(structure, bed, every, mean, together, answers, give, beside)


@dataclass(frozen=True, eq=False)
class _Beside:
    """The contacts and ties that a structure has already: answers (f, k) to each, what they give each other, their
    compliance, and their room (k, cases) under the loads alone."""

    answers: FloatArray
    give: FloatArray
    soft: FloatArray
    room: FloatArray

    @classmethod
    def of(cls, structure: Structure, alone: FloatArray) -> _Beside:
        own = structure.compliance
        if own is None:
            return cls(np.zeros((len(alone), 0)), np.zeros((0, 0)), np.zeros(0), np.zeros((0, alone.shape[1])))
        columns = structure.freedoms.reduced_columns(own.rows.columns)
        return cls(own.answers, own.give, own.rows.compliance, own.rows.room_mm[:, None] + columns.T @ alone)

    def around(self, give: FloatArray, across: FloatArray) -> FloatArray:
        """What patches (p, p) and these give, together; across (p, k): what these give the patches."""
        return np.block([[give, across], [across.T, self.give]])


def _first(places: FloatArray, on_rim: BoolArray | None) -> IntArray:
    """A number of a patch for each place: the nearest of about `FIRST` places spread evenly, rim and inside apart."""
    owner = np.zeros(len(places), dtype=np.int64)
    kinds = [np.ones(len(places), dtype=bool)] if on_rim is None else [on_rim, ~on_rim]
    for kind in kinds:
        mine = places[kind]
        if not len(mine):
            continue
        size = np.linalg.svd(mine - mine.mean(axis=0), compute_uv=False)[:2] * np.sqrt(12.0 / len(mine))
        spacing = max(np.sqrt(size.prod() / FIRST), size[0] / FIRST, 1e-9) if len(size) > 1 else 1e-9
        if on_rim is not None and kind is on_rim:
            spacing = max(2.0 * size.sum() / FIRST, 1e-9)
        seeds = spaced(mine, np.arange(len(mine)), float(spacing))
        owner[kind] = owner.max() + 1 + cKDTree(mine[seeds]).query(mine)[1]
    return np.unique(owner, return_inverse=True)[1]


def _means(owner: IntArray, stiffness: FloatArray) -> sparse.csr_matrix:
    """Weights (places, patches) of the mean motion of a patch; also how a push on it spreads."""
    share = stiffness / np.bincount(owner, stiffness)[owner]
    return sparse.csr_matrix((share, (np.arange(len(owner)), owner)))


def _pushes(give: FloatArray, soft: FloatArray, room: FloatArray) -> FloatArray:
    """Pushes (patches, cases)."""
    matrix = 0.5 * (give + give.T) + np.diag(soft)
    pushes = np.empty_like(room)
    start = None
    for k in range(room.shape[1]):
        pushes[:, k] = settled(matrix, room[:, k], start)[0]
        start = pushes[:, k] > 0
    return pushes


def _left(owner: IntArray, wrong: FloatArray) -> FloatArray:
    """What each patch leaves wrong (patches, cases): what does not sum up right, and little of what is uneven."""
    gather = sparse.csr_matrix((np.ones(len(owner)), (owner, np.arange(len(owner)))))
    return np.asarray(np.abs(gather @ wrong) + UNEVEN * (gather @ np.abs(wrong)))


def _part(members: IntArray, places: FloatArray, sunk: FloatArray) -> IntArray:
    """The members of a patch that make the new one: those that bear, or half of them where all or none do."""
    bear = sunk[members] > 0
    if 0 < bear.sum() < len(members):
        return members[bear] if 2 * bear.sum() <= len(members) else members[~bear]
    if len(members) < 2:
        return members[:0]
    off = places[members] - places[members].mean(axis=0)
    along = off @ np.linalg.svd(off, full_matrices=False)[2][0]
    return members[np.argsort(along, kind="stable")[: len(members) // 2]]


def _split(owner: IntArray, answers: FloatArray, parts: list[IntArray], stiffness: FloatArray, rows: sparse.csc_matrix,
           structure: Structure) -> tuple[IntArray, FloatArray]:
    """Patches and their answers with some members of one patch each made into a new one."""
    owner = owner.copy()
    before = np.bincount(owner, stiffness)
    parents = np.array([owner[part[0]] for part in parts])
    for number, part in enumerate(parts):
        owner[part] = len(before) + number
    after = np.bincount(owner, stiffness)
    mean = _means(owner, stiffness)
    new = answers_to(structure.factor, sparse.csc_matrix(rows @ mean[:, len(before):]), careful=False)
    whole, taken = before[parents], after[len(before):]
    answers[:, parents] = (answers[:, parents] * whole - new * taken) / (whole - taken)
    return owner, np.asfortranarray(np.concatenate([answers, new], axis=1))


def _against(structure: Structure, bed: Contacts, every: Rows, mean: sparse.csr_matrix, together: FloatArray,
             answers: FloatArray, give: FloatArray, beside: _Beside) -> Structure:
    """The structure with the patches for contacts after those it has, their answers and what they give."""
    places = structure.model.nodes_mm[bed.nodes]
    middle = mean.T @ places
    named = np.array([int(members[np.argmin(np.linalg.norm(places[members] - middle[p], axis=1))])
                      for p, members in enumerate(np.split(mean.tocsc().indices, mean.tocsc().indptr[1:-1]))], dtype=np.int64)
    gaps = np.asarray(mean.T @ bed.gap_mm)
    model, own = structure.model, structure.compliance
    old = model.contacts
    contacts = Contacts(
        np.append(old.nodes, bed.nodes[named]), np.vstack([old.normals, bed.normals[named]]),
        np.append(old.compliance_mm_per_n, 1.0 / together), np.append(old.gap_mm, gaps),
        np.append(old.against, np.full(len(named), GROUND)))
    count = len(together)
    order = np.concatenate([count + np.arange(old.count), np.arange(count), count + np.arange(old.count, len(beside.soft))])
    columns = sparse.csc_matrix(every.columns @ mean)
    rooms, helpers = gaps, np.zeros(count)
    if own is not None:
        columns = sparse.hstack([columns, own.rows.columns], format="csc")
        rooms, helpers = np.append(gaps, own.rows.room_mm), np.append(helpers, own.helpers)
    soft = np.append(1.0 / together, beside.soft)
    rows = Rows(sparse.csc_matrix(columns[:, order]), rooms[order], soft[order])
    even = (0.5 * (give + give.T))[np.ix_(order, order)]
    both = np.asfortranarray(np.concatenate([answers, beside.answers], axis=1)[:, order])
    return replace(structure, model=replace(model, contacts=contacts), compliance=Compliance(rows, both, even, helpers[order]))
