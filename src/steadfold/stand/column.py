"""Members in compression and bending: column curves, effective width, twisting of open sections.

Stresses in MPa, lengths in mm, forces in N. Functions of one line of a standard each; `limits` puts them together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadfold.stand.distortional import bent_strength_mpa, pressed_strength_mpa, swings
from steadfold.stand.outline import FREE
from steadfold.stand.section import Section

OMEGA_FLEXURE = 1.67
OMEGA_COMPRESSION = 1.67
OMEGA_COLD_FORMED_COMPRESSION = 1.80
OMEGA_TENSION = 1.67
ALUMINIUM_OMEGA = 1.65
TIMBER_EULER_FACTOR = 3.0
"""Between Euler's load of a timber and what it may carry; common practice, no source."""

EN_IMPERFECTION = {"a0": 0.13, "a": 0.21, "b": 0.34, "c": 0.49, "d": 0.76}
"""EN 1993-1-1, Table 6.1 (recalled)."""

HELD_EDGES_K, FREE_EDGE_K = 4.0, 0.43


def euler_load_n(modulus_mpa: float, second_moment_mm4: float, effective_length_mm: float) -> float:
    """Euler's load of a column of this effective length (1 L hinged, 2 L one end free, 0.5 L clamped)."""
    return math.pi**2 * modulus_mpa * second_moment_mm4 / effective_length_mm**2


def aisc_column_stress_mpa(yield_mpa: float, elastic_mpa: float) -> float:
    """Nominal compressive stress from the elastic buckling stress; before Omega 1.67 or phi 0.90.

    0.658^(Fy/Fe) Fy where Fy/Fe <= 2.25, else 0.877 Fe. Source: AISC 360, E3 (recalled); AISI S100, E2 has the same
    curve in terms of lambda_c.
    """
    if yield_mpa <= 2.25 * elastic_mpa:
        return float(0.658 ** (yield_mpa / elastic_mpa)) * yield_mpa
    return 0.877 * elastic_mpa


def en_reduction(slenderness: float, curve: str = "c") -> float:
    """Reduction factor chi of EN 1993-1-1, 6.3.1.2, for the relative slenderness and a curve a0, a, b, c or d.

    (recalled). Raises KeyError for another curve.
    """
    if slenderness <= 0.2:
        return 1.0
    phi = 0.5 * (1.0 + EN_IMPERFECTION[curve] * (slenderness - 0.2) + slenderness**2)
    return min(1.0, 1.0 / (phi + math.sqrt(phi**2 - slenderness**2)))


def plate_buckling_mpa(width_mm: float, thickness_mm: float, modulus_mpa: float, poisson: float, k: float) -> float:
    """Elastic buckling stress of a long flat wall: k pi2 E / 12 (1 - nu2) (t / w)2."""
    return k * math.pi**2 * modulus_mpa / (12.0 * (1.0 - poisson**2)) * (thickness_mm / width_mm) ** 2


def aisi_effective_width_mm(
    width_mm: float, thickness_mm: float, stress_mpa: float, modulus_mpa: float, poisson: float = 0.3,
    k: float = HELD_EDGES_K,
) -> float:  # fmt: skip
    """Width of a flat wall that still carries at an even stress.

    lambda = sqrt(f / Fcr); rho = (1 - 0.22 / lambda) / lambda from lambda 0.673 on. k 4 between two held edges, 0.43
    with one free. Source: AISI S100, Appendix 1, 1.1 and 1.2 (recalled).
    """
    if width_mm <= 0.0 or stress_mpa <= 0.0:
        return max(width_mm, 0.0)
    slenderness = math.sqrt(stress_mpa / plate_buckling_mpa(width_mm, thickness_mm, modulus_mpa, poisson, k))
    if slenderness <= 0.673:
        return width_mm
    return width_mm * (1.0 - 0.22 / slenderness) / slenderness


