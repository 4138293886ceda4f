"""Could this be a product? In one picture: cash month by month in many futures, and what moves the end most."""

from __future__ import annotations

import math

from steadfold.deliver.svg import ACCENT, FAINT, SOFT, document, number, paragraph, text, wrapped
from steadfold.money.product import ProductAnswer

WIDTH, HEIGHT = 860.0, 300.0
LEFT, TOP, FAN_RIGHT = 86.0, 60.0, 480.0
BAR_LEFT, BAR_RIGHT = 640.0, 836.0


def sale_svg(answer: ProductAnswer) -> str:
    """The picture; without a demand in the job only its sentence."""
    lines = wrapped(answer.sentence, WIDTH - 40, 13)
    body = [text(20, 26, f"{answer.sale.name}: {answer.standing}", 16, weight="bold")]
    if answer.cash is not None:
        body += _fan(answer) + _swings(answer)
        foot = TOP + HEIGHT + 50
    else:
        foot = 52.0
    body += paragraph(20, foot, lines, 13, kind="ink")
    return document(WIDTH, foot + 18 * len(lines) + 8, answer.sentence, body)


def _fan(answer: ProductAnswer) -> list[str]:
    assert answer.cash is not None
    band = answer.cash.band
    low, high = min(float(band.min()), 0.0), max(float(band.max()), 0.0)
    step = _step((high - low) / 4)
    low, high = math.floor(low / step) * step, math.ceil(high / step) * step
    months = len(band) - 1

    def x(month: float) -> float:
        return LEFT + month / months * (FAN_RIGHT - LEFT)

    def y(money: float) -> float:
        return TOP + (high - money) / (high - low) * HEIGHT

    body = [text(LEFT, TOP - 12, f"cash, {answer.sale.currency}", 12, kind="soft")]
    for outer, inner, shade in ((0, 4, 0.18), (1, 3, 0.32)):
        up = [f"{number(x(m))} {number(y(float(row[inner])))}" for m, row in enumerate(band)]
        down = [f"{number(x(m))} {number(y(float(row[outer])))}" for m, row in reversed(list(enumerate(band)))]
        body.append(f'<path d="M{" L".join(up + down)} Z" fill="{ACCENT}" fill-opacity="{shade}"/>')
    middle = " L".join(f"{number(x(m))} {number(y(float(row[2])))}" for m, row in enumerate(band))
    body.append(f'<path d="M{middle}" fill="none" stroke="{ACCENT}" stroke-width="2.5" class="mark"/>')
    for k in range(round((high - low) / step) + 1):
        money = low + k * step
        stroke = SOFT if abs(money) < 1e-9 else FAINT
        width = 1.6 if abs(money) < 1e-9 else 0.5
        body.append(
            f'<path d="M{LEFT} {number(y(money))} H{FAN_RIGHT}" stroke="{stroke}" stroke-width="{width}" class="thin"/>'
        )
        body.append(text(LEFT - 6, y(money) + 4, f"{money:.0f}", 11, "end", kind="soft"))
    every = max(1, round(months / 6))
    for month in range(0, months + 1, every):
        body.append(text(x(month), TOP + HEIGHT + 16, str(month), 11, "middle", kind="soft"))
    body.append(text((LEFT + FAN_RIGHT) / 2, TOP + HEIGHT + 32, "months; half of all futures lie in the darker band, "
                     "nine tenths in the paler", 11, "middle", kind="soft"))  # fmt: skip
    return body


def _swings(answer: ProductAnswer) -> list[str]:
    swings = answer.swings
    low = min(0.0, *(min(s.at_low, s.at_high) for s in swings))
    high = max(0.0, *(max(s.at_low, s.at_high) for s in swings))

    def x(money: float) -> float:
        return BAR_LEFT + (money - low) / max(high - low, 1e-9) * (BAR_RIGHT - BAR_LEFT)

    body = [text(FAN_RIGHT + 30, TOP - 12, f"what moves the end, {answer.sale.currency}", 12, kind="soft")]
    for row, swing in enumerate(swings):
        y = TOP + 14 + 62 * row
        ends = sorted((swing.at_low, swing.at_high))
        for part, line in enumerate(wrapped(swing.what, BAR_LEFT - FAN_RIGHT - 44, 12)):
            body.append(text(FAN_RIGHT + 30, y + 12 + 14 * part, line, 12))
        body.append(
            f'<rect x="{number(x(ends[0]))}" y="{number(y)}" width="{number(max(1.0, x(ends[1]) - x(ends[0])))}" '
            f'height="16" fill="{ACCENT}" fill-opacity="0.55"/>'
        )
        said = f"{swing.low:.3g} to {swing.high:.3g} {swing.unit}: {ends[0]:.0f} to {ends[1]:.0f}"
        body.append(text(BAR_RIGHT, y + 31, said, 10.5, "end", kind="soft"))
    foot = TOP + 62 * len(swings)
    body.append(
        f'<path d="M{number(x(0.0))} {TOP} V{number(foot)}" stroke="{SOFT}" stroke-width="1.4" class="thin"/>'
    )
    body.append(text(x(0.0), foot + 13, "0", 11, "middle", kind="soft"))
    return body


def _step(rough: float) -> float:
    """A round step of about this size."""
    if rough <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * m for m in (1, 2, 5, 10) if power * m >= rough)
