"""Whether a part holds: from the job's loads and mount to the strength of the part on its wall."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from steadfold.catalogue import Material, NotInCatalogue, fasteners, profiles, wood
from steadfold.catalogue.finishes import finish
from steadfold.findings import Finding, Severity
from steadfold.job.models import Job, JobPart, Mount
from steadfold.job.problem import JobProblems
from steadfold.joints.backing import (
    WALL_REASONS,
    fastener_named,
    hold,
    is_magnet,
    pressing_mm,
    soft_gap,
    strength_named,
    unproven_finding,
)
from steadfold.joints.capacity import FixingCapacity
from steadfold.joints.capacity import unproven as unproven_capacity
from steadfold.joints.sheet_hole import SheetHole
from steadfold.joints.stiffness import Stiffness, bolt_axial, bolt_shear, in_a_row, screw_axial, screw_slip_modulus
from steadfold.joints.studs import one_stud_only, two_spacings
from steadfold.mechanics import Mechanism
from steadfold.mount.fixing_holes import Hole, fixing_holes, passed_over, unknown_fastener_mm
from steadfold.mount.rating import strength
from steadfold.mount.records import Carried, CaseChoices, Fixings, Metal, MountError, Strength
from steadfold.quantities import show_length
from steadfold.review.fixing_checks import fixing_findings, sharing_a_row
from steadfold.review.records import Assumption
from steadfold.sheet.part import Part

WALL_GIVES_MM_PER_N = {
    "steel": 2e-5,
    "T-slot rail": 5e-5,
    "strut": 5e-5,
    "masonry": 5e-5,
    "cleat": 5e-4,
    "wood stud": 1e-3,
    "wood board": 1e-3,
    "steel stud": 1e-3,
    "unknown": 1e-3,
}
"""How far the backing gives for each newton on one contact point of about a square centimetre (judgement)."""

USUAL_SCREW_MM = 50.0
"""Length of a wood screw when the job does not say (said as an assumption)."""

USUAL_WARMTH_C = 23.0
"""How warm a print is taken to get where the job does not say (said as an assumption)."""

SIDE_OF_STRUT_MM = 41.3
CLEARANCE = 1.1

USUAL_SPACINGS_MM = (400.0, 406.4, 600.0, 609.6)
"""Studs from middle to middle where the job does not say: Europe, and 16 and 24 inch."""

CUT_TOLERANCE_MM = 0.13
"""How much narrower a laser may leave a slot (common practice, no source)."""


@dataclass(frozen=True)
class Held:
    """The strength of a part, or why there is none, with findings and assumptions of the mount."""

    strength: Strength | None
    capacity: FixingCapacity | None
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]


def held(
    job: Job,
    ordered: JobPart,
    part: Part,
    material: Material,
    fine: bool = True,
    progress: Callable[[float, str], None] = lambda share, what: None,
) -> Held:
    """Rate a part on its wall.

    Raises `JobProblems` at the line of the job for loads or fixings that make no sense.
    """
    missing = _missing(ordered)
    if missing:
        return Held(None, None, tuple(missing), ())
    assert ordered.mount is not None
    try:
        return _rated(ordered, ordered.mount, part, material, fine, progress)
    except MountError as error:
        raise JobProblems([job.text.problem((*ordered.path, *_steps(error)), str(error))]) from None
    except Mechanism as error:
        say = f"On its fixings the part can still move: {error}."
        found = Finding("slides-down", Severity.UNPROVEN, ordered.name, say, None, None, "statics", "add a fixing")
        return Held(None, None, (found,), ())


def _steps(error: MountError) -> tuple[str | int, ...]:
    if error.table == "part":
        return (error.field,)
    if error.table == "carries":
        return ("carries", error.number, error.field)
    return (error.table, error.field)


def _missing(ordered: JobPart) -> list[Finding]:
    found = []
    if not ordered.carries:
        found.append(
            Finding(
                "load-unknown",
                Severity.UNPROVEN,
                ordered.name,
                "The job does not say what the part carries, so it is not rated.",
                None,
                None,
                "",
                "say what hangs or stands on it in [[part.carries]]",
            )
        )
    if ordered.mount is None:
        found.append(
            Finding(
                "wall-unknown",
                Severity.UNPROVEN,
                ordered.name,
                "The job does not say what the part is fixed to, so it is not rated.",
                None,
                None,
                "",
                "say how it is held in [part.mount]",
            )
        )
    return found


@dataclass(frozen=True)
class Prepared:
    """What the strength of a part is asked with, and what was noticed while it was put together."""

    metal: Metal
    fixings: Fixings
    carried: tuple[Carried, ...]
    choices: CaseChoices
    capacity: FixingCapacity
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]


def prepared(ordered: JobPart, mount: Mount, part: Part, material: Material) -> Prepared:
    """The part's metal, fixings, loads and cases as the mount room takes them. Raises `MountError`."""
    panel = _fixed_panel(part, mount)
    fastener, said = _fastener(mount)
    hole_least = fastener.diameter_mm if fastener is not None else unknown_fastener_mm(part, panel)
    pressing = _pressing(mount, fastener, hole_least)
    rough = Fixings(panel, hole_least, pressing, 1.0, 1.0, 1.0, None, mount.down, mount.hole_mm)
    holes = fixing_holes(part, rough)
    sheet = _sheet_hole(part, material, holes[0], pressing)
    axial, shear = _stiffness(mount, fastener, sheet, part)
    fixings = Fixings(
        panel,
        hole_least,
        pressing,
        axial.middle_n_per_mm,
        shear.middle_n_per_mm,
        WALL_GIVES_MM_PER_N[mount.to],
        _band(mount),
        mount.down,
        mount.hole_mm,
    )
    capacity = sharing_a_row(_capacity(mount, sheet, material), mount, part, holes, panel)
    return Prepared(
        metal_of(ordered, material),
        fixings,
        ordered.carries,
        ordered.cases,
        capacity,
        (
            *said,
            *_other_holes(ordered, part, holes, passed_over(part, rough), panel),
            *_backing_findings(ordered, mount, part, holes, capacity, panel),
            *fixing_findings(ordered, mount, part, holes, pressing, material.density_kg_m3),
        ),
        (*_assumed(ordered, mount, axial, shear, fastener), *_creep_assumed(ordered, material)),
    )


