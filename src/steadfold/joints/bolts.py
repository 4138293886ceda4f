"""Machine screws and bolts: what the steel of one fastener may carry, and its thread in what it is turned into."""

from steadfold.catalogue import Citation, NotInCatalogue, fasteners
from steadfold.joints.capacity import FixingCapacity, unproven

PRELOAD_SHARE = 0.75
TENSION_FACTOR = 2.0
ULTIMATE_FACTOR = 2.0
"""Total factor on ultimate strength, as for collapse of the part; AISC 360 has the same for bolts (Omega 2.00)."""

ENGAGEMENT_D = {"steel": 1.0, "aluminium": 2.0}
"""Least length of thread turned into a tapped hole, in diameters; common practice, no source."""

LEAST_PITCHES = 3.0
"""Pitches a tapped sheet must hold at the least; common practice, no source."""


def allowable_tension_n(size: str, strength: str | None = None) -> float:
    """Tension a bolt may carry in service: 0.75 of its proof load, halved; N.

    0.75 of proof is what a bolt is tightened to; half of that keeps the joint shut with a factor of two.
    Source: proof loads ISO 898-1 (metric) and SAE J429 (inch); the factors are this project's own choice.
    Raises NotInCatalogue for an unknown size or strength.
    """
    fastener, metal = _metal(size, strength)
    return PRELOAD_SHARE * metal.proof_mpa * fastener.stress_area_mm2 / TENSION_FACTOR


def allowable_shear_n(size: str, strength: str | None = None) -> float:
    """Shear one plane through the thread may carry in service, N: 0.6 (or 0.5) fub As / 2.0.

    EN 1993-1-8, Table 3.4 (recalled) divides by 1.25 and compares with factored loads; a further 1.6 makes it 2.0
    between service and the nominal strength.
    """
    fastener, metal = _metal(size, strength)
    return metal.shear_share * metal.ultimate_mpa * fastener.stress_area_mm2 / ULTIMATE_FACTOR


def bolt_capacity(size: str, strength: str | None = None) -> FixingCapacity:
    """The steel of one bolt or machine screw.

    Without a `strength` the lowest class of the standard counts: a bolt made to it has at least that.
    Raises NotInCatalogue for an unknown size or strength.
    """
    fastener, metal = _metal(size, strength)
    lowest = "" if strength else f" (strength not given: {metal.id}, the lowest of the standard, counted)"
    return FixingCapacity(
        allowable_tension_n(size, strength),
        allowable_shear_n(size, strength),
        f"proof load by {metal.source.sentence}{lowest}; shear by {fasteners.design_source().sentence}",
        True,
        "",
        "tension 0.75 of proof / 2; shear 2.0 on ultimate",
        "bolt",
        f"{fastener.size} {metal.id}",
    )


def rod_capacity(size: str) -> FixingCapacity:
    """Threaded rod of unknown grade in tension: the lower of the lists of pipe hangers; sideways it counts nothing.

    Raises NotInCatalogue for a size without a published load.
    """
    rod = fasteners.threaded_rod(size)
    return FixingCapacity(
        rod.load_n, None, rod.source.sentence, True, "", "9 ksi on the root area", "linear", f"threaded rod {rod.size}"
    )


def tapped_thread(size: str, depth_mm: float, metal: str = "steel") -> FixingCapacity | None:
    """The thread of a bolt turned into a tapped hole `depth_mm` deep in 'steel' or 'aluminium'.

    None: the thread is long enough that the bolt breaks first and its own capacity holds. Otherwise an
    unproven capacity, because a short thread strips at a load nobody publishes. Raises ValueError for
    another metal.
    """
    if metal not in ENGAGEMENT_D:
        raise ValueError(f"no rule for a thread in {metal!r}; there are {', '.join(ENGAGEMENT_D)}")
    fastener = fasteners.bolt(size)
    needed = max(ENGAGEMENT_D[metal] * fastener.diameter_mm, LEAST_PITCHES * fastener.pitch_mm)
    if depth_mm >= needed - 1e-9:
        return None
    return unproven(
        f"{depth_mm:.1f} mm of thread in {metal}; {needed:.1f} mm are needed before the bolt is stronger than the"
        " thread",
        f"thread of the {fastener.size}",
        source="common practice, no source",
    )


def _metal(size: str, strength: str | None) -> tuple[fasteners.Bolt, fasteners.Grade]:
    fastener = fasteners.bolt(size)
    if strength is None:
        return fastener, _lowest(fastener.system)
    metal = fasteners.grade(strength)
    if metal.system != fastener.system:
        known = fasteners.grade_ids(fastener.system)
        raise NotInCatalogue(f"strength class of {fastener.system} bolts", strength, known)
    return fastener, metal


def _lowest(system: str) -> fasteners.Grade:
    if system == "metric":
        return fasteners.grade("4.6")
    ksi = fasteners.MPA_PER_KSI
    base = fasteners.grade("grade 2")
    recalled = Citation(base.source.source, "grade 1", True)
    return fasteners.Grade("grade 1", "unified", 33.0 * ksi, 36.0 * ksi, 60.0 * ksi, base.shear_share, recalled)