def en_effective_width_mm(
    width_mm: float, thickness_mm: float, yield_mpa: float, modulus_mpa: float = 210_000.0, *, outstand: bool = False
) -> float:
    """Effective width of a wall under even compression by EN 1993-1-5, 4.4 (psi = 1; recalled).

    Internal: rho = (lambda - 0.22) / lambda2 above 0.673; outstand: (lambda - 0.188) / lambda2 above 0.748.
    """
    k = FREE_EDGE_K if outstand else HELD_EDGES_K
    slenderness = math.sqrt(yield_mpa / plate_buckling_mpa(width_mm, thickness_mm, modulus_mpa, 0.3, k))
    limit, less = (0.748, 0.188) if outstand else (0.673, 0.22)
    if slenderness <= limit:
        return width_mm
    return width_mm * min(1.0, (slenderness - less) / slenderness**2)


def local_share(section: Section, stress_mpa: float) -> float:
    """Share of the area whose walls carry at an even compression: 1 for thick ones. AISI effective widths."""
    lost = 0.0
    for wall in section.walls:
        k = FREE_EDGE_K if wall.edges == FREE else HELD_EDGES_K
        kept = aisi_effective_width_mm(wall.flat_mm, wall.thickness_mm, stress_mpa, section.modulus_mpa, 0.3, k)
        lost += (wall.flat_mm - kept) * wall.thickness_mm
    return 1.0 - lost / section.area_mm2


def twisting_stress_mpa(section: Section, twist_length_mm: float) -> float:
    """Elastic torsional buckling stress: (G J + pi2 E Cw / L2) / (A r0^2); inf where shear flows in a closed tube.

    Source: AISI S100, E2.2 (recalled).
    """
    y0, z0 = section.shear_centre_mm
    polar = section.radius_y_mm**2 + section.radius_z_mm**2 + y0**2 + z0**2
    resists = section.shear_modulus_mpa * section.torsion_mm4
    resists += math.pi**2 * section.modulus_mpa * section.warping_mm6 / twist_length_mm**2
    return resists / (section.area_mm2 * polar)


def elastic_stress_mpa(section: Section, length_y_mm: float, length_z_mm: float, twist_length_mm: float) -> float:
    """Least elastic buckling stress: about y, about z, and twisting together with the axis of symmetry.

    An open section whose shear centre lies off its centroid buckles by bending and twisting at once:
    Fe = [ (s_ex + s_t) - sqrt((s_ex + s_t)^2 - 4 beta s_ex s_t) ] / 2 beta, beta = 1 - (x0 / r0)^2. Source: AISI
    S100, E2.2; AISC 360, E4 (recalled). Lengths are effective ones.
    """
    about_y = euler_load_n(section.modulus_mpa, section.second_moment_y_mm4, length_y_mm) / section.area_mm2
    about_z = euler_load_n(section.modulus_mpa, section.second_moment_z_mm4, length_z_mm) / section.area_mm2
    if not section.walls or section.kind == "square tube":
        return min(about_y, about_z)
    twist = twisting_stress_mpa(section, twist_length_mm)
    y0, z0 = section.shear_centre_mm
    polar = section.radius_y_mm**2 + section.radius_z_mm**2 + y0**2 + z0**2
    if math.hypot(y0, z0) < 1e-6 * math.sqrt(polar):
        return min(about_y, about_z, twist)
    # strut lies symmetric about its z axis, so it is bending about z that comes with the twist
    with_twist = about_z if abs(z0) >= abs(y0) else about_y
    beta = 1.0 - (y0**2 + z0**2) / polar
    both = with_twist + twist
    coupled = (both - math.sqrt(both**2 - 4.0 * beta * with_twist * twist)) / (2.0 * beta)
    return min(about_y, about_z, coupled)


