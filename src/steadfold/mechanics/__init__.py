"""Plates, beams, springs and contact in one system of six freedoms a node. Knows no sheet metal.

Units: mm, N, MPa, rad, s, kg. A model is records; an answer is records; nothing is changed on the way::

    model = Model(nodes_mm, shells=Shells(triangles, 2.0, 210e3, 0.3, 7850.0), fixed=held(n, root_nodes))
    result = solve(model, [Loads(nodal=forces)])[0]
    result.displacement[:, 2].min()

Records in: Model, Shells, Beams, Springs, Spider (Spiders is a sequence of them), Contacts, Ties, Masses,
Loads; held() makes the mask of fixed freedoms; GROUND is the node number of the ground.
Records out: Result, Buckling, Modes, Collapse, ShellForces, SectionForces. Errors: Mechanism (says what can still
move), Unbalanced.

Doing: factored(model) -> Structure, assembled and factored once; solve, buckling and natural_modes take a
Structure or a Model.
  joined(nodes_mm, models) -> Model, several models as one system; turned(model, turn, shift_mm): the same elsewhere
  solve(model, cases) -> list[Result]
  bedded(structure, bed, cases) -> Structure, against those of many contacts that matter in these cases
  buckling(model, result, count) -> Buckling; natural_modes(model, count, state, mass) -> Modes
  collapse(model, case, yield_mpa) -> Collapse, all loads growing together, on demand; yielded(structure, case,
    yield_mpa, enough=) -> Yielded, the same without a second factorisation, with what stays after unloading
  shell_forces(result, reference) -> ShellForces (ShellReader for many cases); then von_mises, fibre_stress, ilyushin, averaged, fitted_at
  section_forces(result, elements, line_nodes, about_mm) -> SectionForces; line_forces: the same by nodes
  spring_forces(result), link_forces(result), beam_forces(result); mass_kg(model)
  grid(columns, rows, place), merged, nodes_at, shares_along: regular meshes; spaced: thin out wall candidates
"""

from .bed import bedded
from .buckling import buckling
from .collapse import collapse
from .grid import grid, merged, nodes_at, shares_along, spaced
from .joined import joined, turned
from .loads import mass_kg
from .model import FREEDOMS, STANDARD_GRAVITY_MM_S2, Loads, Model, held
from .modes import natural_modes
from .parts import GROUND, Beams, Contacts, Masses, Shells, Spider, Spiders, Springs, Ties, tonnes
from .recover import (
    LineReader,
    ShellReader,
    averaged,
    beam_forces,
    fibre_stress,
    fitted_at,
    ilyushin,
    line_forces,
    link_forces,
    section_forces,
    shell_forces,
    spring_forces,
    von_mises,
)
from .results import Buckling, Collapse, Mechanism, Modes, Result, SectionForces, ShellForces, Unbalanced
from .solve import Structure, factored, solve
from .yielding import Yielded, yielded

__all__ = [
    "FREEDOMS",
    "GROUND",
    "STANDARD_GRAVITY_MM_S2",
    "Beams",
    "Buckling",
    "Collapse",
    "Contacts",
    "LineReader",
    "Loads",
    "Masses",
    "Mechanism",
    "Model",
    "Modes",
    "Result",
    "SectionForces",
    "ShellForces",
    "ShellReader",
    "Shells",
    "Spider",
    "Spiders",
    "Springs",
    "Structure",
    "Ties",
    "Unbalanced",
    "Yielded",
    "averaged",
    "beam_forces",
    "bedded",
    "buckling",
    "collapse",
    "factored",
    "fibre_stress",
    "fitted_at",
    "grid",
    "held",
    "ilyushin",
    "joined",
    "line_forces",
    "link_forces",
    "mass_kg",
    "merged",
    "natural_modes",
    "nodes_at",
    "section_forces",
    "shares_along",
    "shell_forces",
    "solve",
    "spaced",
    "spring_forces",
    "tonnes",
    "turned",
    "von_mises",
    "yielded",
]