def _other_holes(
    ordered: JobPart, part: Part, taken: tuple[Hole, ...], others: tuple[Hole, ...], panel: int
) -> list[Finding]:
    """Which holes are taken for the fixings, where a panel has several sorts that would take them."""
    if not others:
        return []
    name, width = part.panels[panel].name, others[0].width_mm
    return [
        Finding(
            "fixing-holes-guessed",
            Severity.CAUTION,
            f"{ordered.name}, {name}",
            f"{_counted(len(taken))} of {taken[0].width_mm:.4g} mm in {name!r} take the fixings; {_counted(len(others))} that would"
            " take them too are counted as empty.",
            float(len(taken)),
            None,
            "",
            f'say in the mount which it is: hole = "{taken[0].width_mm:.4g} mm" or "{width:.4g} mm"',
        )
    ]


def _counted(holes: int) -> str:
    return "1 hole" if holes == 1 else f"{holes} holes"


def _rated(
    ordered: JobPart,
    mount: Mount,
    part: Part,
    material: Material,
    fine: bool,
    progress: Callable[[float, str], None],
) -> Held:
    ready = prepared(ordered, mount, part, material)
    answer = strength(
        part, ready.metal, ready.fixings, ready.carried, ready.choices, ready.capacity, fine=fine, progress=progress
    )
    return Held(answer, ready.capacity, (*ready.findings, *_creeps(ordered, material, answer)), ready.assumptions)


