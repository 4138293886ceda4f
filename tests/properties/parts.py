"""One generator of random parts, grown with each feature."""

from __future__ import annotations

import math
from dataclasses import dataclass

from hypothesis import strategies as st

from steadfold.sheet.outline import circle, obround, rectangle
from steadfold.sheet.resolve import Resolved, din_rule, resolve
from steadfold.sheet.tree import Cutout, DrawnPanel, PanelTree, TreeError, rectangular_panel


@dataclass(frozen=True)
class RandomPart:
    """A drawn tree and the sheet it is made of."""

    tree: PanelTree
    thickness_mm: float
    radius_mm: float
    k_factor: float

    def resolved(self) -> Resolved:
        """The part it resolves to."""
        return resolve(self.tree, "random", self.thickness_mm, din_rule(self.thickness_mm, self.radius_mm, self.k_factor))


def _cutouts(draw: st.DrawFn, width: float, height: float, bend_room: float) -> tuple[Cutout, ...]:
    """Cutouts clear of the panel's edges; now and then one that runs across the near bend."""
    found = []
    x0, x1, y0, y1 = bend_room, width - bend_room, bend_room, height - bend_room
    if x1 - x0 < 16 or y1 - y0 < 16:
        return ()
    for slot in range(draw(st.integers(0, 2))):
        x = x0 + (0.25 + 0.5 * slot) * (x1 - x0)
        y = 0.5 * (y0 + y1)
        size = draw(st.floats(3, 0.45 * min(0.5 * (x1 - x0), y1 - y0)))
        kind = draw(st.sampled_from(["circle", "slot", "rectangle"]))
        if kind == "circle":
            found.append(Cutout(circle(size, (x, y))))
        elif kind == "slot":
            found.append(Cutout(obround(1.8 * size, size, (x, y), draw(st.floats(0, 3)))))
        else:
            found.append(Cutout(rectangle(size, 0.8 * size, (x - size / 2, y - 0.4 * size))))
    return tuple(found)


@st.composite
def random_parts(draw: st.DrawFn, most_bends: int = 12) -> RandomPart:
    """A tree of 1 to 12 bends of 15° to 180°, with offsets, narrower flanges, holes, some across a bend.

    Not filtered for clashes: flats may overlap and panels may pass through each other.
    """
    t = draw(st.sampled_from([0.8, 1.0, 1.5, 2.0, 3.0, 4.0]))
    r = t * draw(st.sampled_from([0.5, 1.0, 1.5, 2.5]))
    k = draw(st.sampled_from([0.33, 0.38, 0.42, 0.44, 0.5]))
    room = 3 * (r + t) + 3
    width, height = round(draw(st.floats(120, 300)), 2), round(draw(st.floats(120, 300)), 2)
    panels = [rectangular_panel("p0", width, height, cutouts=_cutouts(draw, width, height, room))]
    free = [(0, e) for e in ("bottom", "right", "top", "left")]
    sizes = [(width, height)]
    wanted = draw(st.integers(1, most_bends))
    while len(panels) <= wanted and free:
        parent, edge = free.pop(draw(st.integers(0, len(free) - 1)))
        span = sizes[parent][0] if edge in ("bottom", "top", "far") else sizes[parent][1]
        if span < 4 * room:
            continue
        offset, w = 0.0, span
        if draw(st.booleans()):
            offset = round(draw(st.floats(room, 0.3 * span)), 2)
            w = round(min(span - offset, draw(st.floats(0.4 * span, span))), 2)
        degrees = draw(st.one_of(st.just(90.0), st.floats(15, 180)))
        sign = draw(st.sampled_from([1, -1]))
        h = round(draw(st.floats(2 * room, 2 * room + 80)), 2)
        name = f"p{len(panels)}"
        cutouts = _cutouts(draw, w, h, room)
        if draw(st.integers(0, 5)) == 0 and degrees < 120:
            cutouts = (Cutout(circle(max(4.0, 1.2 * (r + t)), (0.5 * w, 0.3 * (r + t)))),)
        panels.append(rectangular_panel(name, w, h, f"p{parent}", edge, sign * math.radians(degrees), offset, cutouts=cutouts))
        sizes.append((w, h))
        free.extend((len(panels) - 1, e) for e in ("far", "left", "right"))
    return RandomPart(PanelTree(tuple(panels)), t, r, k)


def resolved_or_none(random: RandomPart) -> Resolved | None:
    """The resolved part, or None when the tree cannot be built (said in words)."""
    try:
        return random.resolved()
    except TreeError:
        return None


__all__ = ["DrawnPanel", "RandomPart", "random_parts", "resolved_or_none"]
