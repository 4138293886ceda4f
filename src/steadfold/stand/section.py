"""What a section is worth: area, second moments, moduli, torsion, shear centre and warping.

Solid properties by Green's theorem on the outline; torsion and warping of thin metal from the middle lines of its
walls. Local axes of a member: y across, z along the height (the member's `up`); I_y bends the member in its x-z plane.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from steadfold.catalogue import material
from steadfold.catalogue.profiles import FlatBar, Profile, RoundBar, SquareTube, StrutChannel, Timber, TSlot, profile
from steadfold.catalogue.wood import kmod, partial_factor, species
from steadfold.stand.distortional import LippedChannel, of_strut
from steadfold.stand.outline import Ring, Wall, drilled_round, outline_of

T_SLOT_TORSION_SHARE = 0.1
"""Torsion constant of a T-slot profile over the sum of its second moments; judgement, for stiffness only."""


@dataclass(frozen=True)
class Plane:
    """Area and moments of an outline about its own centroid: mm2, mm4, mm3; distances to the outermost fibres."""

    area_mm2: float
    centre_mm: tuple[float, float]
    second_moment_y_mm4: float
    second_moment_z_mm4: float
    product_mm4: float
    up_mm: float
    down_mm: float
    left_mm: float
    right_mm: float

    @property
    def modulus_y_mm3(self) -> float:
        """The lesser elastic modulus for bending about y."""
        return self.second_moment_y_mm4 / max(self.up_mm, self.down_mm)

    @property
    def modulus_z_mm3(self) -> float:
        """The lesser elastic modulus for bending about z."""
        return self.second_moment_z_mm4 / max(self.left_mm, self.right_mm)


@dataclass(frozen=True)
class Thin:
    """What only thin walls have: torsion constant (mm4), warping constant (mm6), shear centre from the centroid."""

    torsion_mm4: float
    warping_mm6: float
    shear_centre_mm: tuple[float, float]


@dataclass(frozen=True)
class Section:
    """A profile made ready for a frame.

    `strength_mpa` is the stress that limits are set by (yield of metals, the bending strength of timber with its
    factors taken off), None where nobody promises one. `promised` says whether a standard does. `share` of the area
    and moments that holes in the back leave is inside already. `outside_mm` is width and height over all. `lipped` is
    the lipped channel whose flanges may swing (one of two where `double`), None for other sections.
    """

    name: str
    kind: str
    area_mm2: float
    second_moment_y_mm4: float
    second_moment_z_mm4: float
    torsion_mm4: float
    warping_mm6: float
    modulus_y_mm3: float
    modulus_z_mm3: float
    shear_centre_mm: tuple[float, float]
    centre_up_mm: float
    outside_mm: tuple[float, float]
    walls: tuple[Wall, ...]
    cold_formed: bool
    modulus_mpa: float
    shear_modulus_mpa: float
    density_kg_m3: float
    strength_mpa: float | None
    promised: bool
    strength_source: str
    source: str
    share: float = 1.0
    lipped: LippedChannel | None = None
    double: bool = False

    @property
    def radius_y_mm(self) -> float:
        """Radius of gyration for buckling in the x-z plane."""
        return math.sqrt(self.second_moment_y_mm4 / self.area_mm2)

    @property
    def radius_z_mm(self) -> float:
        """Radius of gyration for buckling in the x-y plane."""
        return math.sqrt(self.second_moment_z_mm4 / self.area_mm2)

    @property
    def mass_kg_per_m(self) -> float:
        """Mass of a metre."""
        return self.area_mm2 * self.density_kg_m3 * 1e-6


def plane_properties(rings: Sequence[Ring]) -> Plane:
    """Area, centroid and second moments of a section given by rings (n, 2), by Green's theorem.

    Rings run anticlockwise round metal and clockwise round holes. Source: Green's theorem; exact for straight edges.
    Raises ValueError where no area is left.

    >>> import numpy as np
    >>> plane_properties([np.array([[0, 0], [20, 0], [20, 30], [0, 30]])]).second_moment_y_mm4
    45000.0
    """
    area = first_y = first_z = about_y = about_z = product = 0.0
    for ring in rings:
        y, z = np.asarray(ring, dtype=float).T
        yn, zn = np.roll(y, -1), np.roll(z, -1)
        cross = y * zn - yn * z
        area += 0.5 * float(cross.sum())
        first_z += float(((y + yn) * cross).sum()) / 6.0
        first_y += float(((z + zn) * cross).sum()) / 6.0
        about_y += float(((z * z + z * zn + zn * zn) * cross).sum()) / 12.0
        about_z += float(((y * y + y * yn + yn * yn) * cross).sum()) / 12.0
        product += float(((y * zn + 2.0 * y * z + 2.0 * yn * zn + yn * z) * cross).sum()) / 24.0
    if not area > 0.0:
        raise ValueError("the outline encloses no metal")
    cy, cz = first_z / area, first_y / area
    points = np.concatenate([np.asarray(ring, dtype=float) for ring in rings])
    return Plane(
        area, (cy, cz), about_y - area * cz * cz, about_z - area * cy * cy, product - area * cy * cz,
        float(points[:, 1].max() - cz), float(cz - points[:, 1].min()),
        float(cy - points[:, 0].min()), float(points[:, 0].max() - cy),
    )  # fmt: skip


def thin_properties(walls: Sequence[Wall]) -> Thin:
    """Torsion, warping and shear centre of an open section from its walls, which must hang together as a tree.

    J = sum b t^3 / 3; shear centre and warping constant from the sectorial coordinate, sharp corners on the middle
    lines. Source: Vlasov's theory as in Timoshenko & Gere, 'Theory of elastic stability', ch. 5 (recalled).
    The shear centre is given from the centroid of the middle lines. Raises ValueError for walls in a ring or apart.
    """
    index: dict[tuple[float, float], int] = {}
    ends = []
    for wall in walls:
        pair = [index.setdefault((round(y, 6), round(z, 6)), len(index)) for y, z in (wall.start, wall.end)]
        ends.append((pair[0], pair[1]))
    if len(index) != len(walls) + 1:
        raise ValueError("these walls do not make one open section")
    points = np.array(list(index))
    thickness = np.array([wall.thickness_mm for wall in walls])
    pairs = np.array(ends)
    length = np.linalg.norm(points[pairs[:, 1]] - points[pairs[:, 0]], axis=1)
    weight = length * thickness
    middle = points[pairs].mean(axis=1)
    centre = weight @ middle / weight.sum()
    place = points - centre

    def integral(f: np.ndarray, g: np.ndarray) -> float:
        a, b, c, d = f[pairs[:, 0]], f[pairs[:, 1]], g[pairs[:, 0]], g[pairs[:, 1]]
        return float((weight * (2.0 * (a * c + b * d) + a * d + b * c)).sum()) / 6.0

    def sectorial(pole: np.ndarray) -> np.ndarray:
        omega = np.full(len(place), np.nan)
        omega[pairs[0, 0]] = 0.0
        for _ in range(len(walls)):
            for i, j in ends:
                for here, there in ((i, j), (j, i)):
                    if not np.isnan(omega[here]) and np.isnan(omega[there]):
                        a, b = place[here] - pole, place[there] - pole
                        omega[there] = omega[here] + a[0] * b[1] - a[1] * b[0]
        if np.isnan(omega).any():
            raise ValueError("these walls do not make one open section")
        mean = 0.5 * (omega[pairs[:, 0]] + omega[pairs[:, 1]])
        return np.asarray(omega - weight @ mean / weight.sum())

    y, z = place.T
    omega = sectorial(np.zeros(2))
    iyy, izz, iyz = integral(z, z), integral(y, y), integral(y, z)
    wy, wz = integral(omega, z), integral(omega, y)
    both = iyy * izz - iyz * iyz
    pole = np.array([(wy * izz - wz * iyz) / both, -(wz * iyy - wy * iyz) / both])
    about_pole = sectorial(pole)
    return Thin(
        float((length * thickness**3).sum()) / 3.0,
        integral(about_pole, about_pole),
        (float(pole[0]), float(pole[1])),
    )


def drilled_round_bar(diameter_mm: float, hole_mm: float) -> Plane:
    """A round bar with a hole drilled across it along the load: what is left for bending at the hole."""
    return plane_properties(drilled_round(diameter_mm, hole_mm))


@lru_cache(maxsize=256)
def section_of(name: str, punched: bool = False) -> Section:
    """The section of a catalogue profile; `punched` where strut has slots in its back.

    Raises NotInCatalogue for an unknown profile.
    """
    each = profile(name)
    made = _t_slot(each) if isinstance(each, TSlot) else _drawn(each)
    if punched and isinstance(each, StrutChannel):
        share = each.punched_share
        made = replace(
            made,
            area_mm2=share * made.area_mm2,
            second_moment_y_mm4=share * made.second_moment_y_mm4,
            second_moment_z_mm4=share * made.second_moment_z_mm4,
            modulus_y_mm3=share * made.modulus_y_mm3,
            modulus_z_mm3=share * made.modulus_z_mm3,
            share=share,
            source=f"{made.source}; slotted back: {each.punched_source.sentence}",
        )
    return made


def _drawn(each: Profile) -> Section:
    outline = outline_of(each)
    assert outline is not None
    plane = plane_properties(outline.rings)
    points = np.concatenate(outline.rings)
    size = np.ptp(points, axis=0)
    torsion, warping, shear_centre = _torsion(each, plane, outline.walls, outline.closed)
    stiff = _stiffness(each)
    return Section(
        name=each.id,
        kind=_kind(each),
        area_mm2=plane.area_mm2,
        second_moment_y_mm4=plane.second_moment_y_mm4,
        second_moment_z_mm4=plane.second_moment_z_mm4,
        torsion_mm4=torsion,
        warping_mm6=warping,
        modulus_y_mm3=plane.modulus_y_mm3,
        modulus_z_mm3=plane.modulus_z_mm3,
        shear_centre_mm=shear_centre,
        centre_up_mm=plane.down_mm,
        outside_mm=(float(size[0]), float(size[1])),
        walls=outline.walls,
        cold_formed=isinstance(each, (StrutChannel, SquareTube)),
        source=f"Green's theorem on the outline; {each.source.sentence}",
        lipped=of_strut(each, stiff["modulus_mpa"]) if isinstance(each, StrutChannel) else None,
        double=isinstance(each, StrutChannel) and each.count > 1,
        **stiff,
    )


def _t_slot(each: TSlot) -> Section:
    second = each.second_moment_mm4
    return Section(
        name=each.id,
        kind="T-slot",
        area_mm2=each.area_mm2,
        second_moment_y_mm4=second,
        second_moment_z_mm4=second,
        torsion_mm4=T_SLOT_TORSION_SHARE * 2.0 * second,
        warping_mm6=0.0,
        modulus_y_mm3=2.0 * second / each.side_mm,
        modulus_z_mm3=2.0 * second / each.side_mm,
        shear_centre_mm=(0.0, 0.0),
        centre_up_mm=0.5 * each.side_mm,
        outside_mm=(each.side_mm, each.side_mm),
        walls=(),
        cold_formed=False,
        source=f"low end of the range over makers; {each.source.sentence}",
        **_stiffness(each),
    )


def _torsion(
    each: Profile, plane: Plane, walls: tuple[Wall, ...], closed: bool
) -> tuple[float, float, tuple[float, float]]:
    if isinstance(each, SquareTube):
        middle = each.side_mm - each.thickness_mm
        radius = each.outside_radius_mm - 0.5 * each.thickness_mm
        inside = middle**2 - (4.0 - math.pi) * radius**2
        around = 4.0 * middle - (8.0 - 2.0 * math.pi) * radius
        return 4.0 * inside**2 * each.thickness_mm / around, 0.0, (0.0, 0.0)
    if isinstance(each, RoundBar):
        return math.pi * each.diameter_mm**4 / 32.0, 0.0, (0.0, 0.0)
    if isinstance(each, FlatBar):
        return rectangle_torsion_mm4(each.width_mm, each.thickness_mm), 0.0, (0.0, 0.0)
    if isinstance(each, Timber):
        return rectangle_torsion_mm4(each.width_mm, each.depth_mm), 0.0, (0.0, 0.0)
    assert walls and not closed
    thin = thin_properties(walls)
    return thin.torsion_mm4, thin.warping_mm6, thin.shear_centre_mm


def rectangle_torsion_mm4(a_mm: float, b_mm: float) -> float:
    """Torsion constant of a rectangle: a b^3 (1/3 - 0.21 b/a (1 - b^4 / 12 a^4)), a the longer side.

    Source: Roark's Formulas for Stress and Strain, table of torsion, solid rectangle (recalled); within 0.5 %.
    """
    a, b = max(a_mm, b_mm), min(a_mm, b_mm)
    return a * b**3 * (1.0 / 3.0 - 0.21 * b / a * (1.0 - b**4 / (12.0 * a**4)))


def _kind(each: Profile) -> str:
    match each:
        case StrutChannel():
            return "strut"
        case SquareTube():
            return "square tube"
        case FlatBar():
            return "flat bar"
        case RoundBar():
            return "round bar"
        case Timber():
            return "timber"
        case TSlot():
            return "T-slot"
        case _:
            return "angle"


NDS_WOODS = {
    "SPF": (9600.0, 6.0), "Hem-Fir": (9000.0, 5.9), "Douglas fir-larch": (11000.0, 6.2),
    "southern pine": (9600.0, 5.2),
}  # fmt: skip
"""Modulus and reference bending value, MPa, of No. 2 grade dimension lumber; NDS Supplement, Tables 4A and 4B,
rounded down; recalled."""

DURATION = "permanent"


def _stiffness(each: Profile) -> dict[str, Any]:
    if not isinstance(each, Timber):
        metal = material(each.material)
        return {
            "modulus_mpa": metal.modulus_mpa,
            "shear_modulus_mpa": metal.shear_modulus_mpa,
            "density_kg_m3": metal.density_kg_m3,
            "strength_mpa": metal.yield_mpa,
            "promised": metal.yield_promised,
            "strength_source": metal.source.sentence,
        }
    wood = species(each.species)
    if wood.modulus_mpa is not None and wood.bending_mpa is not None and wood.density_mean_kg_m3 is not None:
        bending = wood.bending_mpa * kmod(DURATION) / partial_factor("solid_timber")
        return {
            "modulus_mpa": wood.modulus_mpa,
            "shear_modulus_mpa": wood.modulus_mpa / 16.0,
            "density_kg_m3": wood.density_mean_kg_m3,
            "strength_mpa": bending,
            "promised": True,
            "strength_source": f"{wood.source.sentence}, kmod {kmod(DURATION):g}, gamma_M 1.3",
        }
    stiff, bending = NDS_WOODS[wood.id]
    return {
        "modulus_mpa": stiff,
        "shear_modulus_mpa": stiff / 16.0,
        "density_kg_m3": 1000.0 * (wood.specific_gravity or 0.5) * 1.12,
        "strength_mpa": 0.9 * bending,
        "promised": True,
        "strength_source": "NDS Supplement, No. 2 grade, recalled; load duration 0.9",
    }
