"""Colours by computation: one sequential scale in even steps of perceived colour, and tones of one metal.

Colours are made in Oklab (B. Ottosson, 2020; coefficients from memory), where equal distances look about
equally far apart. The scale keeps one hue and only grows darker, so it reads the same to a colour-blind eye
and on a grey print.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

HUE_RAD = math.radians(50.0)
"""Hue of the scale: that of iron from glowing to dark, which drawn metal never has."""

PALEST, DARKEST = 0.945, 0.34
"""Lightness of the scale at 0 and at 1."""

MOST_CHROMA = 0.12

METAL_HUE_RAD, METAL_CHROMA = math.radians(245.0), 0.016

STEPS = 64
"""Shades of the scale from 0 to 1 in pictures that count their colours."""


def srgb(oklab: np.ndarray) -> np.ndarray:
    """Oklab colours (..., 3) as sRGB (..., 3) from 0 to 1; values outside are cut off."""
    linear = _linear(oklab)
    low = np.clip(linear, 0.0, 1.0)
    return np.where(low <= 0.0031308, 12.92 * low, 1.055 * np.power(low, 1 / 2.4) - 0.055)


def oklab(srgb_colours: np.ndarray) -> np.ndarray:
    """sRGB colours (..., 3) from 0 to 1 as Oklab."""
    c = np.asarray(srgb_colours, dtype=float)
    linear = np.where(c <= 0.04045, c / 12.92, np.power((c + 0.055) / 1.055, 2.4))
    return np.cbrt(linear @ np.linalg.inv(_CONES_TO_RGB).T) @ np.linalg.inv(_LAB_TO_CONES).T


_LAB_TO_CONES = np.array(
    [
        [1.0, 0.3963377774, 0.2158037573],
        [1.0, -0.1055613458, -0.0638541728],
        [1.0, -0.0894841775, -1.2914855480],
    ]
)

_CONES_TO_RGB = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)


def _linear(oklab_colours: np.ndarray) -> np.ndarray:
    return np.power(np.asarray(oklab_colours) @ _LAB_TO_CONES.T, 3) @ _CONES_TO_RGB.T


def scale_colours(shares: np.ndarray) -> np.ndarray:
    """sRGB colours (n, 3) from 0 to 1 of shares of a limit (n,); below 0 counts as 0, above 1 as 1."""
    ways, path = _path()
    shares = np.clip(np.asarray(shares, dtype=float), 0.0, 1.0)
    return srgb(np.column_stack([np.interp(shares, ways, path[:, i]) for i in range(3)]))


def scale_colour(share: float) -> str:
    """The colour of one share as `#rrggbb`."""
    return hexed(scale_colours(np.array([share]))[0])


def metal_colour(light: float) -> str:
    """A tone of the pale grey-blue of drawn metal: `light` 0 in shade to 1 in full light."""
    lightness = 0.775 + 0.19 * min(max(light, 0.0), 1.0)
    chroma = METAL_CHROMA * (1.3 - 0.6 * light)
    a, b = chroma * math.cos(METAL_HUE_RAD), chroma * math.sin(METAL_HUE_RAD)
    return hexed(srgb(np.array([lightness, a, b])))


def hexed(colour: np.ndarray) -> str:
    """A colour (3,) from 0 to 1 as `#rrggbb`."""
    return "#" + "".join(f"{round(255 * float(part)):02x}" for part in colour)


@cache
def _path() -> tuple[np.ndarray, np.ndarray]:
    """Shares in even steps of colour distance, and the Oklab colours there; chroma kept inside sRGB."""
    way = np.linspace(0.0, 1.0, 257)
    lightness = PALEST + (DARKEST - PALEST) * way
    chroma = np.minimum(MOST_CHROMA * np.sin(math.pi * (0.10 + 0.62 * way)), _most_chroma(lightness))
    path = np.column_stack([lightness, chroma * math.cos(HUE_RAD), chroma * math.sin(HUE_RAD)])
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    ways = np.concatenate([[0.0], np.cumsum(steps)])
    return ways / ways[-1], path


def _most_chroma(lightness: np.ndarray) -> np.ndarray:
    """The greatest chroma of the scale's hue that sRGB can show at each lightness."""
    chroma = np.linspace(0.0, 0.3, 301)
    grid = np.stack(
        np.broadcast_arrays(lightness[:, None], chroma * math.cos(HUE_RAD), chroma * math.sin(HUE_RAD)),
        axis=-1,
    )
    linear = _linear(grid)
    shown = ((linear > -1e-4) & (linear < 1 + 1e-4)).all(axis=-1)
    return chroma[np.argmin(shown, axis=1) - 1]
