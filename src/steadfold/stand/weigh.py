"""Mass and centre of mass of a machine nobody can lift, from scales under one side at a time, by least squares.

Moments about the line on which the rest of it stands: R L = W (d - h tan a), with R the reading, L the distance of the
scale from that line, d the distance of the centre of mass, h its height and a how far the scale's side is raised.
Linear in W, W x, W y and W z, so readings of any number and kind go in together, each with its error.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from steadfold.quantities import Range
from steadfold.stand.footing import FloatArray
from steadfold.stand.records import Machine, StandError

NINETY_FIVE = 1.959964
"""Standard deviations that hold 95 % of a normal distribution to both sides."""

DISAGREE = 0.01
"""Chance below which readings that do not fit each other are called so."""

Level = tuple[float, float]


@dataclass(frozen=True)
class ScaleReading:
    """One reading: a scale (or two side by side, their sum) under one side while the rest stands on a line.

    `reads_kg` with standard error `error_kg`; `at_mm` where the scale pushes up, `pivot_mm` two points of the line on
    which the rest stands (None: all of it is on the scale). `raised_rad` is how far the scale's side is tilted up
    about that line. `lever` is what the reading is multiplied by (plank: scale arm over foot arm). `place_error_mm`
    is how well the distance from line to scale is known. `tare_kg` is what the scale shows of plank and blocks.
    """

    reads_kg: float
    error_kg: float
    at_mm: Level = (0.0, 0.0)
    pivot_mm: tuple[Level, Level] | None = None
    raised_rad: float = 0.0
    lever: float = 1.0
    place_error_mm: float = 0.0
    tare_kg: float = 0.0
    say: str = ""


@dataclass(frozen=True)
class FeetReadings:
    """Every foot on a scale of its own, or one scale under each foot in turn with blocks of its height under the
    rest.
    """

    feet_mm: tuple[Level, ...]
    reads_kg: tuple[float, ...]
    error_kg: float


@dataclass(frozen=True)
class Weighed:
    """What the readings say: mass, centre of mass, and how surely.

    `centre_mm` holds x, y and height, None for what the readings do not tell. `error` are standard errors in the same
    order, mass first; `worst` what they would be if every reading were off by its 95 % error the unkind way.
    `misfit_chance` is how likely readings disagree this much by chance (None without any to spare).
    """

    mass_kg: float
    centre_mm: tuple[float | None, float | None, float | None]
    error: tuple[float, float | None, float | None, float | None]
    worst: tuple[float, float | None, float | None, float | None]
    misfit_chance: float | None
    readings: int

    @property
    def mass_range_kg(self) -> Range:
        """95 % range of the mass."""
        return Range(self.mass_kg - NINETY_FIVE * self.error[0], self.mass_kg + NINETY_FIVE * self.error[0])

    def centre_range_mm(self, axis: int) -> Range | None:
        """95 % range of x (0), y (1) or height (2); None where it is not known."""
        value, error = self.centre_mm[axis], self.error[axis + 1]
        if value is None or error is None:
            return None
        return Range(value - NINETY_FIVE * error, value + NINETY_FIVE * error)

    @property
    def disagree(self) -> bool:
        """True where the readings contradict each other beyond their errors."""
        return self.misfit_chance is not None and self.misfit_chance < DISAGREE


def weigh(readings: Sequence[ScaleReading | FeetReadings], scale_share: float = 0.0) -> Weighed:
    """Mass and centre of mass by generalised least squares.

    `scale_share` is the standard error of the scale's own calibration, common to all readings, as a share of them.
    Raises StandError where the readings do not even give the mass, or make no sense.
    """
    if not readings:
        raise StandError(("weigh",), "there are no readings")
    rows, values, noise = _observations(readings)
    full = noise + scale_share**2 * np.outer(values, values)
    known = _known(rows)
    if not known[0]:
        raise StandError(("weigh",), "these readings do not give the mass: weigh both sides, each against the other")
    root = np.linalg.cholesky(full)
    scale = np.where(np.abs(rows).max(axis=0) > 0.0, np.abs(rows).max(axis=0), 1.0)
    system = np.linalg.solve(root, rows / scale)
    right = np.linalg.solve(root, values)
    inverse = np.linalg.pinv(system, rcond=1e-9)
    found = (inverse @ right) / scale
    covariance = (inverse @ inverse.T) / np.outer(scale, scale)
    gain = (inverse @ np.linalg.inv(root)) / scale[:, None]
    mass = float(found[0])
    if not mass > 0.0:
        raise StandError(
            ("weigh",), "by these readings the machine weighs nothing: check which side each one was under"
        )
    centre: list[float | None] = []
    error: list[float | None] = [math.sqrt(covariance[0, 0])]
    reading_error = NINETY_FIVE * np.sqrt(np.diag(noise))
    worst: list[float | None] = [float(np.abs(gain[0]) @ reading_error)]
    for axis in (1, 2, 3):
        if not known[axis]:
            centre.append(None)
            error.append(None)
            worst.append(None)
            continue
        place = float(found[axis]) / mass
        slope = np.zeros(4)
        slope[axis], slope[0] = 1.0 / mass, -place / mass
        centre.append(place)
        error.append(math.sqrt(float(slope @ covariance @ slope)))
        worst.append(float(np.abs(slope @ gain) @ reading_error))
    spare = len(values) - int(np.linalg.matrix_rank(system, tol=1e-9 * np.linalg.norm(system)))
    chance = None
    if spare > 0:
        from scipy.stats import chi2

        chance = float(chi2.sf(float(np.square(system @ (found * scale) - right).sum()), spare))
    return Weighed(
        mass,
        (centre[0], centre[1], centre[2]),
        (cast(float, error[0]), error[1], error[2], error[3]),
        (cast(float, worst[0]), worst[1], worst[2], worst[3]),
        chance,
        len(readings),
    )


def _observations(readings: Sequence[ScaleReading | FeetReadings]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rows (k, 4) over W, W x, W y, W z, values (k,) and covariance (k, k)."""
    rows: list[FloatArray] = []
    values: list[float] = []
    blocks: list[FloatArray] = []
    for index, each in enumerate(readings):
        if isinstance(each, FeetReadings):
            if len(each.feet_mm) != len(each.reads_kg) or len(each.feet_mm) < 3:
                raise StandError(("weigh", index), "one reading for each of three feet or more is due here")
            places = np.column_stack([np.ones(len(each.feet_mm)), np.asarray(each.feet_mm, dtype=float)]).T
            rows += list(np.column_stack([np.eye(3), np.zeros(3)]))
            values += [float(v) for v in places @ np.asarray(each.reads_kg)]
            blocks.append(each.error_kg**2 * (places @ places.T))
            continue
        row, value, variance = _observation(each, index)
        rows.append(row)
        values.append(value)
        blocks.append(np.array([[variance]]))
    size = len(values)
    noise = np.zeros((size, size))
    start = 0
    for block in blocks:
        noise[start : start + len(block), start : start + len(block)] = block
        start += len(block)
    return np.array(rows), np.array(values), noise