def _creeps(ordered: JobPart, material: Material, found: Strength) -> list[Finding]:
    """A print that bears too little or sags too far over time: what cures it is metal."""
    worst = max(
        (k for k in found.chain if k.share is not None and k.name in ("sheet", "sag")), key=lambda k: k.share or 0.0
    )
    if material.family != "plastic" or material.sustained is None or (worst.share or 0.0) <= 1.0:
        return []
    creep = material.sustained
    return [
        Finding(
            "creeps",
            Severity.CAUTION,
            ordered.name,
            f"Printed, it {worst.say}. A load that stays may use only {100 * creep.stress_share:.0f} % of what a print breaks at, and in"
            f" a year a print gives {1 / metal_of(ordered, material).sustained_modulus_factor:.1f} times as far as today.",
            worst.share,
            1.0,
            creep.source.sentence,
            f'fold it of sheet metal: steadfold mend JOB "{ordered.name}" looks for a sheet that holds',
        )
    ]


def _creep_assumed(ordered: JobPart, material: Material) -> list[Assumption]:
    """What a print or wood is rated by: direction, warmth, time."""
    creep = material.sustained
    if material.ductile or creep is None:
        return []
    used = metal_of(ordered, material)
    found = []
    if material.layers is not None:
        way = ordered.pulls or "across layers"
        said = " (the job does not say, so the weaker way)" if ordered.pulls is None else ""
        source = material.layers.source.sentence if ordered.certificate is None else ordered.certificate.source
        found.append(Assumption(f"strength of {material.id} {way}", f"{used.yield_mpa:g} MPa{said}", source, "rating"))
    found.append(
        Assumption(
            f"how much of it {material.id} may use",
            f"{100 * used.sustained_share:g} % under a load that stays, {100 * used.short_share:g} % under a short one",
            creep.source.sentence,
            "rating",
        )
    )
    if material.family == "plastic":
        warm = (
            f"{ordered.temperature_c:g} °C"
            if ordered.temperature_c is not None
            else f"{USUAL_WARMTH_C:g} °C (not in the job)"
        )
        stiff = f"{100 * used.sustained_modulus_factor:.3g} % of its modulus after a year at {warm}"
        found.append(Assumption(f"creep of {material.id}", stiff, creep.source.sentence, "sag"))
    return found


def metal_of(ordered: JobPart, material: Material) -> Metal:
    """The sheet as the model needs it: the certificate's yield where there is one, else the catalogue's."""
    fy = ordered.certificate.yield_mpa if ordered.certificate is not None else material.yield_mpa
    promised = ordered.certificate is not None
    if material.ductile:
        return Metal(material.modulus_mpa, material.poisson, material.density_kg_m3, fy)
    creep = material.sustained
    strength_mpa = fy
    if material.layers is not None and not promised:
        along = ordered.pulls == "along layers"
        strength_mpa = material.layers.in_layer_mpa if along else material.layers.across_layer_mpa
    warm = USUAL_WARMTH_C if ordered.temperature_c is None else ordered.temperature_c
    share, short, modulus = 1.0, 1.0, 1.0
    if creep is not None:
        share, short = creep.stress_share, creep.short_share
        try:
            modulus = creep.modulus_factor_at(warm)
        except ValueError as error:
            raise MountError("part", "temperature", f"{material.id} carries nothing there: {error}") from None
    return Metal(
        material.modulus_mpa * modulus,
        material.poisson,
        material.density_kg_m3,
        strength_mpa,
        False,
        share,
        short,
        modulus,
    )


def _fixed_panel(part: Part, mount: Mount) -> int:
    if mount.holes is None:
        return 0
    try:
        return part.panel_index(mount.holes)
    except KeyError:
        names = ", ".join(p.name for p in part.panels)
        raise MountError("mount", "holes", f"there is no panel {mount.holes!r}; the part has {names}") from None


