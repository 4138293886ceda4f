"""Where on a sheet of pixels a view lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfold.deliver.view import View


@dataclass(frozen=True)
class Box:
    """A rectangle of a picture, in pixels, y down."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True)
class Placement:
    """A view on a picture: `scale` pixels a mm, and the pixel where the view's origin lies."""

    view: View
    scale: float
    x: float
    y: float

    def flat(self, points: np.ndarray) -> np.ndarray:
        """Pixels (..., 2) of points in the view (..., 2), y up."""
        return np.stack([self.x + self.scale * points[..., 0], self.y - self.scale * points[..., 1]], axis=-1)

    def __call__(self, points: np.ndarray) -> np.ndarray:
        """Pixels (..., 2) of points in space (..., 3)."""
        return self.flat(self.view.seen(np.asarray(points, dtype=float))[..., :2])


def fitted(view: View, points: np.ndarray, box: Box, most_scale: float = 50.0) -> Placement:
    """The view so placed that points in space (n, 3) just fit a box, in its middle."""
    seen = view.seen(points)[:, :2]
    return fitted_flat(view, seen.min(axis=0), seen.max(axis=0), box, most_scale)


def fitted_flat(view: View, low: np.ndarray, high: np.ndarray, box: Box, most_scale: float = 50.0) -> Placement:
    """The view so placed that a rectangle of it, from low to high in mm (2,), just fits a box, in its middle."""
    width, height = np.maximum(high - low, 1e-6)
    scale = min(box.width / width, box.height / height, most_scale)
    middle = 0.5 * (low + high)
    return Placement(
        view,
        scale,
        box.left + 0.5 * box.width - scale * float(middle[0]),
        box.top + 0.5 * box.height + scale * float(middle[1]),
    )


def height_for(view: View, points: np.ndarray, width: float, least: float, most: float) -> float:
    """How high a box of this width must be for the points to fill it, within limits."""
    seen = view.seen(points)[:, :2]
    across, up = np.maximum(np.ptp(seen, axis=0), 1e-6)
    return float(min(max(width * up / across, least), most))