def _observation(each: ScaleReading, index: int) -> tuple[FloatArray, float, float]:
    if not each.error_kg > 0.0:
        raise StandError(
            ("weigh", index, "error"), "a scale's error is more than 0 kg: its smallest division at the least"
        )
    reads = (each.reads_kg - each.tare_kg) * each.lever
    error = each.error_kg * each.lever
    if each.pivot_mm is None:
        return np.array([1.0, 0.0, 0.0, 0.0]), reads, error**2
    first, second = (np.asarray(p, dtype=float) for p in each.pivot_mm)
    along = second - first
    length = float(np.linalg.norm(along))
    if length < 1.0:
        raise StandError(("weigh", index, "pivot"), "the line it stands on needs two points apart from each other")
    normal = np.array([-along[1], along[0]]) / length
    arm = float((np.asarray(each.at_mm) - first) @ normal)
    if abs(arm) < 1.0:
        raise StandError(
            ("weigh", index, "at"), "the scale lies on the line the rest stands on: it cannot weigh anything"
        )
    if arm < 0.0:
        normal, arm = -normal, -arm
    # R = W (d - h tan a) / L, with d = (centre - first) . normal
    tilt = math.tan(each.raised_rad)
    row = np.array([-float(first @ normal), float(normal[0]), float(normal[1]), -tilt]) / arm
    return row, reads, error**2 + (reads * each.place_error_mm / arm) ** 2


def _known(rows: FloatArray) -> tuple[bool, bool, bool, bool]:
    """Which of W, W x, W y, W z the rows determine."""
    scale = np.where(np.abs(rows).max(axis=0) > 0.0, np.abs(rows).max(axis=0), 1.0)
    scaled = rows / scale
    _, sizes, turn = np.linalg.svd(scaled, full_matrices=True)
    rank = int((sizes > 1e-9 * max(float(sizes.max()), 1e-300)).sum())
    free = turn[rank:]
    used = np.abs(rows).max(axis=0) > 1e-12
    told = [bool(used[k]) and bool(np.abs(free[:, k]).max(initial=0.0) < 1e-6) for k in range(4)]
    return told[0], told[1], told[2], told[3]


