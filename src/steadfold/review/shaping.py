"""From a part as ordered to its resolved shape: the shop's radius and K, the panels, flat and folded."""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadfold.catalogue import Material, NotInCatalogue
from steadfold.fabricate.bend_table import bend_rule
from steadfold.fabricate.shop import Shop
from steadfold.findings import Finding, Severity
from steadfold.job.models import CadFile, Job, JobPart
from steadfold.job.problem import JobProblems, Problem
from steadfold.job.ready import tree_at
from steadfold.quantities import show_length
from steadfold.review.records import Assumption
from steadfold.review.seams import seam_hold
from steadfold.sheet.cad_file import CadRefused
from steadfold.sheet.from_flat.reading import LineBend, read_dxf
from steadfold.sheet.from_solid.reading import CadReading, RecognisedPart, read_step
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import BendChoice, BendRule, Resolved, resolve
from steadfold.sheet.seams import SeamError, seamed
from steadfold.sheet.shapes.shape import ShapeError
from steadfold.sheet.tree import PanelTree, TreeError


@dataclass(frozen=True)
class Shaped:
    """A resolved part with what was found and assumed on the way; `part` is None when it could not be had."""

    part: Part | None
    thickness_mm: float | None
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]

    @property
    def stopped(self) -> bool:
        """True when the shape itself cannot be made."""
        return any(finding.severity is Severity.STOP for finding in self.findings)


def rule_for(ordered: JobPart, material: Material, shop: Shop, thickness_mm: float) -> BendRule:
    """Radius and K of every bend of a part: the job's own first, then the shop's table, then DIN 6935."""
    shops = bend_rule(shop, material, thickness_mm, ordered.k_factor)

    def rule(angle_rad: float, inside_radius_mm: float | None) -> BendChoice:
        wanted = inside_radius_mm if inside_radius_mm is not None else ordered.inside_radius_mm
        return shops(angle_rad, wanted)

    return rule


def shaped(job: Job, ordered: JobPart, material: Material, shop: Shop) -> Shaped:
    """The part's resolved shape.

    Raises `JobProblems` with file and line when its panels cannot be built.
    """
    if ordered.cad is not None:
        return _read(job, ordered, ordered.cad, material, shop)
    assert ordered.thickness_mm is not None
    rule = rule_for(ordered, material, shop, ordered.thickness_mm)
    usual = rule(math.pi / 2, None)
    try:
        tree = tree_at(ordered, usual.inside_radius_mm)
        assert tree is not None
        resolved = resolve(tree, ordered.name, ordered.thickness_mm, rule)
        part = _joined(job, ordered, resolved.part, tree, material)
    except ShapeError as error:
        raise JobProblems([job.text.problem((*ordered.path, error.key), str(error))]) from None
    except TreeError as error:
        raise JobProblems([_at_panel(job, ordered, error)]) from None
    findings = (*resolved.findings, *_gauge(ordered))
    return Shaped(part, ordered.thickness_mm, findings, _assumed(ordered, resolved, usual))


def _joined(job: Job, ordered: JobPart, part: Part, tree: PanelTree, material: Material) -> Part:
    """The part with its seams, each with what it may carry."""
    for number, drawn in enumerate(ordered.seams):
        try:
            part = seamed(part, tree, drawn, seam_hold(drawn, material, part.thickness_mm))
        except SeamError as error:
            raise JobProblems([job.text.problem((*ordered.path, "seam", number, error.field), str(error))]) from None
        except NotInCatalogue as error:
            raise JobProblems([job.text.problem((*ordered.path, "seam", number, "fastener"), str(error))]) from None
    return part


def _read(job: Job, ordered: JobPart, cad: CadFile, material: Material, shop: Shop) -> Shaped:
    """The part of a STEP or DXF file."""
    try:
        reading = read_cad(cad, ordered, material, shop)
        chosen = _chosen(reading, cad)
    except CadRefused as error:
        raise JobProblems([job.text.problem((*ordered.path, "file"), str(error))]) from None
    part = chosen.part.renamed(ordered.name)
    findings = [*reading.findings, *chosen.findings, *_disagreement(ordered, part)]
    return Shaped(part, part.thickness_mm, tuple(findings), assumed_k(part))


