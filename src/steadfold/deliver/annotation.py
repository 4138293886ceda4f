"""What is written on a picture of a part: overall sizes, loads as arrows, fixings as numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from steadfold.deliver import svg
from steadfold.deliver.placement import Placement
from steadfold.deliver.view import Up, axes
from steadfold.quantities import show_force
from steadfold.quantities.showing import Units

LONGEST_ARROW_PX, SHORTEST_ARROW_PX = 62.0, 24.0


@dataclass(frozen=True)
class Arrow:
    """A load: where it acts, in mm (3,), and the force in N (3,), in the frame of the root panel.

    `say` stands at the arrow instead of the force.
    """

    at_mm: np.ndarray
    force_n: np.ndarray
    say: str | None = None


@dataclass(frozen=True)
class Mark:
    """A numbered place on the part, such as a fixing; `say` goes beside its number under the picture."""

    at_mm: np.ndarray
    number: str
    say: str = ""


def show_size(length_mm: float, units: Units) -> str:
    """A length for a drawing: 0.1 mm or 0.01 in, without needless zeros."""
    return f"{svg.number(length_mm / 25.4, 2)} in" if units == "in" else f"{svg.number(length_mm, 1)} mm"


def overall_sizes(
    place: Placement,
    corners: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    up: Up,
    units: Units,
    size: float = 12.5,
) -> list[str]:
    """Width, depth and height as dimension lines along edges of the box round the part.

    `corners` (n, 3) are the part's; the box goes from `low` to `high` (3,), in mm.
    """
    right, above, front = axes(up)
    near = right if right @ place.view.toward > 0 else -right
    box = np.array([low, high])
    gap = 16 / place.scale / 0.816

    def corner(*signs: np.ndarray) -> np.ndarray:
        total = np.sum(signs, axis=0)
        return np.where(total > 0, box[1], box[0])

    drawn = _size(place, corner(-near, front, -above), corner(near, front, -above), front, gap, units, size)
    drawn += _size(place, corner(near, front, -above), corner(near, -front, -above), near, gap, units, size)
    # The height stands where metal reaches nearest to the top of the box.
    uprights = [(corner(-near, front, -above), corner(-near, front, above), -near)]
    uprights.append((corner(near, -front, -above), corner(near, -front, above), near))
    upright = min(uprights, key=lambda u: float(np.linalg.norm(corners - u[1], axis=1).min()))
    drawn += _size(place, *upright, gap, units, size)
    return drawn


def _size(
    place: Placement, start: np.ndarray, end: np.ndarray, out: np.ndarray, gap: float, units: Units, size: float
) -> list[str]:
    a, b = place(np.array([start + gap * out, end + gap * out]))
    feet = place(np.array([start + 0.3 * gap * out, end + 0.3 * gap * out]))
    past = place(np.array([start + 1.25 * gap * out, end + 1.25 * gap * out]))
    length = float(np.linalg.norm(end - start))
    along = (b - a) / max(float(np.linalg.norm(b - a)), 1e-9)
    lines = "".join(svg.polyline(np.array(pair)) for pair in zip(feet, past, strict=True))
    lines += svg.polyline(np.array([a, b]))
    barbs = _barb(a, along) + _barb(b, -along)
    angle = math.degrees(math.atan2(along[1], along[0]))
    if not -90 < angle <= 90:
        angle += 180
    outward = past[0] - a
    across = np.array([-math.sin(math.radians(angle)), math.cos(math.radians(angle))])
    side = 1.0 if outward @ across > 0 else -1.0
    # Above the line the text stands on it, below it hangs by its full height.
    middle = 0.5 * (a + b) + across * (1.1 * size if side > 0 else -0.45 * size)
    label = show_size(length, units)
    return [
        f'<path d="{lines}" fill="none" stroke="{svg.SOFT}" class="thin" stroke-width="0.8"/>',
        f'<path d="{barbs}" fill="{svg.SOFT}" class="soft"/>',
        f'<g transform="translate({svg.number(middle[0])} {svg.number(middle[1])}) rotate({svg.number(angle)})">'
        + svg.text(0, 0, label, size, "middle", "ink")
        + "</g>",
    ]


def _turned(vector: np.ndarray, angle: float) -> np.ndarray:
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([cos * vector[0] - sin * vector[1], sin * vector[0] + cos * vector[1]])


def _barb(tip: np.ndarray, along: np.ndarray, long: float = 8.0, lean: float = 0.2) -> str:
    return svg.polyline(np.array([tip, tip + long * _turned(along, lean), tip + long * _turned(along, -lean)])) + "Z"


def load_arrows(place: Placement, arrows: Sequence[Arrow], units: Units, size: float = 12.0) -> list[str]:
    """Loads as arrows that end where they act, longer for a greater force, each with its force."""
    greatest = max((float(np.linalg.norm(a.force_n)) for a in arrows), default=0.0)
    drawn = []
    for arrow in arrows:
        force = float(np.linalg.norm(arrow.force_n))
        if force <= 0:
            continue
        tip = place(np.asarray(arrow.at_mm, dtype=float)[None])[0]
        direction = place.view.seen(np.asarray(arrow.force_n, dtype=float) / force)
        flat = np.array([direction[0], -direction[1]])
        seen = float(np.linalg.norm(flat))
        label = show_force(force, units) if arrow.say is None else arrow.say
        if seen < 0.15:
            drawn += _end_on(tip, direction[2] > 0, label, size)
            continue
        flat /= seen
        long = SHORTEST_ARROW_PX + (LONGEST_ARROW_PX - SHORTEST_ARROW_PX) * force / greatest
        tail = tip - long * flat
        shaft = svg.polyline(np.array([tail, tip - 8 * flat]))
        head = _barb(tip, -flat, 12.0, 0.32)
        drawn.append(f'<path d="{shaft}{head}" fill="none" stroke="#ffffff" class="halo" stroke-width="4.4"/>')
        drawn.append(f'<path d="{shaft}" fill="none" stroke="{svg.ACCENT}" class="mark" stroke-width="2.2"/>')
        drawn.append(f'<path d="{head}" fill="{svg.ACCENT}" class="marked"/>')
        drawn.append(_beside(tail - 0.5 * size * flat, flat, label, size))
    return drawn


def _beside(at: np.ndarray, flat: np.ndarray, label: str, size: float) -> str:
    anchor = "middle" if abs(flat[0]) < 0.5 else ("end" if flat[0] > 0 else "start")
    down = 0.75 * size if flat[1] < -0.5 else (0.0 if flat[1] > 0.5 else 0.35 * size)
    return svg.text(at[0], at[1] + down, label, size, anchor, "accent", "600", halo=True)


def _end_on(tip: np.ndarray, toward: bool, label: str, size: float) -> list[str]:
    x, y = (svg.number(v) for v in tip)
    ring = f'<circle cx="{x}" cy="{y}" r="6.5" fill="none" stroke="{svg.ACCENT}" class="mark" stroke-width="1.8"/>'
    if toward:
        inner = f'<circle cx="{x}" cy="{y}" r="2" fill="{svg.ACCENT}" class="marked"/>'
    else:
        cross = "".join(svg.polyline(tip + 4.2 * np.array([[-1, s], [1, -s]])) for s in (1, -1))
        inner = f'<path d="{cross}" stroke="{svg.ACCENT}" class="mark" stroke-width="1.6"/>'
    return [
        ring,
        inner,
        svg.text(tip[0] + 10, tip[1] + 0.35 * size, label, size, kind="accent", weight="600", halo=True),
    ]


def numbered_marks(place: Placement, marks: Sequence[Mark], size: float = 11.0) -> list[str]:
    """Numbers in circles at their places."""
    drawn = []
    for mark in marks:
        at = place(np.asarray(mark.at_mm, dtype=float)[None])[0]
        drawn += numbered_circle(at[0], at[1], mark.number, size)
    return drawn


def numbered_circle(x: float, y: float, label: str, size: float) -> list[str]:
    """A number in a circle with its middle at x, y."""
    radius = 0.82 * size if len(label) < 2 else 1.02 * size
    return [
        f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="{svg.number(radius)}" fill="#ffffff" '
        f'stroke="{svg.INK}" stroke-width="1.3"/>',
        f'<text x="{svg.number(x)}" y="{svg.number(y + 0.36 * size)}" font-size="{svg.number(size)}" '
        f'fill="{svg.INK}" text-anchor="middle" font-weight="600">{label}</text>',
    ]
