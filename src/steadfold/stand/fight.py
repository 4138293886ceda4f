"""Rods turned while the braces are still tight: how hard they pull against each other, and how little it lifts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from steadfold.mechanics import Ties, factored, solve
from steadfold.stand.footing import FloatArray
from steadfold.stand.joining import rod_limit_n
from steadfold.stand.statics import Case, member_forces
from steadfold.stand.structure import Built


@dataclass(frozen=True)
class Fight:
    """The same turns with the braces left tight: pull of the hardest rod, force of its brace, and the rise that is
    left.
    """

    rod: str
    rod_n: float
    brace: str
    brace_n: float
    rise_mm: float
    share: float


def fight(ready: Built, case: Case, shortened_mm: FloatArray, places: Sequence[str]) -> Fight:
    """What happens where rods that are just taut are shortened by so much (mm, one for each) while the braces stay
    tight.

    `rise_mm` is how much the best place rises, against the stand with its rods just taut and carrying nothing.
    """
    stand, model = ready.stand, ready.model
    stiffness = np.asarray(model.ties.stiffness_n_per_mm)
    shortened = np.asarray(shortened_mm, dtype=float)
    slack = Ties(model.ties.ends, stiffness, -1e6 * stiffness)
    before = solve(factored(replace(model, ties=slack)), [case.loads])[0]
    # the rods are put in finger tight on the loaded frame: only then do they begin to pull
    start = _opening(ready, before.displacement)
    pretension = stiffness * (shortened - start)
    after = solve(factored(replace(model, ties=Ties(model.ties.ends, stiffness, pretension))), [case.loads])[0]
    rise = max(
        float(after.displacement[ready.node_of[p], 2] - before.displacement[ready.node_of[p], 2]) for p in places
    )
    rod = int(np.argmax(after.tie_n))
    forces = member_forces(ready, after)
    braces = [
        (each.axial_n, member.name)
        for member, each in zip(stand.members, forces, strict=True)
        if member.role == "brace"
    ]
    brace_n, brace = max(braces, default=(0.0, ""))
    limit = rod_limit_n(stand.tie_rods[rod])[0]
    return Fight(
        stand.tie_rods[rod].name, float(after.tie_n[rod]), brace, brace_n, rise, float(after.tie_n[rod]) / limit
    )


def _opening(ready: Built, displacement: FloatArray) -> FloatArray:
    """How much farther apart the ends of each rod are (mm) than drawn."""
    ends = np.asarray(ready.model.ties.ends)
    along = ready.places[ends[:, 1]] - ready.places[ends[:, 0]]
    along = along / np.linalg.norm(along, axis=1)[:, None]
    moved = displacement[ends[:, 1], :3] - displacement[ends[:, 0], :3]
    return np.asarray(np.einsum("ki,ki->k", along, moved))
