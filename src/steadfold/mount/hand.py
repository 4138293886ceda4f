"""Hand formulas beside the model's numbers, with the values put in."""

from __future__ import annotations

import numpy as np

from steadfold.joints.lever import tension_from_overhang_n
from steadfold.mechanics import Result
from steadfold.mount.answers import Answer
from steadfold.mount.records import HandCheck
from steadfold.mount.structure import Mounted
from steadfold.quantities import weight_n

PARTS_BY = 0.15
"""From this difference on a reason is given."""


def hand_checks(here: Mounted, resting: Answer, result: Result) -> tuple[HandCheck, ...]:
    """Root bending of the panel that carries most, its sag as a cantilever, and the pull of the fixings."""
    found: list[HandCheck] = []
    root = _hardest_root(here)
    if root is not None:
        found += _root_checks(here, resting, result, *root)
    pull = _pull_check(here, resting)
    if pull is not None:
        found.append(pull)
    return tuple(found)


def _hardest_root(here: Mounted) -> tuple[int, float, float] | None:
    """The bend off the fixed panel whose child's items bend it most: bend, force N, lever mm to its root."""
    best: tuple[float, int, float, float] | None = None
    for number, bend in enumerate(here.part.bends):
        if bend.parent != here.fixings.panel:
            continue
        pose = here.pose.bends[number]
        mine = [
            (item, node) for item, node in zip(here.items, here.load_nodes, strict=True) if _hangs_on(here, item.panel, bend.child)
        ]
        if not mine:
            continue
        out = here.pose.panels[here.fixings.panel].face
        force = sum(weight_n(item.mass_kg.high) for item, _ in mine)
        moment = sum(
            weight_n(item.mass_kg.high) * abs(float((here.nodes_mm[node] - pose.start.origin) @ out)) for item, node in mine
        )
        if force > 0 and (best is None or moment / bend.length_mm > best[0]):
            best = (moment / bend.length_mm, number, force, moment / force)
    return None if best is None else (best[1], best[2], best[3])


def _hangs_on(here: Mounted, panel: int, child: int) -> bool:
    """Whether a panel is the child or hangs on it."""
    parents = {bend.child: bend.parent for bend in here.part.bends}
    while panel != child:
        if panel not in parents:
            return False
        panel = parents[panel]
    return True


def _root_checks(
    here: Mounted, resting: Answer, result: Result, number: int, force_n: float, lever_mm: float
) -> list[HandCheck]:
    bend = here.part.bends[number]
    t, b = here.part.thickness_mm, sum(f.area_mm2 for f in bend.faces) / bend.allowance_mm
    child = here.part.panels[bend.child].name
    section = b * t * t / 6
    by_hand = force_n * lever_mm / section
    by_model = resting.cut_stress_mpa.get(f"root of {child}", float("nan"))
    stress = HandCheck(
        f"bending at the root of {child}, resting",
        "P a / (b t² / 6)",
        f"{force_n:.1f} × {lever_mm:.1f} / ({b:.1f} × {t:g}² / 6)",
        by_hand,
        by_model,
        "MPa",
        _why(by_model, by_hand, "own weight, pull and shear are in the model's value, and a wide root does not bend evenly"),
    )
    inertia = b * t**3 / 12
    sag_by_hand = force_n * lever_mm**3 / (3 * here.metal.modulus_mpa * inertia)
    panel_nodes = [n for item, n in zip(here.items, here.load_nodes, strict=True) if _hangs_on(here, item.panel, bend.child)]
    sag_by_model = float(np.mean(result.displacement[panel_nodes, :3] @ here.down))
    sag = HandCheck(
        f"sag of the load on {child}, resting",
        "P a³ / (3 E b t³ / 12)",
        f"{force_n:.1f} × {lever_mm:.1f}³ / (3 × {here.metal.modulus_mpa:.0f} × {inertia:.1f})",
        sag_by_hand,
        sag_by_model,
        "mm",
        _why(
            sag_by_model,
            sag_by_hand,
            "the formula holds the root rigid: in the model the bend, the back and the fixings give as well; lips and "
            "sides make it stiffer",
        ),
    )
    return [stress, sag]


def _pull_check(here: Mounted, resting: Answer) -> HandCheck | None:
    """Pull of all fixings from the moment about the lowest point of the back."""
    frame = here.pose.panels[here.fixings.panel]
    panel_nodes = here.nodes_mm[: here.mesh.node_count][here.mesh.node_region == here.fixings.panel]
    low = float((panel_nodes @ here.down).max())
    heights = [low - float(here.nodes_mm[n] @ here.down) for n in here.bolt_nodes]
    rear = frame.origin - 0.5 * here.part.thickness_mm * frame.face
    moment = sum(
        weight_n(item.mass_kg.high) * float((here.nodes_mm[node] - rear) @ frame.face)
        for item, node in zip(here.items, here.load_nodes, strict=True)
    )
    if abs(float(frame.face @ here.down)) > 0.1 or moment <= 0 or max(heights, default=0.0) <= 0:
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


def _why(by_model: float, by_hand: float, reason: str) -> str:
    return reason if by_hand and abs(by_model / by_hand - 1) > PARTS_BY else ""
