"""From a drawn panel tree to a resolved part: radii and allowances chosen, edges trimmed, reliefs made, cutouts cut."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import shapely

from steadfold.findings import Finding, Severity
from steadfold.sheet.allowance import bend_allowance, din_6935_k_factor, setback
from steadfold.sheet.cutouts import cut_out
from steadfold.sheet.gates import Gate
from steadfold.sheet.outline import Face, Outline, rectangle
from steadfold.sheet.part import Bend, Panel, Part
from steadfold.sheet.tree import DrawnPanel, PanelTree, TreeError, check_tree
from steadfold.sheet.trim import trim

PAST_TANGENT_MM = 0.5
"""How far a relief goes past the tangent line (common practice, no source)."""


@dataclass(frozen=True)
class BendChoice:
    """Inside radius and K-factor of one bend, and where they come from."""

    inside_radius_mm: float
    k_factor: float
    source: str


BendRule = Callable[[float, float | None], BendChoice]
"""From a bend angle (rad) and an inside radius (mm, or None for 'choose') to what the bend will be."""


@dataclass(frozen=True)
class ReliefRule:
    """How reliefs are made: `width_mm` None is one thickness (at least 1 mm); `rounded` gives a round bottom.

    Width at least t, depth at least r + t: common practice, no source.
    """

    width_mm: float | None = None
    rounded: bool = False

    def width(self, thickness_mm: float) -> float:
        """Width of a notch in sheet of this thickness."""
        return self.width_mm if self.width_mm is not None else max(thickness_mm, 1.0)


@dataclass(frozen=True)
class Resolved:
    """A resolved part and what was noticed or decided on the way."""

    part: Part
    findings: tuple[Finding, ...]


def din_rule(thickness_mm: float, radius_mm: float, k_factor: float | None = None) -> BendRule:
    """A bend rule with one radius for every bend that names none, and K by DIN 6935 unless it is given."""

    def rule(angle_rad: float, inside_radius_mm: float | None) -> BendChoice:
        radius = radius_mm if inside_radius_mm is None else inside_radius_mm
        if k_factor is not None:
            return BendChoice(radius, k_factor, "given in the job")
        return BendChoice(radius, din_6935_k_factor(radius, thickness_mm), "DIN 6935")

    return rule


def resolve(
    tree: PanelTree, name: str, thickness_mm: float, rule: BendRule, relief: ReliefRule | None = None
) -> Resolved:
    """Resolve a panel tree into a part.

    Raises `TreeError` naming the panel and field when the tree cannot be built.
    """
    builder = _Builder(tree, thickness_mm, rule, relief or ReliefRule())
    part = builder.part(name)
    return Resolved(part, tuple(builder.findings))


@dataclass(frozen=True)
class _Hung:
    """A child on its parent's edge: bend choice, setback, and its span along the parent's edge, run anticlockwise."""

    child: DrawnPanel
    choice: BendChoice
    setback_mm: float
    edge: int
    edge_start_is_first: bool
    edge_length_mm: float
    near: tuple[float, float]


class _Builder:
    def __init__(self, tree: PanelTree, thickness_mm: float, rule: BendRule, relief: ReliefRule):
        self.tree = tree
        self.thickness = thickness_mm
        self.rule = rule
        self.relief = relief
        self.findings: list[Finding] = []
        self.index = {panel.name: i for i, panel in enumerate(tree.panels)}
        self.trimmed: list[Outline] = []
        self.spans: dict[str, tuple[float, float]] = {}
        check_tree(tree)

    def part(self, name: str) -> Part:
        """Everything, in order: trim from the root outward, lay out, cut."""
        bends: list[Bend] = []
        hung_by_parent: dict[str, list[_Hung]] = {}
        for panel in self.tree.panels:
            if panel.parent is not None:
                hung_by_parent.setdefault(panel.parent, []).append(self._hung(panel))
        own: dict[str, _Hung] = {h.child.name: h for hs in hung_by_parent.values() for h in hs}
        for panel in self.tree.panels:
            bends.extend(self._panel(panel, own.get(panel.name), hung_by_parent.get(panel.name, [])))
        panels = tuple(
            Panel(p.name, (Face(o),), _extent(p.outline)) for p, o in zip(self.tree.panels, self.trimmed, strict=True)
        )
        places = tuple((n, tuple(self.index[m] for m in members)) for n, members in self.tree.places)
        whole = Part(name, self.thickness, panels, tuple(_walked(bends)), places)
        cut, found = cut_out(whole, self.tree)
        self.findings += found
        return cut

    def _hung(self, child: DrawnPanel) -> _Hung:
        parent = self.tree.panels[self.index[child.parent or ""]]
        edge, start, end = parent.edge_line(child.edge)
        first = parent.outline.points[edge]
        choice = self.rule(child.angle_rad, child.inside_radius_mm)
        s = setback(child.angle_rad, choice.inside_radius_mm, self.thickness)
        near = _near_span(child, s)
        length = math.dist(start, end)
        reach = min(child.offset_mm + near[1], length) - max(child.offset_mm + near[0], 0.0)
        if reach < 0.5:
            raise TreeError(
                child.name,
                "offset",
                f"panel {child.name!r} lies beside the edge of {parent.name!r} it should hang on, which is {length:g} mm long",
            )
        return _Hung(child, choice, s, edge, math.dist(first, start) < 1e-9, length, near)

    def _gate_on_parent(self, hung: _Hung, clockwise: bool) -> Gate:
        low, high = hung.child.offset_mm + hung.near[0], hung.child.offset_mm + hung.near[1]
        forward = hung.edge_start_is_first != clockwise
        if not forward:
            low, high = hung.edge_length_mm - high, hung.edge_length_mm - low
        return self._gate(hung, hung.edge, low, high, hung.child.name)

    def _gate(self, hung: _Hung, edge: int, low: float, high: float, neighbour: str) -> Gate:
        reach = hung.choice.inside_radius_mm + self.thickness
        depth = max(hung.setback_mm, reach) + PAST_TANGENT_MM
        return Gate(
            edge,
            low,
            high,
            hung.setback_mm,
            self.relief.width(self.thickness),
            depth,
            self.relief.rounded,
            neighbour,
        )

    def _panel(self, panel: DrawnPanel, own: _Hung | None, hung: list[_Hung]) -> list[Bend]:
        """Trim one panel; give the bends to its children, and narrow children to what their bends were left."""
        outline, clockwise = panel.outline, panel.outline.area_mm2 < 0
        count = len(outline.points)
        shift = 0.0
        if clockwise:
            outline = outline.reversed()
        span = self.spans.get(panel.name)
        if span is not None and panel.rectangular:
            low, high = span
            shift = low - outline.bounds[0]
            height = outline.bounds[3] - outline.bounds[1]
            outline = rectangle(high - low, height, (low, outline.bounds[1]))
        gates = []
        if own is not None:
            near_edge = _near_edge(outline)
            low, high = span if span is not None else own.near
            start_x = outline.points[near_edge][0]
            gate = self._gate(own, near_edge, low - start_x, high - start_x, panel.parent or "")
            gates.append(replace(gate, keeps=True))
        for h in hung:
            gate = self._gate_on_parent(h, clockwise)
            edge = (count - 2 - gate.edge) % count if clockwise else gate.edge
            if shift and edge in (0, 2):
                gate = self._shifted(gate, edge, shift, span, h)
            gates.append(replace(gate, edge=edge))
        trimmed = trim(panel.name, outline, gates, panel.corner_radius_mm)
        self.trimmed.append(trimmed.outline)
        if trimmed.reliefs:
            self._say_reliefs(panel.name, trimmed.reliefs, gates[0])
        final = trimmed.gates[1:] if own is not None else trimmed.gates
        bends = []
        for h, gate, wanted in zip(hung, final, gates[1:] if own is not None else gates, strict=True):
            bends.append(self._bend(panel, outline, h, gate, wanted, clockwise))
        return bends

    def _shifted(self, gate: Gate, edge: int, shift: float, span: tuple[float, float] | None, hung: _Hung) -> Gate:
        """A gate of a panel that was narrowed: bottom and top edges begin later."""
        assert span is not None
        low, high = gate.start_mm, gate.end_mm
        lost = shift if edge == 0 else hung.edge_length_mm - span[1]
        return replace(gate, start_mm=low - lost, end_mm=high - lost)

    def _bend(
        self, panel: DrawnPanel, outline: Outline, hung: _Hung, gate: Gate, wanted: Gate, clockwise: bool
    ) -> Bend:
        child = hung.child
        points = outline.points
        first, last = points[gate.edge], points[(gate.edge + 1) % len(points)]
        length = math.dist(first, last)
        along = ((last[0] - first[0]) / length, (last[1] - first[1]) / length)
        outward = (along[1], -along[0])
        forward = hung.edge_start_is_first != clockwise
        if forward:
            at, direction = gate.start_mm, along
            cut_low, cut_high = gate.start_mm - wanted.start_mm, wanted.end_mm - gate.end_mm
        else:
            at, direction = gate.end_mm, (-along[0], -along[1])
            cut_low, cut_high = wanted.end_mm - gate.end_mm, gate.start_mm - wanted.start_mm
        point = (
            first[0] + at * along[0] - gate.setback_mm * outward[0],
            first[1] + at * along[1] - gate.setback_mm * outward[1],
        )
        low, high = hung.near[0] + cut_low, hung.near[1] - cut_high
        if cut_low > 1e-6 or cut_high > 1e-6:
            self._say_corner(panel.name, child, cut_low, cut_high)
            self.spans[child.name] = (low, high)
        width = gate.end_mm - gate.start_mm
        choice = hung.choice
        allowance = bend_allowance(child.angle_rad, choice.inside_radius_mm, self.thickness, choice.k_factor)
        return Bend(
            self.index[panel.name],
            self.index[child.name],
            child.angle_rad,
            choice.inside_radius_mm,
            choice.k_factor,
            width,
            point,
            direction,
            outward,
            (low, hung.setback_mm),
            (1.0, 0.0),
            (0.0, 1.0),
            (Face(rectangle(width, allowance)),),
            self.thickness,
            choice.source,
        )

    def _say_reliefs(self, panel: str, count: int, gate: Gate) -> None:
        self.findings.append(
            Finding(
                "relief-made",
                Severity.NOTE,
                panel,
                f"{count} bend relief{'s' if count > 1 else ''} cut in {panel!r}: {gate.relief_width_mm:.2f} mm wide, "
                f"{gate.relief_depth_mm:.2f} mm deep from the outside of the bend.",
                gate.relief_depth_mm,
                None,
                "common practice, no source: width at least t, depth at least r + t",
            )
        )

    def _say_corner(self, panel: str, child: DrawnPanel, low: float, high: float) -> None:
        self.findings.append(
            Finding(
                "corner-opened",
                Severity.NOTE,
                child.name,
                f"Panel {child.name!r} was made {low + high:.2f} mm narrower than drawn, so that its bend on {panel!r} "
                "stops where the bend beside it begins; the corner stays open.",
                low + high,
                None,
                "geometry",
            )
        )


def _near_edge(outline: Outline) -> int:
    """The segment of a hung panel's outline that lies on y = 0; the longest, if there are several."""
    best, length = -1, 0.0
    for index, (start, end, bulge) in enumerate(outline.segments()):
        if not bulge and abs(start[1]) < 1e-6 and abs(end[1]) < 1e-6 and math.dist(start, end) > length:
            best, length = index, math.dist(start, end)
    return best


