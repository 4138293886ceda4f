"""Several models as one system: plates of one, beams of another, sharing the nodes where they meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .model import Model
from .parts import GROUND, Beams, Contacts, FloatArray, IntArray, Masses, Shells, Springs, Ties

NUMBERED = ("triangles", "ends", "nodes", "against")
"""Fields of the parts of a model that hold node numbers."""


def joined(nodes_mm: ArrayLike, models: Sequence[tuple[Model, IntArray]]) -> Model:
    """One model of the parts of several.

    nodes_mm (n, 3): the nodes of the whole. models: each with the number that every node of it has in the whole; two
    nodes with one number are one. Parts keep their order, model by model. Raises ValueError where a number is not
    one of the whole's, or a node would be carried to another place than it has.
    """
    places = np.asarray(nodes_mm, dtype=float)
    fixed = np.zeros((len(places), 6), dtype=bool)
    for model, numbers in models:
        if len(numbers) != model.node_count or (numbers < 0).any() or (numbers >= len(places)).any():
            raise ValueError("every node of a model needs its number in the whole")
        if np.abs(places[numbers] - model.nodes_mm).max(initial=0.0) > 1e-6 * max(1.0, float(np.abs(places).max())):
            raise ValueError("a node lies elsewhere in the whole than in its model")
        np.logical_or.at(fixed, numbers, np.asarray(model.fixed))
    spiders = [
        replace(spider, centre=int(numbers[spider.centre]), ring=numbers[spider.ring])
        for model, numbers in models
        for spider in model.spiders
    ]
    return Model(
        places,
        shells=_together(Shells, [(model.shells, numbers) for model, numbers in models]),
        beams=_together(Beams, [(model.beams, numbers) for model, numbers in models]),
        springs=_together(Springs, [(model.springs, numbers) for model, numbers in models]),
        links=_together(Springs, [(model.links, numbers) for model, numbers in models]),
        spiders=spiders,
        fixed=fixed,
        contacts=_together(Contacts, [(model.contacts, numbers) for model, numbers in models]),
        ties=_together(Ties, [(model.ties, numbers) for model, numbers in models]),
        masses=_together(Masses, [(model.masses, numbers) for model, numbers in models]),
    )


def turned(model: Model, turn: FloatArray, shift_mm: FloatArray) -> Model:
    """The same model elsewhere: each place p at turn (3, 3) times p, plus the shift (3,).

    Held freedoms are global ones, so a model with some of a node's held, but not all of its shifts or of its turns, is
    refused: ValueError.
    """
    fixed = np.asarray(model.fixed)
    for half in (fixed[:, :3], fixed[:, 3:]):
        if (half.any(axis=1) != half.all(axis=1)).any():
            raise ValueError("a node held along some axes only cannot be turned")

    def around(vectors: Any) -> Any:
        return None if vectors is None else np.asarray(vectors) @ turn.T

    beams, contacts, ties, masses = model.beams, model.contacts, model.ties, model.masses
    return replace(
        model,
        nodes_mm=model.nodes_mm @ turn.T + shift_mm,
        springs=_turned_springs(model.springs, turn),
        links=_turned_springs(model.links, turn),
        beams=_changed(beams, up=around(beams.up)),
        contacts=_changed(contacts, normals=around(contacts.normals)),
        ties=_changed(ties, directions=around(ties.directions)),
        masses=_changed(masses, offsets_mm=around(masses.offsets_mm)),
    )


def _turned_springs(springs: Springs, turn: FloatArray) -> Springs:
    return Springs(springs.ends, springs.stiffness, springs.axes @ turn.T) if springs.count else springs


def _together(kind: type, parts: Sequence[tuple[Any, IntArray]]) -> Any:
    """Records of one kind, one after the other, their node numbers those of the whole."""
    some = [(part, numbers) for part, numbers in parts if part.count]
    if not some:
        return parts[0][0]
    values: dict[str, Any] = {}
    for name in (each.name for each in fields(kind)):
        columns = [getattr(part, name) for part, _ in some]
        if name in NUMBERED:
            columns = [_renumbered(column, numbers) for column, (_, numbers) in zip(columns, some, strict=True)]
        if any(column is None for column in columns):
            if not all(column is None for column in columns):
                raise ValueError(f"{name} is given in some models only")
            values[name] = None
            continue
        values[name] = np.concatenate(columns)
    return kind(**values)


def _renumbered(column: IntArray, numbers: IntArray) -> IntArray:
    return np.where(column == GROUND, GROUND, numbers[np.maximum(column, 0)])


def _changed(record: Any, **values: Any) -> Any:
    """A record with other arrays, made anew by its own rules."""
    if not record.count:
        return record
    return type(record)(**{each.name: getattr(record, each.name) for each in fields(record)} | values)
