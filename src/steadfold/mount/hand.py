"""Hand formulas beside the model's numbers, with the values put in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from steadfold.joints.capacity import FixingCapacity
from steadfold.joints.lever import prying_l_flange, prying_tee, tension_from_overhang_n
from steadfold.mechanics import Result
from steadfold.mount.answers import Answer
from steadfold.mount.records import HandCheck
from steadfold.mount.structure import Mounted
from steadfold.quantities import weight_n

PARTS_BY = 0.15
"""From this difference on a reason is given."""


@dataclass(frozen=True)
class _Root:
    """The bend between the fixed panel and one that stands out: its number, the cut where the model is read, what hangs
    beyond it (N), how far out (mm), and whether it bends the sheet in its own plane, on edge."""

    bend: int
    place: str
    name: str
    force_n: float
    lever_mm: float
    on_edge: bool
    nodes: np.ndarray


def hand_checks(
    here: Mounted, resting: Answer, result: Result, capacity: FixingCapacity | None = None
) -> tuple[HandCheck, ...]:
    """Root bending of the panel that carries most, its sag as a cantilever, the pull of the fixings, and how much an L or a T
    pries on them; a T wants the `capacity` of a fixing."""
    found: list[HandCheck] = []
    roots = [root for number in range(len(here.part.bends)) if (root := _root(here, number)) is not None]
    if roots:
        found += _root_checks(
            here, resting, result, max(roots, key=lambda r: r.force_n * r.lever_mm / _modulus(here, r))
        )
    pull = _pull_check(here, resting)
    if pull is not None:
        found.append(pull)
    pries = _prying_check(here, resting, pull, capacity)
    if pries is not None:
        found.append(pries)
    return tuple(found)


def _root(here: Mounted, number: int) -> _Root | None:
    """A bend off the fixed panel as a root; None where nothing hangs beyond it."""
    bend, fixed = here.part.bends[number], here.fixings.panel
    if fixed not in (bend.parent, bend.child):
        return None
    child = here.part.panels[bend.child].name
    outer = bend.child if bend.parent == fixed else bend.parent
    beyond = _beyond(here, outer, fixed)
    mine = [(i, n) for i, n in zip(here.items, here.load_nodes, strict=True) if i.panel in beyond]
    if not mine:
        return None
    pose = here.pose.bends[number]
    on_edge = abs(float(here.pose.panels[outer].face @ here.down)) < 0.5
    frame = pose.end() if on_edge and bend.parent == fixed else pose.start
    force = sum(weight_n(item.mass_kg.high) for item, _ in mine)
    moment = sum(weight_n(i.mass_kg.high) * abs(float((here.nodes_mm[n] - frame.origin) @ here.out)) for i, n in mine)
    place = f"outer side of the bend to {child}" if on_edge and bend.parent == fixed else f"root of {child}"
    nodes = np.array([n for _, n in mine])
    return _Root(number, place, here.part.panels[outer].name, force, moment / force, on_edge, nodes)


def _beyond(here: Mounted, start: int, fixed: int) -> set[int]:
    """Panels that are reached from one without crossing the fixed panel."""
    found, open_ones = {start}, [start]
    while open_ones:
        panel = open_ones.pop()
        for bend in here.part.bends:
            for one, other in ((bend.parent, bend.child), (bend.child, bend.parent)):
                if one == panel and other != fixed and other not in found:
                    found.add(other)
                    open_ones.append(other)
    return found


def _width_mm(here: Mounted, root: _Root) -> float:
    bend = here.part.bends[root.bend]
    return sum(f.area_mm2 for f in bend.faces) / bend.allowance_mm


def _modulus(here: Mounted, root: _Root) -> float:
    b, t = _width_mm(here, root), here.part.thickness_mm
    return t * b * b / 6 if root.on_edge else b * t * t / 6


def _root_checks(here: Mounted, resting: Answer, result: Result, root: _Root) -> list[HandCheck]:
    t, b = here.part.thickness_mm, _width_mm(here, root)
    force, lever, name = root.force_n, root.lever_mm, root.name
    by_hand = force * lever / _modulus(here, root)
    by_model = resting.cut_stress_mpa.get(root.place, float("nan"))
    even = "own weight, pull and shear are in the model's value, and a wide root does not bend evenly"
    stress = HandCheck(
        f"bending at the root of {name}, resting",
        "P a / (t b² / 6)" if root.on_edge else "P a / (b t² / 6)",
        f"{force:.1f} × {lever:.1f} / ({t:g} × {b:.1f}² / 6)"
        if root.on_edge
        else f"{force:.1f} × {lever:.1f} / ({b:.1f} × {t:g}² / 6)",
        by_hand,
        by_model,
        "MPa",
        _why(
            by_model,
            by_hand,
            "a bend on edge also twists, and hands part of its load to the back" if root.on_edge else even,
        ),
    )
    inertia = t * b**3 / 12 if root.on_edge else b * t**3 / 12
    sag_by_hand = force * lever**3 / (3 * here.metal.modulus_mpa * inertia)
    sag_by_model = float(np.mean(result.displacement[root.nodes, :3] @ here.down))
    sag = HandCheck(
        f"sag of the load on {name}, resting",
        "P a³ / (3 E t b³ / 12)" if root.on_edge else "P a³ / (3 E b t³ / 12)",
        f"{force:.1f} × {lever:.1f}³ / (3 × {here.metal.modulus_mpa:.0f} × {inertia:.1f})",
        sag_by_hand,
        sag_by_model,
        "mm",
        _why(sag_by_model, sag_by_hand, _where_it_sags(here, result, root, sag_by_model, sag_by_hand)),
    )
    return [stress, sag]


def _where_it_sags(here: Mounted, result: Result, root: _Root, sag_mm: float, by_hand_mm: float) -> str:
    """Why the model's sag is not the rigid root's: what of it the root's sinking and turning make, and what is left for the
    sheet beyond it."""
    bend = here.part.bends[root.bend]
    ends = np.asarray(here.mesh.tangent_nodes[root.bend][1 if bend.parent == here.fixings.panel else 0])
    sideways = np.cross(here.out, here.down)
    sunk = float((result.displacement[ends, :3] @ here.down).mean())
    lever = float(np.mean((here.nodes_mm[root.nodes] - here.nodes_mm[ends].mean(axis=0)) @ here.out))
    turned = float((result.displacement[ends, 3:] @ sideways).mean()) * lever
    rest = sag_mm - sunk - turned
    said = (
        f"the formula holds the root rigid; in the model the bend, the back and the fixings give: of {sag_mm:.3g} mm the root's sinking "
        f"makes {sunk:.2g} and its turning {turned:.2g} mm, the sheet beyond it {rest:.2g} mm"
    )
    if by_hand_mm and rest < (1 - PARTS_BY) * by_hand_mm:
        return f"{said}; lips, sides and a short lever make that less than the formula's"
    if by_hand_mm and rest > (1 + PARTS_BY) * by_hand_mm:
        return f"{said}; it bends unevenly along a wide root, shears and twists, which the formula does not know"
    return said


def _pull_check(here: Mounted, resting: Answer) -> HandCheck | None:
    """Pull of all fixings from the moment about the lowest point of the back."""
    frame = here.pose.panels[here.fixings.panel]
    on_wall = list({panel for panel, _ in here.holes})
    panel_nodes = here.nodes_mm[: here.mesh.node_count][np.isin(here.mesh.node_region, on_wall)]
    low = float((panel_nodes @ here.down).max())
    heights = [low - float(here.nodes_mm[n] @ here.down) for n in here.bolt_nodes]
    rear = frame.origin - 0.5 * here.part.thickness_mm * here.out
    moment = sum(
        weight_n(item.mass_kg.high) * float((here.nodes_mm[node] - rear) @ here.out)
        for item, node in zip(here.items, here.load_nodes, strict=True)
    )
    if abs(float(here.out @ here.down)) > 0.1 or moment <= 0 or max(heights, default=0.0) <= 0:
        return None
    by_hand = sum(tension_from_overhang_n(moment, heights))
    by_model = sum(tension for tension, _, _ in resting.bolts)
    return HandCheck(
        "pull of all fixings together, resting",
        "Σ M h / Σ h², about the lower edge",
        f"M = {moment:.0f} N mm, h = {', '.join(f'{h:.0f}' for h in sorted({round(h) for h in heights}))} mm",
        by_hand,
        by_model,
        "N",
        _why(
            by_model,
            by_hand,
            "the formula turns a rigid back about its lower edge; in the model the back bends, bears where it touches and "
            "pries on the fixings",
        ),
    )


@dataclass(frozen=True)
class _Flange:
    """A flange on the wall that a panel square to it pulls on: from that panel's middle to the one row of fixings (mm), from
    there to the flange's far edge, its length along the row, and how many fixings it has."""

    lever_mm: float
    toe_mm: float
    length_mm: float
    fixings: int