def sideways_moment_nmm(section: Section, length_mm: float) -> float:
    """Elastic moment at which an open section bent about y falls over sideways over an unheld length.

    Mcr = A r0 sqrt(s_ez s_t), even moment (Cb 1). Source: AISI S100, F2.1.1 (recalled). inf for closed and round ones;
    for flat bar and timber pi/L sqrt(E Iz G J).
    """
    bending = section.modulus_mpa * section.second_moment_z_mm4
    twisting = section.shear_modulus_mpa * section.torsion_mm4
    if section.kind in ("square tube", "round bar", "T-slot"):
        return math.inf
    if not section.walls:
        return math.pi / length_mm * math.sqrt(bending * twisting)
    y0, z0 = section.shear_centre_mm
    r0 = math.sqrt(section.radius_y_mm**2 + section.radius_z_mm**2 + y0**2 + z0**2)
    about_z = euler_load_n(section.modulus_mpa, section.second_moment_z_mm4, length_mm) / section.area_mm2
    return section.area_mm2 * r0 * math.sqrt(about_z * twisting_stress_mpa(section, length_mm))


def sideways_stress_mpa(yield_mpa: float, elastic_mpa: float) -> float:
    """Nominal bending stress from the elastic lateral buckling stress.

    Fy from Fe = 2.78 Fy on; 10/9 Fy (1 - 10 Fy / 36 Fe) down to 0.56 Fy; Fe below. Source: AISI S100, F2.1 (recalled).
    """
    if elastic_mpa >= 2.78 * yield_mpa:
        return yield_mpa
    if elastic_mpa > 0.56 * yield_mpa:
        return 10.0 / 9.0 * yield_mpa * (1.0 - 10.0 * yield_mpa / (36.0 * elastic_mpa))
    return elastic_mpa


@dataclass(frozen=True)
class MemberLimits:
    """What one member may carry in service, factors taken off: N and N mm; Euler's loads without any.

    `tension_n`, `compression_n`, `moment_y_nmm`, `moment_z_nmm`; `euler_y_n`, `euler_z_n` for the growth of moments;
    `governs_compression` says which way it buckles; `local_share` what local buckling leaves of the area.
    """

    tension_n: float
    compression_n: float
    moment_y_nmm: float
    moment_z_nmm: float
    euler_y_n: float
    euler_z_n: float
    governs_compression: str
    local_share: float
    source: str


def limits(section: Section, length_mm: float, unheld_mm: float | None = None) -> MemberLimits | None:
    """The limits of a member of this length between its joints, hinged at both ends on the careful side (K = 1).

    `unheld_mm` is the longest part that nothing holds sideways; the whole length where not given. None where the
    material has no strength to rate by. Source: AISI S100 for cold formed sections, AISC 360 for the others, allowable
    strength (Omega 1.67 and 1.80); timber with the factors of its standard and Euler's load / 3.
    """
    strength = section.strength_mpa
    if strength is None:
        return None
    side = length_mm if unheld_mm is None else unheld_mm
    euler_y = euler_load_n(section.modulus_mpa, section.second_moment_y_mm4, length_mm)
    euler_z = euler_load_n(section.modulus_mpa, section.second_moment_z_mm4, side)
    if section.kind == "timber":
        elastic = min(euler_y, euler_z)
        squash = strength * section.area_mm2 / 1.5
        compression = min(squash, elastic / TIMBER_EULER_FACTOR)
        lateral = sideways_moment_nmm(section, side) / TIMBER_EULER_FACTOR
        return MemberLimits(
            strength * section.area_mm2 / 1.7, compression, min(strength * section.modulus_y_mm3, lateral),
            strength * section.modulus_z_mm3, euler_y, euler_z,
            "Euler / 3" if compression < squash else "squash", 1.0,
            f"{section.strength_source}; tension and squash at bending strength / 1.7 and / 1.5: ratios of EN 338,"
            " recalled; Euler / 3: common practice, no source",
        )  # fmt: skip
    omega, rule = (
        (ALUMINIUM_OMEGA, "Aluminum Design Manual") if section.kind == "T-slot" else (OMEGA_FLEXURE, "AISC 360")
    )
    press = omega
    if section.cold_formed:
        rule, press = "AISI S100", OMEGA_COLD_FORMED_COMPRESSION
    elastic = elastic_stress_mpa(section, length_mm, side, side)
    nominal = aisc_column_stress_mpa(strength, elastic)
    carries = local_share(section, nominal)
    bending_local = local_share(section, strength)
    about_y = euler_y / section.area_mm2
    about_z = euler_z / section.area_mm2
    way = (
        "about its own y"
        if about_y <= 1.001 * elastic
        else "about its own z"
        if about_z <= 1.001 * elastic
        else "with a twist"
    )
    falls = sideways_stress_mpa(strength, sideways_moment_nmm(section, side) / section.modulus_y_mm3)
    pressed, about_y_mpa, about_z_mpa = distortional_mpa(section, strength)
    governs = f"buckles {way}" if nominal * carries <= pressed else "swings out at its lips"
    return MemberLimits(
        strength * section.area_mm2 / omega,
        min(nominal * carries, pressed) * section.area_mm2 / press,
        min(falls * bending_local, about_y_mpa) * section.modulus_y_mm3 / omega,
        min(strength * bending_local, about_z_mpa) * section.modulus_z_mm3 / omega,
        euler_y, euler_z, governs, carries,
        f"{rule}, allowable strength, Omega {omega:g} and {press:g} (recalled); {section.strength_source}",
    )  # fmt: skip


