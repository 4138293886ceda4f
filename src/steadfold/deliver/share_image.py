"""The visible faces of a surface coloured by share of the limit, as a small PNG."""

from __future__ import annotations

import math

import numpy as np

from steadfold.deliver.colour_scale import STEPS, scale_colours
from steadfold.deliver.legend import STRIPE
from steadfold.deliver.placement import Box, Placement
from steadfold.deliver.raster import indexed_png, rastered
from steadfold.deliver.surface import Surface

FINENESS = 2.0
"""Pixels of the image a pixel of the picture, so that it stays sharp on a fine screen."""

STRIPE_PX, STRIPES_EVERY_PX = 5, 15

CLEAR, BEYOND, STRIPED = 0, STEPS + 1, STEPS + 2


def share_image(surface: Surface, values: np.ndarray, place: Placement) -> tuple[bytes, Box]:
    """A PNG of the faces that look toward the viewer, and where in the picture it lies.

    `values` (triangles, 3) are shares at the corners of the surface's triangles. A pixel has exactly the colour of its
    share, to 1/64; beyond 1 the darkest colour is striped.
    """
    seen = place.view.seen(surface.corners)
    flat = place.flat(seen[:, :2])
    low, high = np.floor(flat.min(axis=0)) - 1, np.ceil(flat.max(axis=0)) + 1
    box = Box(float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))
    pixels = np.column_stack([FINENESS * (flat - low), FINENESS * place.scale * seen[:, 2]])[surface.triangles]
    one, other = pixels[:, 1] - pixels[:, 0], pixels[:, 2] - pixels[:, 0]
    front = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0] < 0
    width, height = math.ceil(FINENESS * box.width), math.ceil(FINENESS * box.height)
    shares = rastered(pixels[front], values[front], width, height)
    return _png(shares), box


def _png(shares: np.ndarray) -> bytes:
    metal = np.isfinite(shares)
    shares = np.where(metal, shares, 0.0)
    indices = 1 + np.clip(np.floor(shares * STEPS), 0, STEPS - 1).astype(np.uint8)
    rows, columns = np.arange(shares.shape[0])[:, None], np.arange(shares.shape[1])
    striped = (rows + columns) % STRIPES_EVERY_PX < STRIPE_PX
    over = shares > 1.0
    indices[over] = BEYOND
    indices[over & striped] = STRIPED
    indices[~metal] = CLEAR
    scale = np.round(255 * scale_colours((np.arange(STEPS) + 0.5) / STEPS)).astype(np.uint8)
    pale = np.array([[int(STRIPE[i : i + 2], 16) for i in (1, 3, 5)]], dtype=np.uint8)
    palette = np.concatenate([scale[:1], scale, scale[-1:], pale])
    alpha = np.full(len(palette), 255, dtype=np.uint8)
    alpha[CLEAR] = 0
    return indexed_png(indices, palette, alpha)