def with_weighed(machine: Machine, found: Weighed) -> Machine:
    """The machine with what weighing says of it: 95 % ranges of mass and centre; what it does not say stays."""
    centre = [
        value if value is not None else old for value, old in zip(found.centre_mm, machine.centre_mm, strict=True)
    ]
    spread = [
        old if error is None else NINETY_FIVE * error
        for error, old in zip(found.error[1:], machine.centre_range_mm, strict=True)
    ]
    low = max(found.mass_range_kg.low, 0.01 * found.mass_kg)
    return replace(
        machine,
        mass_kg=Range(low, found.mass_range_kg.high),
        centre_mm=(centre[0], centre[1], centre[2]),
        centre_range_mm=(spread[0], spread[1], spread[2]),
        weighed="weighed",
    )


@dataclass(frozen=True)
class Placement:
    """Where to put the scale, in words, with the reading it should show and what error it leaves."""

    say: str
    reading: ScaleReading


def placements(feet_mm: Sequence[Level], mass_kg: float, error_kg: float) -> tuple[tuple[Placement, ...], Weighed]:
    """Where to put a scale under a machine with these feet, and how well it will then be known.

    Front and rear, then left and right, each side in turn with the other on blocks as high as the scale; one more with
    the rear raised, for the height of the centre. `mass_kg` is a guess. Raises StandError for fewer than three feet.
    """
    feet = np.asarray(feet_mm, dtype=float)
    if len(feet) < 3:
        raise StandError(("machine", "feet"), "weighing a side at a time wants three feet or more")
    low, high = feet.min(axis=0), feet.max(axis=0)
    middle = 0.5 * (low + high)
    half = 0.5 * mass_kg
    plan = [
        ("under the inner pair of feet", (low[0], middle[1]), ((high[0], low[1]), (high[0], high[1])), 0.0),
        ("under the outer pair of feet", (high[0], middle[1]), ((low[0], low[1]), (low[0], high[1])), 0.0),
        ("under the left pair of feet", (middle[0], low[1]), ((low[0], high[1]), (high[0], high[1])), 0.0),
        ("under the right pair of feet", (middle[0], high[1]), ((low[0], low[1]), (high[0], low[1])), 0.0),
        ("under the inner pair, the outer feet raised by 10 degrees", (low[0], middle[1]),
         ((high[0], low[1]), (high[0], high[1])), -math.radians(10.0)),
    ]  # fmt: skip
    found = []
    for words, at, pivot, raised in plan:
        rest = "on the floor" if raised else "on blocks as high as the scale"
        say = f"{words}, the other feet {rest}; a board across the scale if both feet do not fit on it"
        if raised:
            say = f"{words} on blocks, held from sliding; keep hands and feet clear"
        (ax, ay), (bx, by) = pivot
        line = ((float(ax), float(ay)), (float(bx), float(by)))
        reading = ScaleReading(half, error_kg, (float(at[0]), float(at[1])), line, raised, say=words)
        found.append(Placement(say, reading))
    return tuple(found), weigh([each.reading for each in found])


def sheet(feet_mm: Sequence[Level], mass_kg: float, error_kg: float, scale_limit_kg: float | None = None) -> str:
    """The weighing sheet as text: where to put the scale, what to write down, and how well the machine will be
    known.
    """
    plan, after = placements(feet_mm, mass_kg, error_kg)
    span = np.ptp(np.asarray(feet_mm, dtype=float), axis=0)
    lines = [
        "Weighing sheet",
        f"Feet {span[0]:.0f} mm apart outwards and {span[1]:.0f} mm along.",
        "Lift one side at a time, never the whole machine.",
        "Both sides at one height: with one side higher the lower one reads too much.",
        "",
    ]
    for number, each in enumerate(plan, 1):
        expected = f"It should read about {each.reading.reads_kg:.0f} kg."
        lines.append(f"{number}. Scale {each.say}. {expected}  Reads: ________ kg")
    known = [f"mass to {NINETY_FIVE * after.error[0]:.1f} kg"]
    words = ("how far out its centre lies", "how far along", "how high")
    for word, value in zip(words, after.error[1:], strict=True):
        if value is not None:
            known.append(f"{word} to {NINETY_FIVE * value:.0f} mm")
    lines += [
        "",
        f"With a scale good to {error_kg:.2g} kg (one standard error) this gives " + ", ".join(known) + " (95 %).",
    ]
    if scale_limit_kg is not None and 0.6 * mass_kg > scale_limit_kg:
        ratio = math.ceil(0.6 * mass_kg / (0.8 * scale_limit_kg))
        lines += [
            f"A side may weigh more than the scale's {scale_limit_kg:.0f} kg: put a plank under it, a block at one",
            f"end, the scale at the other, the machine's foot at 1/{ratio} of the way from the block; multiply",
            f"what it reads (less the plank's own) by {ratio}.",
        ]
    lines.append(
        "If the far side was not blocked up to the same height, do it again: the reading is wrong by W h tan(tilt) / L."
    )
    return "\n".join(lines)
