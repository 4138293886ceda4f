"""Distortional buckling of a lipped channel: a flange and its lip swing about the corner at the web.

Between local buckling, where walls ripple and corners stay, and buckling of the whole member. The stress comes from
finite strips; the half wave to look near, and a second opinion, from the closed form of AISI S100-16, Appendix 2, 2.3.1.3
and 2.3.3.3, which takes the flange as rigid and so lies up to a fifth higher where flange and web are alike. Strengths:
AISI S100-16, E4 and F4. All recalled. Lengths mm, stresses MPa.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from steadfold.catalogue.profiles import StrutChannel
from steadfold.stand.strips import ThinLine, buckling_stress_mpa, divided


@dataclass(frozen=True)
class LippedChannel:
    """Web out to out; flange and lip along their middle lines, square to each other."""

    web_mm: float
    flange_mm: float
    lip_mm: float
    thickness_mm: float
    modulus_mpa: float = 203_000.0
    poisson: float = 0.3


@dataclass(frozen=True)
class Swing:
    """The half wave in which a flange swings most easily, and the stress at its edge at which it does."""

    half_wave_mm: float
    stress_mpa: float


@dataclass(frozen=True)
class Flange:
    """Flange and lip as a small column of its own: area, second moments, torsion constant; shear centre and place of the
    web's corner from the centroid (mm).
    """

    area_mm2: float
    across_mm4: float
    along_mm4: float
    product_mm4: float
    torsion_mm4: float
    shear_centre_mm: float
    corner_mm: float
    depth_mm: float

    @classmethod
    def of(cls, channel: LippedChannel) -> Flange:
        """By AISI S100, Table 2.3.3-1, lips square to their flanges."""
        b, d, t = channel.flange_mm, channel.lip_mm, channel.thickness_mm
        both = b + d
        return cls(
            both * t,
            t * (t**2 * b**2 + 4.0 * b * d**3 + t**2 * b * d + d**4) / (12.0 * both),
            t * (b**4 + 4.0 * d * b**3) / (12.0 * both),
            t * b**2 * d**2 / (4.0 * both),
            both * t**3 / 3.0,
            b**2 / (2.0 * both),
            -(b**2 + 2.0 * d * b) / (2.0 * both),
            -(d**2) / (2.0 * both),
        )

    @property
    def arm_mm(self) -> float:
        """From the shear centre to the corner, across: x_o - h_x."""
        return self.shear_centre_mm - self.corner_mm

    @property
    def resists_mm6(self) -> float:
        """What resists that arm's swing by bending: (x_o - h_x)^2 (I_x - I_xy^2 / I_y)."""
        return self.arm_mm**2 * (self.across_mm4 - self.product_mm4**2 / self.along_mm4)


def of_strut(profile: StrutChannel, modulus_mpa: float) -> LippedChannel:
    """The channel of one piece of strut: its back is the web, its sides the flanges, its returns the lips."""
    t = profile.thickness_mm
    return LippedChannel(profile.width_mm, profile.height_mm - t, profile.lip_mm - 0.5 * t, t, modulus_mpa)


@dataclass(frozen=True)
class Swings:
    """Elastic stresses (MPa) at which the flanges swing: evenly pressed; bent in the plane of the web, one flange pressed;
    bent square to it, the lips pressed.
    """

    pressed: Swing
    bent: Swing
    lips_pressed: Swing


STRIPS = (2, 4, 4, 4, 2)
"""Strips to a lip, flange, web, flange and lip: within 1 % of twice as many."""

AROUND = (0.7, 0.85, 1.0, 1.2, 1.45, 1.75)
"""Half waves that are tried, as shares of the closed form's."""


@lru_cache(maxsize=64)
def swings(channel: LippedChannel) -> Swings:
    """The least stress over half waves near the closed form's, for each way of loading."""
    line = middle_line(channel)
    high = channel.flange_mm
    lengths = np.linalg.norm(np.diff(line.points_mm, axis=0), axis=1)
    middle = float((0.5 * (line.points_mm[1:, 1] + line.points_mm[:-1, 1])) @ lengths / lengths.sum())
    half = float(line.points_mm[:, 0].max())
    first, second = pressed(channel), bent(channel)
    return Swings(
        _least(line, first.half_wave_mm, lambda at: np.ones(len(at))),
        _least(line, second.half_wave_mm, lambda at: at[:, 0] / half),
        _least(line, first.half_wave_mm, lambda at: (at[:, 1] - middle) / (high - middle)),
    )


def middle_line(channel: LippedChannel, strips: tuple[int, ...] = STRIPS) -> ThinLine:
    """The channel's middle line, web at z = 0, symmetric about y = 0, sharp at its corners."""
    half = 0.5 * (channel.web_mm - channel.thickness_mm)
    inner, top = half - channel.lip_mm, channel.flange_mm
    corners = np.array([(-inner, top), (-half, top), (-half, 0.0), (half, 0.0), (half, top), (inner, top)])
    return ThinLine(divided(corners, strips), channel.thickness_mm, channel.modulus_mpa, channel.poisson)