def _near_span(child: DrawnPanel, setback_mm: float) -> tuple[float, float]:
    """The part of a hung panel's near edge that has metal behind it as deep as the bend's setback."""
    outline = child.outline.anticlockwise()
    edge = _near_edge(outline)
    if edge < 0:
        raise TreeError(
            child.name,
            "outline",
            f"panel {child.name!r} hangs on a bend, so its outline needs a straight edge on y = 0",
        )
    start, end = outline.points[edge], outline.points[(edge + 1) % len(outline.points)]
    if end[0] < start[0]:
        raise TreeError(child.name, "outline", f"the outline of panel {child.name!r} must lie above its edge on y = 0")
    if child.rectangular:
        return start[0], end[0]
    level = shapely.LineString([(start[0] - 1e-9, setback_mm), (end[0] + 1e-9, setback_mm)])
    runs = [g.bounds for g in shapely.get_parts(outline.polygon().intersection(level)) if g.geom_type == "LineString"]
    if not runs:
        raise TreeError(
            child.name,
            "outline",
            f"panel {child.name!r} ends within its own bend, which takes {setback_mm:.2f} mm of it; make it deeper",
        )
    widest = max(runs, key=lambda b: b[2] - b[0])
    low = start[0] if widest[0] - start[0] < 1e-6 else widest[0]
    high = end[0] if end[0] - widest[2] < 1e-6 else widest[2]
    return low, high


def _extent(outline: Outline) -> tuple[float, float]:
    x0, y0, x1, y1 = outline.bounds
    return x1 - x0, y1 - y0


def _walked(bends: list[Bend]) -> list[Bend]:
    """Bends so ordered that every parent is placed before its children."""
    placed, order, left = {0}, [], list(bends)
    while left:
        ready = [b for b in left if b.parent in placed]
        order.extend(ready)
        placed.update(b.child for b in ready)
        left = [b for b in left if b not in ready]
    return order