def _fastener(mount: Mount) -> tuple[fasteners.Bolt | fasteners.WoodFastener | None, list[Finding]]:
    if mount.fastener is None:
        return None, []
    try:
        return fastener_named(mount.fastener), []
    except NotInCatalogue as error:
        if mount.capacity is not None or mount.to in WALL_REASONS or is_magnet(mount.fastener):
            return None, []  # an anchor of no catalogue: its capacity is asked for by what it goes into
        nearest = f"; near it: {', '.join(error.nearest)}" if error.nearest else ""
        finding = Finding(
            "capacity-unproven",
            Severity.UNPROVEN,
            "fixings",
            f"No fastener called {mount.fastener!r} is in the catalogue{nearest}.",
            None,
            None,
            "",
            "name one of the catalogue (steadfold facts bolt), or give its capacity with its source",
        )
        return None, [finding]


def _pressing(mount: Mount, fastener: fasteners.Bolt | fasteners.WoodFastener | None, least: float) -> float:
    """Diameter of what presses on the sheet: washer or head."""
    if mount.washer_mm is not None:
        return mount.washer_mm
    if isinstance(fastener, fasteners.Bolt):
        return fastener.washer.outside_mm
    if fastener is not None and mount.fastener is not None:
        return pressing_mm(mount.fastener)
    return 2.0 * least


def _sheet_hole(part: Part, material: Material, hole: Hole, pressing: float) -> SheetHole:
    return SheetHole(part.thickness_mm, material.ultimate_low_mpa, hole.width_mm, max(pressing, 1.02 * hole.width_mm))


def _stiffness(
    mount: Mount, fastener: fasteners.Bolt | fasteners.WoodFastener | None, sheet: SheetHole, part: Part
) -> tuple[Stiffness, Stiffness]:
    """Axial and shear stiffness of one fixing."""
    if isinstance(fastener, fasteners.WoodFastener):
        density = 420.0
        if mount.wood is not None:
            density = wood.species(mount.wood).density_mean_kg_m3 or density
        length = mount.length_mm or USUAL_SCREW_MM
        thread = max(0.5 * length, 4 * fastener.diameter_mm)
        return (
            screw_axial(fastener.diameter_mm, thread, density),
            screw_slip_modulus(fastener.diameter_mm, density),
        )
    if fastener is not None:
        grip = part.thickness_mm + fastener.washer.thickness_mm + 0.5 * fastener.diameter_mm
        grade = mount.grade or (strength_named(mount.fastener) if mount.fastener else None) or "4.6"
        shear = bolt_shear(fastener.size, grade, sheet)
        axial = bolt_axial(fastener.size, grip)
        if mount.to in ("wood stud", "wood board", "masonry", "steel stud", "unknown"):
            soft = Stiffness(2e3, 2e4, "judgement: a fixing in a wall gives more than its steel", True)
            return in_a_row(axial, soft), in_a_row(shear, soft)
        return axial, shear
    unknown = Stiffness(2e3, 1e5, "judgement: the fastener is not known", True)
    return unknown, unknown


def _band(mount: Mount) -> float | None:
    """Height of the backing behind the fixings; None for a whole wall."""
    if mount.to == "strut":
        return SIDE_OF_STRUT_MM
    if mount.to == "T-slot rail":
        found = profiles.profile(mount.profile) if mount.profile else None
        return float(getattr(found, "height_mm", 0.0) or getattr(found, "side_mm", 0.0) or 40.0)
    return None


def _capacity(mount: Mount, sheet: SheetHole, material: Material) -> FixingCapacity:
    given = None
    if mount.capacity is not None:
        given = (mount.capacity.source, mount.capacity.tension_n, mount.capacity.shear_n)
    stud = wood.stud(mount.stud) if mount.stud else None
    try:
        return hold(
            mount.to,
            mount.fastener,
            sheet=sheet,
            strength=mount.grade,
            length_mm=mount.length_mm,
            wood_name=mount.wood,
            wood_depth_mm=stud.depth_mm if stud is not None else mount.board_mm,
            gap_mm=mount.gap_mm or 0.0,
            across_grain=0.0 if mount.to == "wood stud" else math.pi / 2,
            profile=mount.profile,
            capacity=given,
        )
    except (NotInCatalogue, ValueError) as error:
        return unproven_capacity(str(error))