def _least(line: ThinLine, half_wave_mm: float, stress: Callable[[np.ndarray], np.ndarray]) -> Swing:
    """The lowest of the half waves tried, made finer by a parabola through its neighbours; the closed form's own where the
    stress only falls towards long ones, for there the whole member is what buckles.
    """
    waves = half_wave_mm * np.array(AROUND)
    found = np.array([buckling_stress_mpa(line, float(wave), stress) for wave in waves])
    k = int(np.argmin(found))
    if k in (0, len(waves) - 1):
        k = AROUND.index(1.0)
        return Swing(half_wave_mm, float(found[k]))
    curve = np.polyfit(np.log(waves[k - 1 : k + 2]), found[k - 1 : k + 2], 2)
    at = -0.5 * curve[1] / curve[0]
    return Swing(float(np.exp(at)), float(np.polyval(curve, at)))


def pressed(channel: LippedChannel) -> Swing:
    """Even compression. F_crd = (k_fe + k_we) / (k_fg + k_wg), at the half wave at which it is least; both flanges swing.

    Source: AISI S100-16, Appendix 2, 2.3.1.3 (recalled).
    """
    flange, h, t = Flange.of(channel), channel.web_mm, channel.thickness_mm
    plate = 1.0 - channel.poisson**2
    length = (6.0 * math.pi**4 * h * plate / t**3 * flange.resists_mm6) ** 0.25
    web = channel.modulus_mpa * t**3 / (6.0 * h * plate)
    web_gives = (math.pi / length) ** 2 * t * h**3 / 60.0
    return Swing(length, (_stiffness(channel, flange, length) + web) / (_gives(flange, length) + web_gives))


def bent(channel: LippedChannel) -> Swing:
    """Bending in the plane of the web, one flange pressed and the other pulled alike; the stress is the pressed flange's.

    Source: AISI S100-16, Appendix 2, 2.3.3.3 (recalled).
    """
    flange, h, t = Flange.of(channel), channel.web_mm, channel.thickness_mm
    plate = 1.0 - channel.poisson**2
    length = (4.0 * math.pi**4 * h * plate / t**3 * flange.resists_mm6 + math.pi**4 * h**4 / 720.0) ** 0.25
    wave = math.pi / length
    web = channel.modulus_mpa * t**3 / (12.0 * plate) * (3.0 / h + wave**2 * 19.0 * h / 60.0 + wave**4 * h**3 / 240.0)
    gradient = 2.0  # (f1 - f2) / f1 of a web bent alike both ways
    over = (length / h) ** 2
    upper = (45360.0 * (1.0 - gradient) + 62160.0) * over + 448.0 * math.pi**2
    upper += (53.0 + 3.0 * (1.0 - gradient)) * math.pi**4 / over
    lower = math.pi**4 + 28.0 * math.pi**2 * over + 420.0 * over**2
    web_gives = h * t * math.pi**2 / 13440.0 * upper / lower
    return Swing(length, (_stiffness(channel, flange, length) + web) / (_gives(flange, length) + web_gives))


def _stiffness(channel: LippedChannel, flange: Flange, length_mm: float) -> float:
    wave = math.pi / length_mm
    shear = channel.modulus_mpa / (2.0 * (1.0 + channel.poisson))
    return wave**4 * channel.modulus_mpa * flange.resists_mm6 + wave**2 * shear * flange.torsion_mm4


def _gives(flange: Flange, length_mm: float) -> float:
    slope = flange.product_mm4 / flange.along_mm4
    arm, corner, depth = flange.arm_mm, flange.corner_mm, flange.depth_mm
    moved = arm**2 * slope**2 - 2.0 * depth * arm * slope + corner**2 + depth**2
    return (math.pi / length_mm) ** 2 * (flange.area_mm2 * moved + flange.across_mm4 + flange.along_mm4)


def pressed_strength_mpa(yield_mpa: float, elastic_mpa: float) -> float:
    """Nominal compressive stress: F_y up to a slenderness of 0.561, then (1 - 0.25 r^0.6) r^0.6 F_y, r = F_crd / F_y.

    Source: AISI S100-16, E4.2 (recalled).
    """
    ratio = elastic_mpa / yield_mpa
    if 1.0 / math.sqrt(ratio) <= 0.561:
        return yield_mpa
    return (1.0 - 0.25 * ratio**0.6) * ratio**0.6 * yield_mpa


def bent_strength_mpa(yield_mpa: float, elastic_mpa: float) -> float:
    """Nominal bending stress: F_y up to a slenderness of 0.673, then (1 - 0.22 r^0.5) r^0.5 F_y, r = F_crd / F_y.

    Source: AISI S100-16, F4.1 (recalled).
    """
    ratio = elastic_mpa / yield_mpa
    if 1.0 / math.sqrt(ratio) <= 0.673:
        return yield_mpa
    return (1.0 - 0.22 * ratio**0.5) * ratio**0.5 * yield_mpa
