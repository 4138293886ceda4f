"""Will it fit: a gap as a chain of cut, bend and coat, at its worst and as it usually comes out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from steadfold.catalogue.finishes import Finish
from steadfold.fabricate.cutting import centre, opening_field
from steadfold.fabricate.measures import Measures, Opening
from steadfold.fabricate.noted import Noted
from steadfold.fabricate.shop import Shop
from steadfold.findings import Finding, Severity
from steadfold.findings.finding import Change

DRAWS = 200_000
SEED = 20240229
CLEARANCE_MM = 0.5
"""Play that something put in by hand should keep, where none is asked for (assumed)."""
ORDER_STEP_MM = 0.1

Shape = Literal["normal", "even"]


@dataclass(frozen=True)
class Link:
    """One size of a chain: it counts `times` (negative where it takes from the gap).

    It lies between `low_mm` and `high_mm`: normally spread with these as three standard deviations, or
    evenly.
    """

    name: str
    low_mm: float
    high_mm: float
    times: float = 1.0
    shape: Shape = "normal"

    @property
    def middle_mm(self) -> float:
        """Half way between the ends."""
        return 0.5 * (self.low_mm + self.high_mm)

    @property
    def deviation_mm(self) -> float:
        """Standard deviation of the size: a sixth of the range if normal, range / √12 if even."""
        return (self.high_mm - self.low_mm) / (6.0 if self.shape == "normal" else math.sqrt(12.0))


@dataclass(frozen=True)
class Chain:
    """Links whose sum is a gap."""

    links: tuple[Link, ...]

    @property
    def worst_mm(self) -> tuple[float, float]:
        """Least and greatest gap, every link at its worst."""
        ends = [sorted((link.times * link.low_mm, link.times * link.high_mm)) for link in self.links]
        return sum(low for low, _ in ends), sum(high for _, high in ends)

    @property
    def middle_mm(self) -> float:
        """The gap with every link in its middle."""
        return sum(link.times * link.middle_mm for link in self.links)

    @property
    def deviation_mm(self) -> float:
        """Standard deviation of the gap, links independent: root of the sum of squares."""
        return math.sqrt(sum((link.times * link.deviation_mm) ** 2 for link in self.links))

    def drawn_mm(self, count: int = DRAWS, seed: int = SEED) -> np.ndarray:
        """Gaps of `count` pieces, drawn at random, the same for the same seed; shape (count,)."""
        random = np.random.default_rng(seed)
        total = np.zeros(count)
        for link in self.links:
            if link.shape == "even":
                drawn = random.uniform(link.low_mm, link.high_mm, count)
            else:
                drawn = random.normal(link.middle_mm, link.deviation_mm, count)
            total += link.times * drawn
        return total

    def share_within(self, least_mm: float, most_mm: float = math.inf, count: int = DRAWS) -> float:
        """Share of pieces whose gap lies between two limits, by drawing."""
        drawn = self.drawn_mm(count)
        return float(np.mean((drawn >= least_mm) & (drawn <= most_mm)))

    def centred(self, name: str, least_mm: float, most_mm: float) -> Link:
        """The named link, moved so that the gap's middle lies between two limits. `KeyError` for another
        name."""
        for link in self.links:
            if link.name == name:
                shift = (0.5 * (least_mm + most_mm) - self.middle_mm) / link.times
                return replace(link, low_mm=link.low_mm + shift, high_mm=link.high_mm + shift)
        raise KeyError(name)


@dataclass(frozen=True)
class Passing:
    """What goes through an opening: where the opening is, how wide the item is, and the play it should
    keep."""

    panel: str
    at_mm: tuple[float, float]
    item: str
    item_mm: tuple[float, float]
    clearance_mm: float = CLEARANCE_MM


def coat_mm(shop: Shop, finish: Finish) -> tuple[float, float]:
    """Least and most coat on one side: the shop's own for powder, else the catalogue's."""
    if finish.id == "powder coat":
        return shop.coater.coat_low_mm, shop.coater.coat_high_mm
    return finish.thickness_um[0] / 1000.0, finish.thickness_um[2] / 1000.0


def opening_chain(cut_mm: float, shop: Shop, finish: Finish) -> Chain:
    """The finished width of an opening: the cut, less the coat on both sides.

    >>> from steadfold.catalogue.finishes import finish
    >>> from steadfold.fabricate.shop_file import typical_shop
    >>> low, high = opening_chain(12.0, typical_shop(), finish("powder coat")).worst_mm
    >>> round(low, 2), round(high, 2)
    (11.63, 12.01)
    """
    off = shop.laser.tolerance_mm
    coat = coat_mm(shop, finish)
    return Chain((
        Link("cut", cut_mm - off, cut_mm + off),
        Link("coat on both sides", coat[0], coat[1], -2.0, "even"),
    ))


def size_to_order_mm(item_most_mm: float, clearance_mm: float, shop: Shop, finish: Finish) -> float:
    """The width to cut so that the widest item keeps its play in the tightest opening, rounded up to 0.1 mm.

    >>> from steadfold.catalogue.finishes import finish
    >>> from steadfold.fabricate.shop_file import typical_shop
    >>> size_to_order_mm(11.8, 0.5, typical_shop(), finish("powder coat"))
    12.7
    """
    exact = item_most_mm + clearance_mm + 2 * coat_mm(shop, finish)[1] + shop.laser.tolerance_mm
    return round(math.ceil(exact / ORDER_STEP_MM - 1e-6) * ORDER_STEP_MM, 6)


def between_flanges_chain(
    inside_mm: float, depth_mm: float, bends_between: int, shop: Shop, finish: Finish, angles_rad: int = 2
) -> Chain:
    """The gap between two flanges at a depth from the web: legs, angles and coat.

    `bends_between` bends bring the tolerance of a leg each; each of `angles_rad` flanges leans by the
    tolerance of its angle times the depth.
    """
    off = shop.brake.leg_tolerance_mm
    lean = depth_mm * math.tan(shop.brake.angle_tolerance_rad)
    coat = coat_mm(shop, finish)
    legs = [Link(f"leg {i + 1}", -off, off) for i in range(bends_between)]
    leans = [Link(f"angle {i + 1}", -lean, lean) for i in range(angles_rad)]
    return Chain((
        Link("inside", inside_mm, inside_mm), *legs, *leans, Link("coat on both sides", *coat, -2.0, "even")
    ))


def opening_at(measures: Measures, panel: str, at_mm: tuple[float, float]) -> Opening | None:
    """The opening of a panel that holds a point of the panel's frame, or whose middle lies within 1 mm of
    it."""
    import shapely

    index = next((i for i, each in enumerate(measures.part.panels) if each.name == panel), None)
    if index is None:
        return None
    point = shapely.Point(measures.panel_places[index](at_mm))
    for opening in measures.openings:
        if opening.polygon.covers(point) or (opening.panel == index and math.dist(opening.at_mm, at_mm) < 1.0):
            return opening
    return None


def fit_findings(
    measures: Measures, passing: tuple[Passing, ...], shop: Shop, finish: Finish
) -> Iterator[Noted]:
    """Openings that are too small for what goes through them once they are cut and coated."""
    for each in passing:
        opening = opening_at(measures, each.panel, each.at_mm)
        if opening is None:
            continue
        chain = opening_chain(opening.width_mm, shop, finish)
        low, high = chain.worst_mm
        least, most = each.item_mm
        if low >= most - 1e-9:
            continue
        order = size_to_order_mm(most, each.clearance_mm, shop, finish)
        gap = Chain((*chain.links, Link(each.item, least, most, -1.0)))
        share = gap.share_within(0.0)
        change = None
        if opening.panel is not None:
            key = "diameter" if opening.is_round else "width"
            change = Change(measures.part.name, f"{opening_field(measures, opening)}.{key}", f"{order:g} mm")
        yield Noted(
            Finding(
                "slot-closes-up", Severity.CAUTION, measures.place_of(opening),
                f"Cut {opening.width_mm:.4g} mm wide it ends between {low:.2f} and {high:.2f} mm; {each.item} measures "
                f"up to {most:.4g} mm and jams (fits in {100 * share:.1f} % of pieces).",
                low, most, f"shop file {shop.name!r}: tolerance of the cut; coat: {finish.source.sentence}",
                f"order it {order:g} mm wide", change,
            ),
            (centre(opening),),
        )
