"""Plates, beams, springs and contact in one system of six freedoms a node. Knows no sheet metal.

Units: mm, N, MPa, rad, s, kg. A model is records; an answer is records; nothing is changed on the way::

    model = Model(nodes_mm, shells=Shells(triangles, 2.0, 210e3, 0.3, 7850.0), fixed=held(n, root_nodes))
    result = solve(model, [Loads(nodal=forces)])[0]
    result.displacement[:, 2].min()

Records in: Model, Shells, Beams, Springs, Spider (Spiders is a sequence of them), Contacts, Ties, Masses,
Loads; held() makes the mask of fixed freedoms; GROUND is the node number of the ground.
Records out: Result, Buckling, Modes, ShellForces, SectionForces. Errors: Mechanism (says what can still
move), Unbalanced.

Doing: factored(model) -> Structure (assembled and factored once; every function below takes a Structure or a
Model); solve(model, cases) -> list[Result].
"""

from .model import FREEDOMS, STANDARD_GRAVITY_MM_S2, Loads, Model, held
from .parts import (
    GROUND,
    Beams,
    Contacts,
    Masses,
    Shells,
    Spider,
    Spiders,
    Springs,
    Ties,
    tonnes,
)
from .results import Buckling, Mechanism, Modes, Result, SectionForces, ShellForces, Unbalanced
from .solve import Structure, factored, solve

__all__ = [
    "FREEDOMS",
    "GROUND",
    "STANDARD_GRAVITY_MM_S2",
    "Beams",
    "Buckling",
    "Contacts",
    "Loads",
    "Masses",
    "Mechanism",
    "Model",
    "Modes",
    "Result",
    "SectionForces",
    "ShellForces",
    "Shells",
    "Spider",
    "Spiders",
    "Springs",
    "Structure",
    "Ties",
    "Unbalanced",
    "factored",
    "held",
    "solve",
    "tonnes",
]