def distortional_mpa(section: Section, strength_mpa: float) -> tuple[float, float, float]:
    """Nominal stresses by distortional buckling: pressed, bent about y with the lips pressed, bent about z.

    inf for a section without lips. Two channels back to back are each taken by themselves, and pressed evenly where the
    pair is bent about y. Source: finite strips; AISI S100-16, E4 and F4 (recalled).
    """
    if section.lipped is None:
        return math.inf, math.inf, math.inf
    found = swings(section.lipped)
    lips = found.pressed if section.double else found.lips_pressed
    return (
        pressed_strength_mpa(strength_mpa, found.pressed.stress_mpa),
        bent_strength_mpa(strength_mpa, lips.stress_mpa),
        bent_strength_mpa(strength_mpa, found.bent.stress_mpa),
    )


@dataclass(frozen=True)
class MemberShare:
    """How hard a member works at one place: shares from the axial force and both moments, and their sum."""

    axial: float
    bending_y: float
    bending_z: float

    @property
    def total(self) -> float:
        """The sum: linear interaction."""
        return self.axial + self.bending_y + self.bending_z


def member_share(limit: MemberLimits, pull_n: float, moment_y_nmm: float, moment_z_nmm: float) -> MemberShare:
    """Share of the limits that a pull (negative: push) and two moments use together.

    P / Pa + My / May + Mz / Maz, moments of a pressed member grown by 1 / (1 - Omega P / Pe). Source: AISI S100, H1.2;
    AISC 360, H1 in its straight form (recalled). inf at Euler's load.
    """
    if pull_n >= 0.0:
        return MemberShare(
            pull_n / limit.tension_n, abs(moment_y_nmm) / limit.moment_y_nmm, abs(moment_z_nmm) / limit.moment_z_nmm
        )
    push = -pull_n
    rest_y = 1.0 - OMEGA_COLD_FORMED_COMPRESSION * push / limit.euler_y_n
    rest_z = 1.0 - OMEGA_COLD_FORMED_COMPRESSION * push / limit.euler_z_n
    if min(rest_y, rest_z) <= 0.0:
        return MemberShare(push / limit.compression_n, math.inf, math.inf)
    return MemberShare(
        push / limit.compression_n,
        abs(moment_y_nmm) / limit.moment_y_nmm / rest_y,
        abs(moment_z_nmm) / limit.moment_z_nmm / rest_z,
    )