def _backing_findings(
    ordered: JobPart, mount: Mount, part: Part, holes: tuple[Hole, ...], capacity: FixingCapacity, panel: int
) -> list[Finding]:
    found: list[Finding] = []
    behind = unproven_finding(mount.to, capacity, ordered.name)
    if behind is not None:
        found.append(behind)
    if mount.to in ("wood stud", "steel stud"):
        level = 1 if mount.down in ("left", "right") else 0  # which of the panel's own directions is level
        xs = [hole.at_mm[level] for hole in holes]
        if len(holes) > 1 and max(xs) - min(xs) > 100:
            extent = part.panels[panel].extent_mm
            usable = (extent[level] if extent else max(xs) - min(xs)) - 20.0
            few = one_stud_only(usable, mount.stud_spacing_mm or USUAL_SPACINGS_MM, 2, ordered.name)
            found += [few] if few is not None else []
            if mount.stud_spacing_mm is None:
                twin = _twin_spacings(ordered, holes, level)
                found += [twin] if twin is not None else []
    if mount.gap_mm and mount.to in ("wood stud", "wood board"):
        gapless = _gapless(mount, capacity)
        soft = soft_gap(mount.gap_mm, capacity.shear_n, gapless, mount.gap_of or "the gap", ordered.name)
        if soft is not None:
            found.append(soft)
    return found


def _twin_spacings(ordered: JobPart, holes: tuple[Hole, ...], level: int) -> Finding | None:
    """Whether the outer holes fit studs at two near spacings, in metric and in inches."""
    width = min(hole.width_mm for hole in holes)
    rooms = [(hole.at_mm[level], hole.outline.bounds[level + 2] - hole.outline.bounds[level]) for hole in holes]
    coat = finish(ordered.finish).thickness_um[2] / 1000.0
    return two_spacings(rooms, width / CLEARANCE, width, ordered.name, coat, CUT_TOLERANCE_MM)


def _gapless(mount: Mount, capacity: FixingCapacity) -> float | None:
    try:
        return hold(
            mount.to,
            mount.fastener,
            strength=mount.grade,
            length_mm=mount.length_mm,
            wood_name=mount.wood,
            across_grain=0.0,
        ).shear_n
    except (NotInCatalogue, ValueError):
        return None


def _assumed(
    ordered: JobPart,
    mount: Mount,
    axial: Stiffness,
    shear: Stiffness,
    fastener: fasteners.Bolt | fasteners.WoodFastener | None,
) -> tuple[Assumption, ...]:
    found = [
        Assumption(
            "stiffness of a fixing",
            f"{axial.low_n_per_mm:.0f} to {axial.high_n_per_mm:.0f} N/mm along, "
            f"{shear.low_n_per_mm:.0f} to {shear.high_n_per_mm:.0f} N/mm across",
            axial.source,
            "sag and pull of the fixings",
        ),
        Assumption(
            f"how far {mount.to} gives",
            f"{WALL_GIVES_MM_PER_N[mount.to]:g} mm a newton on a square centimetre",
            "judgement",
            "pull of the fixings",
        ),
    ]
    if isinstance(fastener, fasteners.WoodFastener) and mount.length_mm is None:
        found.append(Assumption("length of the screws", show_length(USUAL_SCREW_MM, "mm", 0), "judgement", "stiffness"))
    for case, value in (("knock", "150 N sideways"), ("snatch_factor", "2 times the weight")):
        given = getattr(ordered.cases, "knock_n" if case == "knock" else case)
        if given is None and case not in ordered.cases.refused and ordered.cases.drop_height_mm is None:
            found.append(
                Assumption(
                    "a stray knock" if case == "knock" else "a snatch",
                    value,
                    "common practice, no source" if case == "knock" else "sudden load on a linear spring",
                    "rating",
                )
            )
    return tuple(found)
