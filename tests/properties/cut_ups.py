"""Puzzles with a known answer: a rectangle cut up into polygons, which therefore fit into it without waste."""

from __future__ import annotations

import random

Point = tuple[float, float]


def cut_up(length: float, width: float, pieces: int, seed: int, square: bool = False) -> list[list[Point]]:
    """Convex polygons (anticlockwise) that fill the rectangle; by cuts along its sides only when `square`.

    The largest piece is cut next, across its longer way, somewhere in its middle half.
    """
    chance = random.Random(seed)
    found: list[list[Point]] = [[(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)]]
    while len(found) < pieces:
        index = max(range(len(found)), key=lambda i: area(found[i]))
        polygon = found.pop(index)
        xs, ys = [p[0] for p in polygon], [p[1] for p in polygon]
        wide = max(xs) - min(xs) >= max(ys) - min(ys)
        share = chance.uniform(0.3, 0.7)
        middle = (min(xs) + share * (max(xs) - min(xs)), min(ys) + share * (max(ys) - min(ys)))
        lean = 0.0 if square else chance.uniform(-0.6, 0.6)
        normal = (1.0, lean) if wide else (lean, 1.0)
        found += [_half(polygon, middle, normal), _half(polygon, middle, (-normal[0], -normal[1]))]
    return found


def area(polygon: list[Point]) -> float:
    """Area of an anticlockwise polygon."""
    ends = [*polygon[1:], polygon[0]]
    return 0.5 * sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(polygon, ends, strict=True))


def _half(polygon: list[Point], through: Point, normal: Point) -> list[Point]:
    """The part of a convex polygon on the side of a line that its normal points away from."""

    def beyond(p: Point) -> float:
        return (p[0] - through[0]) * normal[0] + (p[1] - through[1]) * normal[1]

    kept: list[Point] = []
    for here, there in zip(polygon, [*polygon[1:], polygon[0]], strict=True):
        a, b = beyond(here), beyond(there)
        if a <= 0:
            kept.append(here)
        if a * b < 0:
            share = a / (a - b)
            kept.append((here[0] + share * (there[0] - here[0]), here[1] + share * (there[1] - here[1])))
    return kept