def read_cad(cad: CadFile, ordered: JobPart, material: Material, shop: Shop) -> CadReading:
    """Everything a CAD file holds, with the shop's K for its bends. Raises `CadRefused`."""
    if cad.kind == "step":
        return read_step(
            cad.file,
            ordered.k_factor,
            lambda thickness_mm: rule_for(ordered, material, shop, thickness_mm),
            ordered.inside_radius_mm,
            cad.units,
        )
    if ordered.thickness_mm is None:
        raise CadRefused("a flat drawing has no thickness; give it in the job")
    return read_dxf(
        cad.file,
        ordered.thickness_mm,
        bend_rule=rule_for(ordered, material, shop, ordered.thickness_mm),
        layers=dict(cad.layers) or None,
        bends=[LineBend(b.line, b.angle_rad, b.inside_radius_mm) for b in cad.bends],
        bend_angle_rad=cad.bend_angle_rad,
        units=cad.units,
    )


def _chosen(reading: CadReading, cad: CadFile) -> RecognisedPart:
    if cad.body is None:
        return reading.only()
    if not 0 <= cad.body < len(reading.parts):
        raise CadRefused(f"the file holds {len(reading.parts)} parts, numbered from 0; there is no part {cad.body}")
    return reading.parts[cad.body]


def _disagreement(ordered: JobPart, part: Part) -> list[Finding]:
    """The job's thickness beside the drawing's."""
    wanted = ordered.thickness_mm
    if wanted is None or abs(wanted - part.thickness_mm) <= 0.02 * part.thickness_mm:
        return []
    return [
        Finding(
            "files-disagree",
            Severity.STOP,
            ordered.name,
            f"The job says {show_length(wanted)} and the drawing is {show_length(part.thickness_mm)} thick.",
            wanted,
            part.thickness_mm,
            "the drawing",
            "draw it again for this sheet, or order the drawing's thickness",
        )
    ]


def _at_panel(job: Job, ordered: JobPart, error: TreeError) -> Problem:
    """The problem at the panel's own lines, where the job drew it itself."""
    path = ordered.path
    tree: PanelTree | None = ordered.tree
    if ordered.shape == "panels" and tree is not None:
        names = [panel.name for panel in tree.panels]
        if error.panel in names:
            path = (*path, "panel", names.index(error.panel), error.field)
    return job.text.problem(path, str(error))


def _gauge(ordered: JobPart) -> list[Finding]:
    gauge = ordered.gauge
    if gauge is None:
        return []
    inch, mm = show_length(gauge.mm, "in", 4), show_length(gauge.mm)
    finding = Finding(
        "gauge-unclear",
        Severity.NOTE,
        ordered.name,
        f"{gauge.number} gauge in {gauge.table} is {mm} ({inch}); the same number is another thickness in another "
        "metal, so the order says the thickness.",
        gauge.mm,
        None,
        gauge.source.sentence,
        "order by thickness, not by gauge",
    )
    return [finding]


def _assumed(ordered: JobPart, resolved: Resolved, usual: BendChoice) -> tuple[Assumption, ...]:
    found = []
    if ordered.inside_radius_mm is None and resolved.part.bends:
        found.append(
            Assumption(
                "inside radius of the bends",
                show_length(usual.inside_radius_mm),
                "follows the shop's die: common practice, no source",
                "flat sizes",
            )
        )
    return (*found, *assumed_k(resolved.part))


def assumed_k(part: Part) -> tuple[Assumption, ...]:
    """What K-factor the bends have, and by which rule."""
    found = []
    for source in dict.fromkeys(bend.k_source for bend in part.bends):
        shares = sorted({round(bend.k_factor, 4) for bend in part.bends if bend.k_source == source})
        spread = f"{shares[0]:g}" if len(shares) == 1 else f"{shares[0]:g} to {shares[-1]:g}"
        found.append(Assumption("K-factor of the bends", spread, source, "flat sizes"))
    return tuple(found)
