"""A step of the bend order seen along the bend line: the part and the tools as sections, for a picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from steadfold.catalogue.materials import Material
from steadfold.fabricate.bend_order import BendSearch
from steadfold.fabricate.bend_plan import BendPlan, BendStep
from steadfold.fabricate.bodies import turned_by
from steadfold.fabricate.brake_check import Tooling
from steadfold.fabricate.sections import box, padded
from steadfold.fabricate.shop import Die, Shop
from steadfold.sheet.part import Part

RAM_SHOWN_MM = 60.0
BED_SHOWN_MM = 40.0


@dataclass(frozen=True)
class Section:
    """One closed outline (n, 2) in (y, z): y to the back of the brake, z up, the origin at the punch's tip on the
    inner face of the bend. `what` is 'panel', 'bend', 'punch', 'ram', 'die' or 'bed'."""

    name: str
    what: str
    corners: np.ndarray


@dataclass(frozen=True)
class StepView:
    """All sections of one moment of a step, tools last."""

    turned_rad: float
    sections: tuple[Section, ...]


def plan_views(
    part: Part, material: Material, shop: Shop, plan: BendPlan, shares: tuple[float, ...] = (0.0, 1.0)
) -> tuple[tuple[StepView, ...], ...]:
    """For every step of a plan its views at shares of its angle (0 flat, 1 bent); plates and ram of a hem that is
    pressed flat are shown closed."""
    search = BendSearch(part, material, shop)
    return tuple(tuple(_view(search, step, share) for share in shares) for step in plan.steps)


def _view(search: BendSearch, step: BendStep, share: float) -> StepView:
    names = {tooling.name: tooling for tooling in search.toolings}
    pressed = step.work == "press flat"
    tooling = Tooling(None, search.toolings[-1].die) if pressed else names[step.tool]
    turned = step.angle_rad if pressed else share * step.angle_rad
    return StepView(turned, (*_metal(search, step, turned, pressed), *_tools(search, step, tooling, turned)))


def _metal(search: BendSearch, step: BendStep, turned: float, pressed: bool) -> list[Section]:
    bodies, index = search.bodies, step.stroke
    stroke, t = bodies.strokes[index], search.part.thickness_mm
    found = []
    for place, body in enumerate(bodies.seen_from[index]):
        back = step.child_at_back == body.on_child
        what = "panel" if body.strip is None else "bend"
        for polygon in bodies.sections(index, place, step.made_before, (-math.inf, math.inf)):
            corners = turned_by(padded([polygon]), stroke, t, np.array([turned]), back)[0, 0]
            found.append(Section(body.name, what, _levelled(search, step, corners, turned) if pressed else corners))
    strip = _own_strip(search, step, turned)
    found.append(Section("bend", "bend", _levelled(search, step, strip, turned) if pressed else strip))
    return found


def _own_strip(search: BendSearch, step: BendStep, turned: float) -> np.ndarray:
    """The strip being bent, as a band of its thickness round an arc."""
    stroke, t = search.strokes[step.stroke], search.part.thickness_mm
    share = min(turned / abs(stroke.angle_rad), 1.0)
    length = stroke.allowance_mm + share * (stroke.middle_length_mm - stroke.allowance_mm)
    if turned < 1e-6:
        return box(-0.5 * length, 0.5 * length, -t, 0.0)
    radius = length / turned
    angles = np.linspace(-0.5 * turned, 0.5 * turned, 25)
    inner = [((radius - 0.5 * t) * math.sin(a), radius - (radius - 0.5 * t) * math.cos(a)) for a in angles]
    outer = [((radius + 0.5 * t) * math.sin(a), radius - (radius + 0.5 * t) * math.cos(a)) for a in angles[::-1]]
    return np.array(inner + outer) - np.array([0.0, 0.5 * t])


def _levelled(search: BendSearch, step: BendStep, corners: np.ndarray, turned: float) -> np.ndarray:
    """Turned so that the parent's side of a hem lies level on the lower plate, its upper face at height 0."""
    t = search.part.thickness_mm
    half = 0.5 * turned
    side = -1.0 if step.child_at_back else 1.0
    stroke = search.strokes[step.stroke]
    radius = stroke.middle_length_mm / abs(stroke.angle_rad)
    end = np.array([side * radius * math.sin(half), radius * (1 - math.cos(half)) - 0.5 * t])
    # The parent's side rises by half the angle; turn it back down about the end of its arc.
    angle = -side * half
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    levelled: np.ndarray = (corners - end) @ turn.T - np.array([0.0, 0.5 * t])
    return levelled


def _tools(search: BendSearch, step: BendStep, tooling: Tooling, turned: float) -> list[Section]:
    brake, t = search.shop.brake, search.part.thickness_mm
    die, bed = tooling.die, brake.bed_half_width_mm
    if tooling.punch is None:
        half = brake.flattening_half_width_mm
        top = 2 * search.strokes[step.stroke].inside_radius_mm + t
        return [
            Section("upper plate", "punch", box(-half, half, top, top + BED_SHOWN_MM)),
            Section("lower plate", "die", box(-half, half, -t - BED_SHOWN_MM, -t)),
        ]
    punch, z = tooling.punch, search.check.die_height_mm(step.stroke, tooling, turned)
    clamp, height = punch.clamp_half_width_mm, punch.height_mm
    return [
        Section(punch.name, "punch", punch.outline.vertices(0.05)),
        Section("ram", "ram", box(-clamp, clamp, height, height + RAM_SHOWN_MM)),
        Section(die.name, "die", _die_outline(die, z)),
        Section("bed", "bed", box(-bed, bed, z - die.height_mm - BED_SHOWN_MM, z - die.height_mm)),
    ]


def _die_outline(die: Die, top_mm: float) -> np.ndarray:
    """The block with its V, as deep as its angle asks for, but not through its foot."""
    depth = min(0.5 * die.v_mm / math.tan(0.5 * (math.pi - die.max_bend_rad)), 0.8 * die.height_mm)
    half, foot, v = die.half_width_mm, top_mm - die.height_mm, 0.5 * die.v_mm
    return np.array([
        (-half, foot), (half, foot), (half, top_mm), (v, top_mm), (0.0, top_mm - depth), (-v, top_mm), (-half, top_mm)
    ])
