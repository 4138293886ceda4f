"""Finite strips: how a thin-walled section buckles in one half wave of a given length, its ends held square.

Each flat piece of wall is cut into strips that run the whole half wave; along it everything follows a sine, so that a
whole member takes a few dozen unknowns. Source: Cheung, 'Finite strip method in structural analysis' (1976); for
cold-formed sections Hancock 1978, Schafer & Adany 2006 (recalled); derived anew below from strains.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import linalg

FloatArray = NDArray[np.float64]

GAUSS_AT, GAUSS_WEIGHT = np.polynomial.legendre.leggauss(4)


@dataclass(frozen=True, eq=False)
class ThinLine:
    """Middle line of a thin wall: points (n, 2) in mm one after the other, its thickness, stiffness."""

    points_mm: FloatArray
    thickness_mm: float
    modulus_mpa: float
    poisson: float = 0.3


def divided(corners_mm: FloatArray, pieces: tuple[int, ...]) -> FloatArray:
    """Points along straight walls between corners (k, 2), each wall in so many strips."""
    found = [np.asarray(corners_mm[:1], dtype=float)]
    for first, last, count in zip(corners_mm[:-1], corners_mm[1:], pieces, strict=True):
        share = np.arange(1, count + 1)[:, None] / count
        found.append(first + share * (np.asarray(last) - np.asarray(first)))
    return np.vstack(found)


def buckling_stress_mpa(line: ThinLine, half_wave_mm: float, stress: Callable[[FloatArray], FloatArray]) -> float:
    """Least stress at which it buckles in half waves of this length.

    stress: at points (n, 2), compression positive, as shares of the stress that is asked for (1 where it is largest);
    linear along each strip. inf where nothing is pressed.
    """
    size = 4 * len(line.points_mm)
    stiffness, grows = np.zeros((size, size)), np.zeros((size, size))
    shares = stress(line.points_mm)
    wave = np.pi / half_wave_mm
    for first, (here, there) in enumerate(zip(line.points_mm[:-1], line.points_mm[1:], strict=True)):
        width = float(np.linalg.norm(there - here))
        turn = _turned((there - here) / width)
        own, own_grows = _strip(line, width, wave, shares[first], shares[first + 1])
        rows = slice(4 * first, 4 * first + 8)
        stiffness[rows, rows] += turn.T @ own @ turn
        grows[rows, rows] += turn.T @ own_grows @ turn
    largest = float(linalg.eigh(grows, stiffness, eigvals_only=True, subset_by_index=(size - 1, size - 1))[0])
    return 1.0 / largest if largest > 0.0 else float("inf")


def _strip(line: ThinLine, width: float, wave: float, first: float, last: float) -> tuple[FloatArray, FloatArray]:
    """Stiffness and its loss per unit stress of one strip (8, 8), freedoms u, v, w, turn at each edge; per half wave over 2.

    u across in the strip, w out of it and the turn follow a sine along, v along a cosine.
    """
    t, e, nu = line.thickness_mm, line.modulus_mpa, line.poisson
    plane = e / (1.0 - nu**2) * np.array([[1.0, nu, 0.0], [nu, 1.0, 0.0], [0.0, 0.0, 0.5 * (1.0 - nu)]])
    stiffness, grows = np.zeros((8, 8)), np.zeros((8, 8))
    for at, weight in zip(0.5 * (GAUSS_AT + 1.0), 0.5 * width * GAUSS_WEIGHT, strict=True):
        n, slope = np.array([1.0 - at, at]), np.array([-1.0, 1.0]) / width
        h = np.array(
            [
                1 - 3 * at**2 + 2 * at**3,
                width * (at - 2 * at**2 + at**3),
                3 * at**2 - 2 * at**3,
                width * (at**3 - at**2),
            ]
        )
        h1 = (
            np.array(
                [
                    -6 * at + 6 * at**2,
                    width * (1 - 4 * at + 3 * at**2),
                    6 * at - 6 * at**2,
                    width * (3 * at**2 - 2 * at),
                ]
            )
            / width
        )
        h2 = np.array([-6 + 12 * at, width * (-4 + 6 * at), 6 - 12 * at, width * (6 * at - 2)]) / width**2
        strain, curve = np.zeros((3, 8)), np.zeros((3, 8))
        strain[0, [0, 4]] = slope
        strain[1, [1, 5]] = -wave * n
        strain[2, [0, 4]], strain[2, [1, 5]] = wave * n, slope
        bends = [2, 3, 6, 7]
        curve[0, bends], curve[1, bends], curve[2, bends] = -h2, wave**2 * h, -2.0 * wave * h1
        stiffness += weight * (t * strain.T @ plane @ strain + t**3 / 12.0 * curve.T @ plane @ curve)
        moved = np.zeros((3, 8))
        moved[0, [0, 4]], moved[1, [1, 5]], moved[2, bends] = n, n, h
        grows += weight * t * wave**2 * (first + (last - first) * at) * moved.T @ moved
    return stiffness, grows


def _turned(along: FloatArray) -> FloatArray:
    """From global y, x along the member, z and turn at both edges to the strip's own (8, 8)."""
    c, s = along
    one = np.array([[c, 0.0, s, 0.0], [0.0, 1.0, 0.0, 0.0], [-s, 0.0, c, 0.0], [0.0, 0.0, 0.0, 1.0]])
    both = np.zeros((8, 8))
    both[:4, :4] = both[4:, 4:] = one
    return both
