"""From where a part is looked at: isometric, and the six views of ISO 128 (parallel projection)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from steadfold.sheet.part import Part

Up = Literal["x", "y", "z", "-x", "-y", "-z"]
"""Which axis of the root panel's frame points up: y for a root panel that stands, z for one that lies."""

Side = Literal["front", "top", "left", "right", "bottom", "rear"]

LYING = frozenset({"floor", "web", "top", "shelf", "seat", "base", "bottom", "deck", "tread"})
"""Names of root panels that lie rather than stand."""


@dataclass(frozen=True)
class View:
    """A direction of looking: unit vectors (3,) that point right and up in the picture and toward the viewer."""

    name: str
    right: np.ndarray
    up: np.ndarray
    toward: np.ndarray

    def seen(self, points: np.ndarray) -> np.ndarray:
        """Points (..., 3) of space in the view: x right, y up, z toward the viewer; lengths in mm as projected."""
        return points @ np.column_stack([self.right, self.up, self.toward])


def usual_up(part: Part) -> Up:
    """Which way up a part is drawn where nobody says: lying if the root panel's name says that it lies."""
    return "z" if part.panels[0].name.lower() in LYING else "y"


def isometric(up: Up = "y", from_side: Literal["right", "left"] = "right") -> View:
    """The isometric view from above and in front, from the right or the left.

    Lengths along the three axes appear at 0.816 of their size (ISO 5456-3 draws them at 1).
    """
    right, above, front = axes(up)
    toward = above + front + (right if from_side == "right" else -right)
    return _looking(f"isometric from the {from_side}", toward / np.sqrt(3.0), above)


def orthographic(side: Side, up: Up = "y") -> View:
    """One of the six views of ISO 5456-2; the front view looks at the face of a standing root panel."""
    right, above, front = axes(up)
    toward = {"front": front, "rear": -front, "top": above, "bottom": -above, "left": -right, "right": right}[side]
    upward = {"top": -front, "bottom": front}.get(side, above)
    return _looking(side, toward, upward)


def up_against(down: np.ndarray) -> Up:
    """The axis that points up where `down` (3,), in the root panel's frame, points at the floor."""
    axis = int(np.argmax(np.abs(down)))
    name: Up = ("x", "y", "z")[axis] if down[axis] < 0 else ("-x", "-y", "-z")[axis]
    return name


def axes(up: Up) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Unit vectors (3,) to the right, up and to the front of a part, in its root panel's frame.

    The front is the side of the root panel's face, or of its bottom edge where it lies.
    """
    axis = "xyz".index(up[-1])
    above = (-1.0 if up.startswith("-") else 1.0) * np.eye(3)[axis]
    front = -np.eye(3)[1] if axis == 2 else np.eye(3)[2]
    return np.cross(above, front), above, front


def _looking(name: str, toward: np.ndarray, above: np.ndarray) -> View:
    right = np.cross(above, toward)
    right = right / np.linalg.norm(right)
    return View(name, right, np.cross(toward, right), toward)
