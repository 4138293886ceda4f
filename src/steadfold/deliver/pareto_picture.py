"""Cost against rating of the designs a search looked at, and the line that nothing found beats."""

from __future__ import annotations

from steadfold.deliver.svg import ACCENT, FAINT, SOFT, document, number, text
from steadfold.money.search import Candidate, Found

WIDTH, HEIGHT, LEFT, BOTTOM, TOP = 760.0, 420.0, 80.0, 60.0, 52.0


def pareto_svg(found: Found, title: str, cost_name: str, rating_name: str, needed: float | None = None) -> str:
    """The picture; `needed` draws the rating that is asked for. Designs that cannot be made have no place in it."""
    shown = {c: a for c, a in found.answers.items() if a.outcome != "cannot be made"}
    if not shown:
        return document(WIDTH, 80, title, [text(20, 26, title, 16, weight="bold"), text(20, 52, "nothing to show", 13)])
    costs = [answer.cost for answer in shown.values()]
    ratings = [answer.rating for answer in shown.values()]
    low, high = 0.95 * min(costs), 1.05 * max(costs)
    top = 1.08 * max([*ratings, needed or 0.0])

    def x(cost: float) -> float:
        return LEFT + (cost - low) / max(high - low, 1e-9) * (WIDTH - LEFT - 24)

    def y(rating: float) -> float:
        return HEIGHT - BOTTOM - max(0.0, rating) / max(top, 1e-9) * (HEIGHT - BOTTOM - TOP)

    body = [
        text(20, 26, title, 16, weight="bold"),
        f'<path d="M{LEFT} {TOP} V{HEIGHT - BOTTOM} H{WIDTH - 24}" fill="none" stroke="{SOFT}" class="line"/>',
        text((LEFT + WIDTH) / 2, HEIGHT - 16, cost_name, 12, "middle", kind="soft"),
        text(LEFT, TOP - 8, rating_name, 12, kind="soft"),
    ]
    for share in (0.0, 0.5, 1.0):
        cost, rating = low + share * (high - low), share * top
        body.append(text(x(cost), HEIGHT - BOTTOM + 16, f"{cost:.3g}", 11, "middle", kind="soft"))
        body.append(text(LEFT - 6, y(rating) + 4, f"{rating:.3g}", 11, "end", kind="soft"))
    if needed is not None:
        line = f"M{LEFT} {number(y(needed))} H{WIDTH - 24}"
        body.append(f'<path d="{line}" stroke="{FAINT}" stroke-dasharray="5 4" class="thin"/>')
        body.append(text(WIDTH - 26, y(needed) - 5, "asked for", 11, "end", kind="soft"))
    for candidate, answer in shown.items():
        fill = ACCENT if answer.outcome == "enough" else FAINT
        body.append(
            f'<circle cx="{number(x(answer.cost))}" cy="{number(y(answer.rating))}" r="4" fill="{fill}">'
            f"<title>{_said(found, candidate)}</title></circle>"
        )
    front = found.pareto
    steps = " L".join(f"{number(x(shown[c].cost))} {number(y(shown[c].rating))}" for c in front)
    body.append(f'<path d="M{steps}" fill="none" stroke="{ACCENT}" stroke-width="1.5" class="mark"/>')
    if found.best is not None:
        best = shown[found.best]
        at = f'cx="{number(x(best.cost))}" cy="{number(y(best.rating))}"'
        body.append(f'<circle {at} r="9" fill="none" stroke="{ACCENT}" stroke-width="2" class="mark"/>')
    return document(WIDTH, HEIGHT, title, body)


def _said(found: Found, candidate: Candidate) -> str:
    words = ", ".join(f"{name} {value}" for name, value in found.named(candidate).items())
    return words.replace("&", "&amp;").replace("<", "&lt;")
