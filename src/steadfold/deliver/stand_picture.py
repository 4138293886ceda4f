"""Pictures of a stand: how hard each member works and how far it sags, what the sag is made of, and the lift per
turn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from steadfold.deliver import svg
from steadfold.deliver.colour_scale import scale_colour
from steadfold.deliver.legend import share_legend
from steadfold.deliver.view import isometric
from steadfold.quantities import show_force, show_length, show_mass
from steadfold.quantities.showing import Units
from steadfold.stand.answers import Drawn, StandReport
from steadfold.stand.level import LevelPlan
from steadfold.stand.sag import SagBudget

WIDE, TALL = 860.0, 560.0
MARGIN = 56.0
MEMBER_PX, ROD_PX = 9.0, 3.0
SAG_PX = 34.0
"""How large the greatest movement is drawn."""

GREATEST_SCALE = 400.0
UNKNOWN = "#b9c2c8"
"""Colour of what has no share: rods are drawn by theirs, unrated members like this."""

PARTS = (
    ("bending and stretch", "#2f5d7c"),
    ("joints turning", "#6f9fbf"),
    ("supports giving", "#a8c6d6"),
    ("bench racking", "#c8a46a"),
    ("clearances, likely", "#8c5a86"),
    ("clearances, at worst", "#d3b3cf"),
)
"""Parts of the sag budget and their colours; told apart by lightness too."""

Placed = Callable[[np.ndarray], np.ndarray]


def frame_svg(report: StandReport, units: Units = "mm") -> str:
    """The frame in isometric view: thin as drawn, thick as it bends at rest, each member in the colour of its share."""
    scale = _exaggeration(report.drawn)
    place = _placed(report, scale)
    rods = {answer.name: answer for answer in report.rods}
    body = _bench(report, place) + _machine(report, place, units)
    for each in report.drawn:
        line = svg.polyline(place(each.places))
        body.append(f'<path d="{line}" fill="none" stroke="{svg.FAINT}" class="thin" stroke-width="1.2" '
                    'stroke-dasharray="5 4"/>')  # fmt: skip
    order = sorted(report.drawn, key=lambda each: float(place(each.places)[:, 1].mean()))
    greatest = 0.0
    for each in order:
        share = rods[each.member].share if each.member in rods else each.share
        greatest = max(greatest, share or 0.0)
        moved = each.places + scale * (each.moved - each.places)
        body += _member(place(moved), share, ROD_PX if each.member in rods else MEMBER_PX)
    lows, taken = _sags(report, place, units)
    body += _labels(report, place, scale, taken) + lows
    body.append(svg.text(MARGIN, 30.0, report.name, 17.0, weight="600"))
    said = f"bending drawn {svg.number(scale, 0)} times; {report.verdict}: {report.weakest}"
    body += svg.paragraph(MARGIN, 50.0, svg.wrapped(said, WIDE - 2 * MARGIN, 12.5), 12.5)
    body += share_legend(MARGIN, TALL - 62.0, greatest)
    return svg.document(WIDE, TALL, f"{report.name}: how hard each member works and how it sags", body)


def _exaggeration(drawn: Sequence[Drawn]) -> float:
    """A round number by which the movements are drawn larger, so that the greatest is seen."""
    moved = max(float(np.linalg.norm(each.moved - each.places, axis=1).max()) for each in drawn)
    if moved <= 0.0:
        return 1.0
    points = np.concatenate([each.places for each in drawn])
    wanted = 0.06 * float(np.ptp(points, axis=0).max()) / moved
    if wanted <= 1.0:
        return 1.0
    power = 10.0 ** np.floor(np.log10(min(wanted, GREATEST_SCALE)))
    return float(max(step * power for step in (1.0, 2.0, 5.0) if step * power <= wanted))


def _placed(report: StandReport, scale: float) -> Placed:
    view = isometric("z")
    points = np.concatenate(
        [each.places for each in report.drawn]
        + [each.places + scale * (each.moved - each.places) for each in report.drawn]
    )
    box = _machine_box(report)
    if box is not None:
        points = np.concatenate([points, box])
    seen = view.seen(points)[:, :2]
    low, high = seen.min(axis=0), seen.max(axis=0)
    room = np.array([WIDE - 2 * MARGIN - 90.0, TALL - 190.0])
    zoom = float((room / np.maximum(high - low, 1.0)).min())
    middle = 0.5 * (low + high)

    def place(points: np.ndarray) -> np.ndarray:
        at = (view.seen(np.atleast_2d(points))[:, :2] - middle) * zoom
        return np.column_stack([0.5 * WIDE + at[:, 0], 0.5 * TALL + 4.0 - at[:, 1]])

    return place


def _member(line: np.ndarray, share: float | None, width: float) -> list[str]:
    path = svg.polyline(line)
    colour = UNKNOWN if share is None else scale_colour(share)
    drawn = [
        f'<path d="{path}" fill="none" stroke="{svg.INK}" class="line" stroke-width="{svg.number(width + 2)}" '
        'stroke-linecap="round"/>',
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{svg.number(width)}" stroke-linecap="round"/>',
    ]
    if share is not None and share > 1.0:
        drawn.append(f'<path d="{path}" fill="none" stroke="#fff1df" stroke-width="{svg.number(0.4 * width)}" '
                     'stroke-dasharray="4 6"/>')  # fmt: skip
    return drawn


def _labels(report: StandReport, place: Placed, scale: float, lying: list[np.ndarray]) -> list[str]:
    """Name and share beside the middle of each member, where no label lies already."""
    taken = list(lying)
    drawn = []
    hardest = sorted(report.drawn, key=lambda each: -(_share_of(report, each) or 0.0))
    for each in hardest:
        share = _share_of(report, each)
        words = each.member if share is None else f"{each.member} {100.0 * share:.0f} %"
        line = place(each.places + scale * (each.moved - each.places))
        along = line[-1] - line[0]
        across = np.array([-along[1], along[0]]) / max(float(np.linalg.norm(along)), 1e-9)
        half = 0.5 * svg.WIDTH_OF_LETTER * 11.5 * len(words)
        for at, side in ((0.5, 1.0), (0.5, -1.0), (0.3, 1.0), (0.7, 1.0), (0.3, -1.0), (0.7, -1.0)):
            spot = line[0] + at * along + side * (12.0 + 0.6 * half * abs(across[0])) * across
            box = np.array([spot[0] - half, spot[1] - 9.0, spot[0] + half, spot[1] + 5.0])
            inside = box[0] > 4.0 and box[2] < WIDE - 4.0
            if inside and all(_apart(box, other) for other in taken):
                taken.append(box)
                drawn.append(svg.text(float(spot[0]), float(spot[1]) + 4.0, words, 11.5, "middle", halo=True))
                break
    return drawn


def _share_of(report: StandReport, each: Drawn) -> float | None:
    rod = next((answer for answer in report.rods if answer.name == each.member), None)
    return each.share if rod is None else rod.share


def _apart(first: np.ndarray, second: np.ndarray) -> bool:
    return bool(first[2] < second[0] or second[2] < first[0] or first[3] < second[1] or second[3] < first[1])


def _sags(report: StandReport, place: Placed, units: Units) -> tuple[list[str], list[np.ndarray]]:
    """How low each place lies, beside it, and the rooms (left, top, right, bottom) the words take."""
    drawn, taken = [], []
    for budget in report.budgets:
        x, y = (float(v) for v in place(np.asarray(report.stand.nodes[budget.node], dtype=float))[0])
        words = f"{show_length(budget.likely_mm, units)} low"
        drawn.append(f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="3.4" fill="{svg.ACCENT}" class="marked"/>')
        drawn.append(svg.text(x + 14.0, y + 4.0, words, 12.5, kind="accent", weight="600", halo=True))
        width = svg.WIDTH_OF_LETTER * 13.5 * len(words)
        taken.append(np.array([x - 6.0, y - 9.0, x + 14.0 + width, y + 8.0]))
    return drawn, taken


def _machine_box(report: StandReport) -> np.ndarray | None:
    machine = report.stand.machine
    if machine is None:
        return None
    feet = np.asarray(machine.feet_mm, dtype=float)
    middle = 0.5 * (feet.min(axis=0) + feet.max(axis=0))
    spread = np.ptp(feet, axis=0)
    size = np.asarray(machine.size_mm or (spread[0], spread[1], 250.0), dtype=float)
    base = _standing_height(report)
    corners = [(sx, sy, z) for z in (0.0, 1.0) for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    return np.array(
        [(middle[0] + 0.5 * sx * size[0], middle[1] + 0.5 * sy * size[1], base + z * size[2]) for sx, sy, z in corners]
    )


def _standing_height(report: StandReport) -> float:
    """Height of the highest level members: what the machine stands on."""
    level = [float(e.places[0][2]) for e in report.drawn if abs(float(e.places[0][2] - e.places[-1][2])) < 1.0]
    return max(level, default=0.0)


def _machine(report: StandReport, place: Placed, units: Units) -> list[str]:
    box = _machine_box(report)
    machine = report.stand.machine
    if box is None or machine is None:
        return []
    at = place(box)
    rings = [[0, 1, 2, 3, 0], [4, 5, 6, 7, 4], [0, 4], [1, 5], [2, 6], [3, 7]]
    path = "".join(svg.polyline(at[ring]) for ring in rings)
    mass = machine.mass_kg
    said = (
        show_mass(mass.middle, units)
        if mass.low == mass.high
        else f"{show_mass(mass.low, units)} to {show_mass(mass.high, units)}"
    )
    top = at[4:].mean(axis=0)
    return [
        f'<path d="{path}" fill="none" stroke="{svg.FAINT}" class="thin" stroke-width="1"/>',
        svg.text(float(top[0]), float(top[1]), f"{machine.name}, {said}", 12.0, "middle", "soft"),
    ]


def _bench(report: StandReport, place: Placed) -> list[str]:
    """The face that holds the frame, as a faint sheet through the held nodes, with a word for what it is."""
    held = [(report.stand.nodes[each.node], each.to) for each in report.stand.held]
    upright = np.array([node for node, to in held if to in ("bench", "wall")], dtype=float).reshape(-1, 3)
    if len(upright) < 2 or np.ptp(upright[:, 0]) > 1.0:
        return []
    low, high = upright.min(axis=0) - 40.0, upright.max(axis=0) + 40.0
    x = float(upright[0, 0])
    corners = np.array([[x, low[1], low[2]], [x, high[1], low[2]], [x, high[1], high[2]], [x, low[1], high[2]]])
    at = place(corners)
    word = next(to for _, to in held if to in ("bench", "wall"))
    return [
        f'<path d="{svg.polyline(at)}Z" fill="{svg.FAINT}" fill-opacity="0.16" stroke="{svg.FAINT}" class="thin" '
        'stroke-width="0.8"/>',
        svg.text(float(at[:, 0].min()) - 6.0, float(at[:, 1].mean()), word, 12.0, "end", "soft"),
    ]


def sag_budget_svg(budgets: Sequence[SagBudget], limit_mm: float | None = None, units: Units = "mm") -> str:
    """What the droop of each place is made of, as one stacked bar each; what only may come is drawn hatched after
    it.
    """
    tall = 96.0 + 58.0 * len(budgets) + 64.0
    label = 150.0
    room = WIDE - label - MARGIN - 90.0
    longest = max([each.still_mm + each.worst_take_up_mm for each in budgets] + [limit_mm or 0.0, 1e-6])
    body = [svg.text(MARGIN - 30.0, 30.0, "How far it sags, and why", 17.0, weight="600")]
    for index, each in enumerate(budgets):
        y = 62.0 + 58.0 * index
        body.append(svg.text(label - 10.0, y + 19.0, each.node, 13.0, "end", weight="600"))
        values = (
            each.elastic_mm, each.turning_mm, each.giving_mm, each.racking_mm or 0.0, each.likely_take_up_mm,
            max(0.0, each.worst_take_up_mm - each.likely_take_up_mm),
        )  # fmt: skip
        x = label
        for (name, colour), value in zip(PARTS, values, strict=True):
            width = room * max(value, 0.0) / longest
            body.append(
                f'<rect x="{svg.number(x)}" y="{svg.number(y)}" width="{svg.number(width)}" height="28" fill="{colour}">'
                f"<title>{name}: {show_length(value, units)}</title></rect>"
            )
            if width > 46.0:
                pale = name in ("supports giving", "clearances, at worst", "bench racking")
                ink = "#1c262d" if pale else "#ffffff"
                body.append(f'<text x="{svg.number(x + 0.5 * width)}" y="{svg.number(y + 18.5)}" font-size="11.5" '
                            f'text-anchor="middle" fill="{ink}">{show_length(value, units)}</text>')  # fmt: skip
            x += width
        body.append(svg.text(x + 8.0, y + 18.5, show_length(each.likely_mm, units), 12.5, weight="600"))
        if each.racking_mm is None:
            body.append(svg.text(label, y + 42.0, "the bench's own racking is not known", 11.0, kind="soft"))
    if limit_mm is not None:
        x = label + room * limit_mm / longest
        bottom = 62.0 + 58.0 * len(budgets) - 22.0
        body.append(f'<path d="M{svg.number(x)} 50V{svg.number(bottom)}" stroke="{svg.ACCENT}" class="mark" '
                    'stroke-width="1.6" stroke-dasharray="6 4"/>')  # fmt: skip
        body.append(svg.text(x, 46.0, f"limit {show_length(limit_mm, units)}", 11.5, "middle", "accent"))
    body += _keys(label, tall - 62.0)
    return svg.document(WIDE, tall, "What the sag of each place is made of", body)


def _keys(left: float, top: float) -> list[str]:
    drawn = []
    for index, (name, colour) in enumerate(PARTS):
        x, y = left + 225.0 * (index % 3), top + 24.0 * (index // 3)
        drawn.append(f'<rect x="{svg.number(x)}" y="{svg.number(y)}" width="16" height="12" fill="{colour}"/>')
        drawn.append(svg.text(x + 22.0, y + 10.5, name, 12.0, kind="soft"))
    return drawn


def lift_svg(plan: LevelPlan, units: Units = "mm") -> str:
    """How low each place lies after each step of the levelling, and what each turn lifts."""
    left, top, wide, tall = 104.0, 66.0, 500.0, 250.0
    lows = np.array([plan.low_mm, *(step.low_mm for step in plan.steps)])
    count = len(lows)
    low, high = min(0.0, float(lows.min())), max(float(lows.max()), 0.1)
    span = 1.1 * (high - low)

    def at(step: float, value: float) -> tuple[float, float]:
        return left + wide * step / max(count - 1, 1), top + tall * (value - low) / span

    body = [svg.text(40.0, 30.0, "Levelling, step by step", 17.0, weight="600")]
    body.append(f'<path d="M{left} {svg.number(at(0, 0)[1])}H{left + wide}" stroke="{svg.ACCENT}" class="mark" '
                'stroke-width="1.4" stroke-dasharray="6 4"/>')  # fmt: skip
    body.append(svg.text(left - 8.0, at(0, 0)[1] + 4.0, "level", 12.0, "end", "accent"))
    for value in _ticks(low, high):
        x, y = at(0, value)
        if value:
            body.append(svg.text(x - 8.0, y + 4.0, f"{show_length(value, units)} low", 11.0, "end", "soft"))
            body.append(f'<path d="M{left} {svg.number(y)}H{left + wide}" stroke="{svg.FAINT}" class="thin" '
                        'stroke-width="0.5"/>')  # fmt: skip
    shades = ("#2f5d7c", "#c07f2c", "#7a3e9d", "#4f7d5a")
    for column, name in enumerate(plan.places):
        points = np.array([at(k, float(lows[k, column])) for k in range(count)])
        colour = shades[column % len(shades)]
        body.append(f'<path d="{svg.polyline(points)}" fill="none" stroke="{colour}" stroke-width="2.4"/>')
        for x, y in points:
            body.append(f'<circle cx="{svg.number(x)}" cy="{svg.number(y)}" r="3.6" fill="{colour}"/>')
        body.append(svg.text(points[0, 0] + 8.0, points[0, 1] - 7.0, name, 12.0, weight="600", halo=True))
    for k in range(count):
        body.append(svg.text(at(k, 0)[0], top + tall + 22.0, "now" if k == 0 else str(k), 12.0, "middle", "soft"))
    y = top + tall + 52.0
    for number, step in enumerate(plan.steps, 1):
        said = f"{number}. {step.say}"
        pulls = ", ".join(show_force(pull, units) for pull in step.rods_n)
        for line in svg.wrapped(f"{said}. Rods pull {pulls}; {step.nearest} at {100 * step.share:.0f} %.", 780.0, 12.5):
            body.append(svg.text(40.0, y, line, 12.5))
            y += 17.0
    body += _per_turn(plan, left + wide + 44.0, top, units)
    return svg.document(WIDE, y + 12.0, "How low each place lies after each step of levelling", body)


def _per_turn(plan: LevelPlan, x: float, y: float, units: Units) -> list[str]:
    drawn = [svg.text(x, y, "one turn of", 12.0, kind="soft"), svg.text(x, y + 16.0, "lifts", 12.0, kind="soft")]
    y += 42.0
    for column, rod in enumerate(plan.rods):
        drawn.append(svg.text(x, y, f"{rod} ({plan.turns[column]:+.2f} turns)", 12.5, weight="600"))
        for row, place in enumerate(plan.places):
            y += 17.0
            drawn.append(
                svg.text(x + 10.0, y, f"{place} {show_length(plan.lift_per_turn_mm[row][column], units)}", 12.0)
            )
        y += 28.0
    return drawn


def _ticks(low: float, high: float) -> list[float]:
    step = 10.0 ** np.floor(np.log10(max(high - low, 1e-9)))
    if (high - low) / step < 2.5:
        step *= 0.5
    return [float(v) for v in np.arange(np.ceil(low / step) * step, high + 0.5 * step, step)]