def _prying_check(
    here: Mounted, resting: Answer, pull: HandCheck | None, capacity: FixingCapacity | None
) -> HandCheck | None:
    """How many times the pull the fixings take, where a flange is pulled straight off: of an L by `1 + b / a`, of a pair of
    flanges as a T. None where the part is neither, or nothing pulls."""
    hanging = float(here.out @ here.down) > 0.9
    if hanging:
        force = sum(weight_n(item.mass_kg.high) for item in here.items)
        force += weight_n(here.part.volume_mm3 * here.metal.density_kg_m3 * 1e-9)
    else:
        force = pull.by_hand if pull is not None else 0.0
    on_wall = sorted({panel for panel, _ in here.holes})
    flanges = [_flange(here, panel, hanging) for panel in on_wall]
    if force <= 0 or any(flange is None for flange in flanges):
        return None
    known = [flange for flange in flanges if flange is not None]
    by_model = sum(tension for tension, _, _ in resting.bolts) / force
    t, lever, toe = here.part.thickness_mm, max(f.lever_mm for f in known), min(f.toe_mm for f in known)
    if len(known) == 1:
        by_hand = prying_l_flange(lever, toe)
        return HandCheck(
            "prying of the flange, resting",
            "1 + b / a, over the pull of the load alone",
            f"b = {lever:.1f}, a = {toe:.1f} mm, pull {force:.0f} N",
            by_hand,
            by_model,
            "times the pull",
            _why(
                by_model,
                by_hand,
                "the formula lets a stiff flange turn about its very edge; in the model it bends, its toe pushes inside its edge, and a is "
                "shorter"
                if by_model > by_hand
                else "an upper bound here: by the formula nothing but screw and toe holds the flange; in the model its panel "
                "and the wall keep it from turning too",
            ),
        )
    if len(known) != 2 or capacity is None or not capacity.tension_n or known[0].fixings != known[1].fixings:
        return None
    each, length = force / len(here.holes), min(f.length_mm / f.fixings for f in known)
    hole = max(hole.width_mm for _, hole in here.holes)
    if hole >= length:
        return None
    tee = prying_tee(
        each,
        capacity.tension_n,
        t,
        here.metal.yield_mpa,
        lever - 0.5 * t,
        toe,
        length,
        here.fixings.hole_least_mm,
        hole,
    )
    by_hand = tee.bolt_n / each
    return HandCheck(
        "prying of the two flanges, resting",
        "(T + Q) / T of a T (AISC, part 4)",
        f"T = {each:.0f} N a fixing of {capacity.tension_n:.0f} N, b = {lever - 0.5 * t:.1f}, a = {toe:.1f}, "
        f"p = {length:.1f}, t = {t:g} mm",
        by_hand,
        by_model,
        "times the pull",
        _why(
            by_model,
            by_hand,
            "the formula's prying is what balances a flange at its plastic limit; at rest the model's flange is elastic, and pries as its "
            "stiffness and the wall's have it",
        ),
    )


