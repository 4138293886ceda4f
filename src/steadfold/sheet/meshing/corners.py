"""How sharp triangles are."""

from __future__ import annotations

import numpy as np


def corner_cosines(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Cosine of the sharpest corner of every triangle."""
    corners = points[triangles]
    greatest = np.full(len(triangles), -1.0)
    for i in range(3):
        u, v = corners[:, (i + 1) % 3] - corners[:, i], corners[:, (i + 2) % 3] - corners[:, i]
        scale = np.sqrt(np.sum(u * u, axis=1) * np.sum(v * v, axis=1))
        greatest = np.maximum(greatest, np.sum(u * v, axis=1) / np.maximum(scale, 1e-300))
    return greatest
