"""A reader of DXF text written for the tests alone: group codes, by the DXF reference, without any library."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Entity:
    """One entity: its type, layer, and the (code, value) pairs in order."""

    kind: str
    layer: str
    pairs: tuple[tuple[int, str], ...]

    def number(self, code: int) -> float:
        return float(next(value for c, value in self.pairs if c == code))


def pairs_of(text: str) -> list[tuple[int, str]]:
    lines = text.splitlines()
    return [(int(lines[i].strip()), lines[i + 1].strip()) for i in range(0, len(lines) - 1, 2)]


def header(text: str, name: str) -> str:
    pairs = pairs_of(text)
    at = pairs.index((9, name))
    return pairs[at + 1][1]


def entities(text: str) -> list[Entity]:
    """The entities of the ENTITIES section."""
    pairs = pairs_of(text)
    start = next(i for i, p in enumerate(pairs) if p == (2, "ENTITIES")) + 1
    end = next(i for i in range(start, len(pairs)) if pairs[i] == (0, "ENDSEC"))
    found: list[Entity] = []
    current: list[tuple[int, str]] = []
    for code, value in [*pairs[start:end], (0, "END")]:
        if code == 0:
            if current:
                layer = next((v for c, v in current if c == 8), "")
                found.append(Entity(current[0][1], layer, tuple(current[1:])))
            current = [(0, value)]
        else:
            current.append((code, value))
    return found


@dataclass(frozen=True)
class Contour:
    """A closed contour: points and bulges; a circle has two."""

    points: tuple[tuple[float, float], ...]
    bulges: tuple[float, ...]

    @property
    def area(self) -> float:
        """Signed area by Green's theorem, arcs exact."""
        total = 0.0
        for i, ((x0, y0), bulge) in enumerate(zip(self.points, self.bulges, strict=True)):
            x1, y1 = self.points[(i + 1) % len(self.points)]
            total += 0.5 * (x0 * y1 - x1 * y0)
            if bulge:
                turn = 4 * math.atan(bulge)
                radius = math.dist((x0, y0), (x1, y1)) / (2 * math.sin(abs(turn) / 2))
                total += 0.5 * radius * radius * (turn - math.sin(turn))
        return total


def contours(text: str, layer: str = "CUT") -> list[Contour]:
    """Closed contours of a layer; anything on it that is not closed fails."""
    found = []
    for entity in entities(text):
        if entity.layer != layer:
            continue
        if entity.kind == "CIRCLE":
            x, y, r = entity.number(10), entity.number(20), entity.number(40)
            found.append(Contour(((x - r, y), (x + r, y)), (1.0, 1.0)))
            continue
        assert entity.kind == "LWPOLYLINE", f"{entity.kind} on {layer} is no closed contour"
        assert int(entity.number(70)) & 1, "a polyline is not closed"
        points: list[list[float]] = []
        bulges: list[float] = []
        for code, value in entity.pairs:
            if code == 10:
                points.append([float(value), 0.0])
                bulges.append(0.0)
            elif code == 20:
                points[-1][1] = float(value)
            elif code == 42:
                bulges[-1] = float(value)
        found.append(Contour(tuple((p[0], p[1]) for p in points), tuple(bulges)))
    return found
