"""A wall felt at every node of a back, at the cost of the few dozen places where it truly bears.

A bed is a set of contacts, each with the share of the wall's area that is its own. Few of them bear in any case, and
each costs a solution with the factor. So a thin choice is made first, in which every chosen place also stands for
those nearest to it; then places are added where that is untrue, worst first, until the pushes would hardly change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy import sparse
from scipy.spatial import cKDTree

from .contact import Compliance, one_sided_rows, settled
from .grid import spaced
from .loads import force_vector
from .model import Loads, Model
from .parts import GROUND, Contacts, FloatArray, IntArray
from .solve import Structure, answers_to

FIRST = 40
"""About how many places are tried first."""

ROUNDS = 8
CANCELLED = 0.25
"""What pushes count that are wrong but sum up right among places next to each other (judgement)."""

AT_A_TIME = 32
"""Places added in one round."""


def bedded(structure: Structure, bed: Contacts, cases: Sequence[Loads], tolerance: float = 0.1,
           most: int = 160) -> Structure:
    """The structure against those places of a bed that matter in these load cases, on the same factor.

    bed: contacts with the ground, each with its own compliance and gap; left out places count to the nearest chosen
    one, whose compliance falls accordingly. tolerance: what may be left wrong of the pushes, as a share of their sum
    in the case; most: how many places at the most, which may leave more wrong.

    Raises ValueError for a structure that has contacts, ties or settlements already.
    """
    if structure.compliance is not None or (bed.against != GROUND).any():
        raise ValueError("a bed is against the ground, under a structure without contacts and ties")
    if not bed.count or not cases:
        return _against(structure, bed, np.arange(bed.count), bed.compliance_mm_per_n, None)
    bare = structure.model
    every = one_sided_rows(_with(bare, bed))
    rows = structure.freedoms.reduced_columns(every.columns)
    across = sparse.csr_matrix(rows.T)
    outside = np.stack([force_vector(bare, structure.beams, case).reshape(-1) for case in cases], axis=1)
    room = bed.gap_mm[:, None] + across @ structure.factor.solve(structure.freedoms.reduced(outside))
    places = bare.nodes_mm[bed.nodes]
    stiffness = 1.0 / bed.compliance_mm_per_n
    spacing = _spacing(places)
    chosen = spaced(places, np.arange(bed.count), spacing)
    answers = answers_to(structure.factor, rows[:, chosen])
    give = across @ answers
    for _ in range(ROUNDS):
        owner = cKDTree(places[chosen]).query(places)[1]
        together = np.bincount(owner, stiffness, len(chosen))
        pushes = np.stack([_pushes(give[chosen], 1.0 / together, room[chosen, k]) for k in range(len(cases))], axis=1)
        sunk = np.maximum(-(room + give @ pushes), 0.0)
        wrong = stiffness[:, None] * sunk - (stiffness / together[owner])[:, None] * pushes[owner]
        share = _weighed(wrong / np.maximum(pushes.sum(axis=0), 1e-300), owner, len(chosen))
        share[chosen] = 0.0
        if share.sum() <= tolerance or len(chosen) >= most:
            break
        spacing *= 0.6
        added = _worst(places, share, min(AT_A_TIME, most - len(chosen)), spacing, tolerance)
        new = answers_to(structure.factor, rows[:, added])
        chosen = np.concatenate([chosen, added])
        answers = np.concatenate([answers, new], axis=1)
        give = np.concatenate([give, across @ new], axis=1)
    owner = cKDTree(places[chosen]).query(places)[1]
    return _against(structure, bed, chosen, 1.0 / np.bincount(owner, stiffness, len(chosen)), (answers, give[chosen]))


def _with(model: Model, contacts: Contacts) -> Model:
    return replace(model, contacts=contacts)


def _spacing(places: FloatArray) -> float:
    """A spacing that would leave about `FIRST` places, from the size of their cloud in its own two directions."""
    size = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)[:2] * np.sqrt(12.0 / len(places))
    return float(max(np.sqrt(size.prod() / FIRST), size[0] / FIRST, 1e-9)) if len(size) > 1 else 1e-9


def _weighed(wrong: FloatArray, owner: IntArray, count: int) -> FloatArray:
    """How wrong each place is in its worst case: what cancels among the places that one stands for counts a quarter."""
    size = np.abs(wrong)
    inside = sparse.csr_matrix((np.ones(len(owner)), (owner, np.arange(len(owner)))), shape=(count, len(owner)))
    left = np.abs(inside @ wrong) / np.maximum(inside @ size, 1e-300)
    return np.asarray((size * np.maximum(left, CANCELLED)[owner]).max(axis=1))


def _pushes(give: FloatArray, soft: FloatArray, room: FloatArray) -> FloatArray:
    return settled(0.5 * (give + give.T) + np.diag(soft), room)[0]


def _worst(places: FloatArray, share: FloatArray, count: int, spacing: float, tolerance: float) -> IntArray:
    """The places that are most wrong, none nearer than the spacing to a worse one of them."""
    taken: list[int] = []
    for index in np.argsort(-share, kind="stable"):
        if len(taken) >= count or share[index] <= 0.01 * tolerance:
            break
        if not taken or np.linalg.norm(places[taken] - places[index], axis=1).min() >= spacing:
            taken.append(int(index))
    return np.asarray(taken, dtype=np.int64)


def _against(structure: Structure, bed: Contacts, chosen: IntArray, soft: FloatArray,
             ready: tuple[FloatArray, FloatArray] | None) -> Structure:
    """The structure with the chosen contacts; their answers and what they give come along."""
    contacts = Contacts(bed.nodes[chosen], bed.normals[chosen], soft, bed.gap_mm[chosen])
    model = _with(structure.model, contacts)
    if ready is None:
        return replace(structure, model=model)
    answers, give = ready
    return replace(structure, model=model, compliance=Compliance(one_sided_rows(model), answers, 0.5 * (give + give.T),
                                                                 np.zeros(len(chosen))))