def _flange(here: Mounted, panel: int, hanging: bool) -> _Flange | None:
    """A panel on the wall as a flange with one row of fixings beside one panel square to it; None where it is none."""
    own = here.pose.panels[panel]
    bends = [
        (here.pose.bends[n], b.child if b.parent == panel else b.parent)
        for n, b in enumerate(here.part.bends)
        if panel in (b.parent, b.child)
    ]
    if len(bends) != 1:
        return None
    pose, outer = bends[0]
    along, plane = pose.start.along, here.pose.panels[outer]
    if abs(float(plane.face @ own.face)) > 0.1 or not (hanging or abs(float(along @ here.down)) > 0.9):
        return None
    mine = [(node, hole) for node, (p, hole) in zip(here.bolt_nodes, here.holes, strict=True) if p == panel]
    levers = [float((here.nodes_mm[node] - plane.origin) @ plane.face) for node, _ in mine]
    way = 1.0 if levers[0] > 0 else -1.0
    if max(levers) - min(levers) > 0.5 * mine[0][1].width_mm:
        return None  # two rows: the formula has one
    corners = own.points(np.concatenate([np.asarray(face.outer.points) for face in here.part.panels[panel].faces]))
    edge = float((way * ((corners - plane.origin) @ plane.face)).max())
    lever = way * float(np.mean(levers))
    if lever <= 0 or edge - lever <= 1e-6:
        return None
    return _Flange(lever, edge - lever, float(np.ptp(corners @ along)), len(mine))


def _why(by_model: float, by_hand: float, reason: str) -> str:
    return reason if by_hand and abs(by_model / by_hand - 1) > PARTS_BY else ""
