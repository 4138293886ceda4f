"""From a part as ordered to its resolved shape: the shop's radius and K, the panels, flat and folded."""

from __future__ import annotations

import math
from dataclasses import dataclass

from steadfold.catalogue import Material
from steadfold.fabricate.bend_table import bend_rule
from steadfold.fabricate.shop import Shop
from steadfold.findings import Finding, Severity
from steadfold.job.models import Job, JobPart
from steadfold.job.problem import JobProblems, Problem
from steadfold.job.ready import tree_at
from steadfold.quantities import show_length
from steadfold.review.records import Assumption
from steadfold.sheet.part import Part
from steadfold.sheet.resolve import BendChoice, BendRule, Resolved, resolve
from steadfold.sheet.shapes.shape import ShapeError
from steadfold.sheet.tree import PanelTree, TreeError


@dataclass(frozen=True)
class Shaped:
    """A resolved part with what was found and assumed on the way; `part` is None when it could not be had."""

    part: Part | None
    thickness_mm: float | None
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]


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
        return _not_read(ordered)
    assert ordered.thickness_mm is not None
    rule = rule_for(ordered, material, shop, ordered.thickness_mm)
    usual = rule(math.pi / 2, None)
    try:
        tree = tree_at(ordered, usual.inside_radius_mm)
        assert tree is not None
        resolved = resolve(tree, ordered.name, ordered.thickness_mm, rule)
    except ShapeError as error:
        raise JobProblems([job.text.problem((*ordered.path, error.key), str(error))]) from None
    except TreeError as error:
        raise JobProblems([_at_panel(job, ordered, error)]) from None
    findings = (*resolved.findings, *_gauge(ordered))
    return Shaped(resolved.part, ordered.thickness_mm, findings, _assumed(ordered, resolved, usual))


def _not_read(ordered: JobPart) -> Shaped:
    finding = Finding(
        "not-computed",
        Severity.UNPROVEN,
        ordered.name,
        f"Part {ordered.name!r} comes from {ordered.cad.path if ordered.cad else 'a file'}; this version does not read "
        "drawn parts yet, so nothing is said about it.",
    )
    return Shaped(None, ordered.thickness_mm, (finding,), ())


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
    for source in dict.fromkeys(bend.k_source for bend in resolved.part.bends):
        shares = sorted({round(bend.k_factor, 4) for bend in resolved.part.bends if bend.k_source == source})
        spread = f"{shares[0]:g}" if len(shares) == 1 else f"{shares[0]:g} to {shares[-1]:g}"
        found.append(Assumption("K-factor of the bends", spread, source, "flat sizes"))
    return tuple(found)
