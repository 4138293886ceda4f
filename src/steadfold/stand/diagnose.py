"""Why it sags: which of mass, slip in the joints, soft joints or a bench that racks explains what was measured.

A model of four unknowns, each with a prior that is stated, against readings with their errors; the posterior by
importance sampling from Laplace's approximation. Where the readings cannot tell two causes apart it says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import optimize, special

from steadfold.stand.footing import FloatArray
from steadfold.stand.records import Joint, Reading, Stand, StandError
from steadfold.stand.sag import racking_rotation_rad, reach_mm, sag_budgets
from steadfold.stand.statics import Case, cases_of, lean_load, machine_load, sag_mm, solved
from steadfold.stand.structure import Built, built

CAUSES = ("mass", "slip", "joint stiffness", "bench racking")

KNOWN_MASS_SPREAD = 0.02
"""Standard deviation of a mass given as one figure; judgement."""

GUESSED_MASS_SPREAD = 0.3
"""Standard deviation, on the log scale, of a mass that was only guessed; judgement."""

STIFFNESS_SPREAD = math.log(2.0)
"""Standard deviation of joint stiffness on the log scale: a factor of two either way; judgement."""

RACKING_SPREAD = math.log(1.5)
"""The same of a bench whose racking was measured; judgement."""

UNMEASURED_RACK_N_PER_MM = 300.0
UNMEASURED_RACKING_SPREAD = math.log(3.0)
"""A bench nobody pushed: 300 N for a millimetre at its top, to a factor of three; judgement."""

TELLS_FROM = 0.8
"""Posterior probability from which a cause is named."""

SHARE_OF_A_CAUSE = 0.5
"""Part of the unexplained sag that something must make up to be its cause."""

DRAWS = 12_000
MODEL_ERROR = 0.05
"""Standard error of the frame model itself, as a share of its elastic sag; judgement."""

STIFFNESS_STEPS = np.exp(np.linspace(-2.6, 2.6, 9))


@dataclass(frozen=True)
class PosteriorRange:
    """One unknown: what it is, its unit, prior median, and the posterior median with its 95 % range.

    `sag_mm` is the median of what this cause adds to the sag of the first reading beyond what was expected of it.
    """

    cause: str
    unit: str
    prior: str
    prior_median: float
    low: float
    median: float
    high: float
    sag_mm: float
    chance: float


@dataclass(frozen=True)
class Diagnosis:
    """What explains the measured sag.

    `cause` is one of `CAUSES`, 'nothing to explain' or 'cannot tell'. `chances` of each cause; `ranges` of each
    unknown. `expected_mm` what the first reading should have been, `measured_mm` what it was. `next_reading` is what
    would tell.
    """

    cause: str
    say: str
    expected_mm: float
    measured_mm: float
    ranges: tuple[PosteriorRange, ...]
    next_reading: str
    effective_draws: float
    misfit: float

    @property
    def chances(self) -> dict[str, float]:
        """Posterior probability of each cause."""
        return {each.cause: each.chance for each in self.ranges}


@dataclass(frozen=True, eq=False)
class SagModel:
    """Sag of every reading as a function of mass, share of slip taken up, joint stiffness and bench stiffness factors.

    Rows are readings: per kg of machine on it at each of `STIFFNESS_STEPS` (r, k), the same for all else that weighs
    (r, k), all the clearance (r,), racking per kg and for all else (r,).
    """

    per_kg: FloatArray
    other: FloatArray
    clearance: FloatArray
    racking_per_kg: FloatArray
    racking_other: FloatArray

    def sag(self, mass_kg: FloatArray, slip: FloatArray, stiffness: FloatArray, bench: FloatArray) -> FloatArray:
        """Sags (r, n) for arrays (n,) of the unknowns."""
        # a joint in a row with members gives by 1 / stiffness, so between steps that is the straight line
        steps, at = 1.0 / STIFFNESS_STEPS[::-1], 1.0 / stiffness
        per_kg = np.array([np.interp(at, steps, row[::-1]) for row in self.per_kg])
        other = np.array([np.interp(at, steps, row[::-1]) for row in self.other])
        racking = (self.racking_per_kg[:, None] * mass_kg + self.racking_other[:, None]) / bench
        return np.asarray(per_kg * mass_kg + other + self.clearance[:, None] * slip + racking)


def sag_model(stand: Stand, readings: Sequence[Reading], own_weight: bool = True) -> SagModel:
    """The model behind the diagnosis: the frame solved once for each joint stiffness."""
    machine = stand.machine
    if machine is None:
        raise StandError(("machine",), "a diagnosis wants the machine that makes it sag")
    count, steps = len(readings), len(STIFFNESS_STEPS)
    per_kg, other = np.zeros((count, steps)), np.zeros((count, steps))
    racking = np.zeros((2, count))
    clearance = np.zeros(count)
    for column, factor in enumerate(STIFFNESS_STEPS):
        ready = built(softened(stand, float(factor)))
        plain = cases_of(ready, own_weight)[0]
        empty = np.zeros((len(ready.places), 6))
        kilogram = machine_load(ready, 1.0, machine.centre_mm)
        loadings = [plain.loads, replace(plain.loads, nodal=empty), replace(plain.loads, nodal=100.0 * kilogram)]
        loadings += [
            replace(plain.loads, nodal=lean_load(ready, each.extra_n, each.at) if each.extra_n else empty)
            for each in readings
        ]
        results = solved(ready, [Case("", "", each) for each in loadings])
        for row, each in enumerate(readings):
            bare = sag_mm(ready, results[1], each.at)
            on = (sag_mm(ready, results[2], each.at) - bare) / 100.0
            per_kg[row, column] = on if each.machine_on else 0.0
            other[row, column] = sag_mm(ready, results[3 + row], each.at)
        if abs(factor - 1.0) < 1e-9:
            turn = [_rack(ready, result) for result in results]
            spread = replace(stand, level_at=tuple(dict.fromkeys(each.at for each in readings)))
            budgets = {b.node: b for b in sag_budgets(replace_stand(ready, spread), plain, results[0])}
            for row, each in enumerate(readings):
                over = reach_mm(stand, each.at)
                racking[0, row] = (turn[2] - turn[1]) / 100.0 * over if each.machine_on else 0.0
                racking[1, row] = turn[3 + row] * over
                # what has slipped stays slipped when the machine comes off
                clearance[row] = budgets[each.at].all_take_up_mm
    return SagModel(per_kg, other, clearance, racking[0], racking[1])


def replace_stand(ready: Built, stand: Stand) -> Built:
    """The same system under a stand that differs in what is looked at only."""
    return replace(ready, stand=stand)


def softened(stand: Stand, factor: float) -> Stand:
    """The stand with every bolted joint's turning stiffness and every yielding support times a factor."""

    def joint(each: Joint) -> Joint:
        return each if each.turn_nmm_per_rad is None else replace(each, turn_nmm_per_rad=each.turn_nmm_per_rad * factor)

    return replace(
        stand,
        members=tuple(replace(m, joints=(joint(m.joints[0]), joint(m.joints[1]))) for m in stand.members),
        held=tuple(
            h if h.gives_n_per_mm is None else replace(h, gives_n_per_mm=h.gives_n_per_mm * factor) for h in stand.held
        ),
    )


def _rack(ready: Built, result: object) -> float:
    """Rotation of the bench's side; for one nobody measured, at 300 N per mm."""
    stand = ready.stand
    if stand.bench is None:
        return 0.0
    bench = stand.bench
    if bench.rack_n_per_mm is None:
        ready = replace(ready, stand=replace(stand, bench=replace(bench, rack_n_per_mm=UNMEASURED_RACK_N_PER_MM)))
    return racking_rotation_rad(ready, result) or 0.0  # type: ignore[arg-type]


@dataclass(frozen=True)
class Priors:
    """What is believed before reading: the mass's median and spread on the log scale, and the spreads of the others.

    The share of slip taken up is anything from 0 to 1 alike.
    """

    mass_kg: float
    mass_spread: float
    stiffness_spread: float
    racking_spread: float

    def sentences(self) -> tuple[str, ...]:
        """Each prior in words."""
        return (
            f"{self.mass_kg:.4g} kg, 68 % within a factor of {math.exp(self.mass_spread):.2f}",
            "any share of the clearances from none to all, alike",
            f"as calculated, 68 % within a factor of {math.exp(self.stiffness_spread):.2g}",
            f"as given, 68 % within a factor of {math.exp(self.racking_spread):.2g}",
        )


def priors_of(stand: Stand) -> Priors:
    """The priors that follow from a stand: a mass range counts as 95 %, a guessed mass as +-30 %."""
    machine = stand.machine
    assert machine is not None
    middle = math.sqrt(machine.mass_kg.low * machine.mass_kg.high)
    spread = math.log(machine.mass_kg.high / machine.mass_kg.low) / 3.92
    spread = max(spread, GUESSED_MASS_SPREAD if machine.weighed == "guessed" else KNOWN_MASS_SPREAD)
    measured = stand.bench is not None and stand.bench.rack_n_per_mm is not None
    return Priors(middle, spread, STIFFNESS_SPREAD, RACKING_SPREAD if measured else UNMEASURED_RACKING_SPREAD)


def diagnose(
    stand: Stand, readings: Sequence[Reading] | None = None, priors: Priors | None = None, own_weight: bool = True
) -> Diagnosis:
    """What explains the measured sag: mass, slip, joint stiffness or bench racking, with posterior ranges.

    Readings count from where the place was drawn. A reading with a known weight hung on (`extra_n`) tells stiffness
    from slip, one with the machine off (`machine_on` False) tells slip from everything else. Raises StandError without
    readings, without a machine, or for places that do not exist.
    """
    readings = tuple(stand.readings if readings is None else readings)
    if not readings:
        raise StandError(("reading",), "a diagnosis wants at least one reading of how low the stand sits")
    for index, each in enumerate(readings):
        if each.at not in stand.nodes:
            raise StandError(
                ("reading", index, "at"), f"{each.at!r} is no node of this stand; there are {', '.join(stand.nodes)}"
            )
    model = sag_model(stand, readings, own_weight)
    return explained(model, readings, priors or priors_of(stand))


def explained(model: SagModel, readings: Sequence[Reading], priors: Priors) -> Diagnosis:
    """The diagnosis from a model that is at hand."""
    measured = np.array([each.low_mm for each in readings])
    expected = model.sag(*_unknowns(np.zeros((1, 4)), priors, slip=0.0))[:, 0]
    error = np.hypot([each.error_mm for each in readings], MODEL_ERROR * np.abs(expected))
    draws, weights, misfit = _posterior(model, priors, measured, error)
    unknowns = _unknowns(draws, priors)
    calm = _unknowns(np.zeros((1, 4)), priors, slip=0.0)
    parts = []
    for index in range(4):
        one = [np.broadcast_to(value, draws.shape[:1]) for value in calm]
        one[index] = unknowns[index]
        parts.append(model.sag(*one)[0] - expected[0])
    share = np.array(parts)
    ranges = _ranges(share, unknowns, weights, priors)
    cause, say, hint = _verdict(ranges, expected, measured, error, readings)
    return Diagnosis(
        cause, say, float(expected[0]), float(measured[0]), ranges, hint, float(1.0 / np.square(weights).sum()), misfit
    )


def _unknowns(scores: FloatArray, priors: Priors, slip: float | None = None) -> tuple[FloatArray, ...]:
    """Mass, slip, stiffness and bench factors (n,) from standard normal scores (n, 4)."""
    mass = priors.mass_kg * np.exp(priors.mass_spread * scores[:, 0])
    share = special.ndtr(scores[:, 1]) if slip is None else np.full(len(scores), slip)
    stiffness = np.exp(np.clip(priors.stiffness_spread * scores[:, 2], -2.6, 2.6))
    return mass, share, stiffness, np.exp(priors.racking_spread * scores[:, 3])


def _posterior(
    model: SagModel, priors: Priors, measured: FloatArray, error: FloatArray
) -> tuple[FloatArray, FloatArray, float]:
    """Draws (n, 4) of scores with weights (n,), and the least misfit in standard errors.

    Laplace: the mode by least squares from several starts, its covariance from the Jacobian; half the draws from it,
    widened by a half, half from the prior; weights correct for both.
    """

    def residual(scores: FloatArray) -> FloatArray:
        sag = model.sag(*_unknowns(scores[None, :], priors))[:, 0]
        return np.concatenate([(sag - measured) / error, scores])

    best = None
    for start in ([0.0, -1.5, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [1.0, -1.5, -1.0, -1.0]):
        found = optimize.least_squares(residual, np.array(start), method="lm", max_nfev=200)
        if best is None or found.cost < best.cost:
            best = found
    assert best is not None
    spread = np.linalg.inv(best.jac.T @ best.jac + 1e-9 * np.eye(4))
    spread = 0.5 * (spread + spread.T) * 1.5**2
    random = np.random.default_rng(20240229)
    root = np.linalg.cholesky(spread)
    half = DRAWS // 2
    draws = np.concatenate([best.x + random.normal(size=(half, 4)) @ root.T, random.normal(size=(half, 4))])
    sag = model.sag(*_unknowns(draws, priors))
    log_like = -0.5 * np.square((sag - measured[:, None]) / error[:, None]).sum(axis=0)
    log_prior = -0.5 * np.square(draws).sum(axis=1)
    offset = np.linalg.solve(root, (draws - best.x).T)
    log_laplace = -0.5 * np.square(offset).sum(axis=0) - np.log(np.diag(root)).sum()
    log_proposal = np.logaddexp(log_laplace, log_prior) - math.log(2.0)
    log_weight = log_like + log_prior - log_proposal
    weights = np.exp(log_weight - log_weight.max())
    misfit = float(np.sqrt(np.square((sag - measured[:, None]) / error[:, None]).mean(axis=0).min()))
    return draws, weights / weights.sum(), misfit


def _ranges(
    share: FloatArray, unknowns: tuple[FloatArray, ...], weights: FloatArray, priors: Priors
) -> tuple[PosteriorRange, ...]:
    total = np.maximum(share, 0.0).sum(axis=0)
    units = ("kg", "of all clearance", "times the calculated", "times the given")
    medians = (priors.mass_kg, 0.5, 1.0, 1.0)
    ranges = []
    for index, cause in enumerate(CAUSES):
        low, median, high = (_quantile(unknowns[index], weights, q) for q in (0.025, 0.5, 0.975))
        leads = (share[index] >= SHARE_OF_A_CAUSE * total) & (total > 0.0)
        ranges.append(
            PosteriorRange(
                cause, units[index], priors.sentences()[index], medians[index], low, median, high,
                _quantile(share[index], weights, 0.5), float(weights[leads].sum()),
            )
        )  # fmt: skip
    return tuple(ranges)


def _quantile(values: FloatArray, weights: FloatArray, share: float) -> float:
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    return float(values[order][min(int(np.searchsorted(reached, share)), len(values) - 1)])


def _verdict(
    ranges: tuple[PosteriorRange, ...],
    expected: FloatArray,
    measured: FloatArray,
    error: FloatArray,
    readings: Sequence[Reading],
) -> tuple[str, str, str]:
    first = readings[0]
    gap = float(measured[0] - expected[0])
    lies = f"{first.at} lies {measured[0]:.2f} mm low where {expected[0]:.2f} mm was expected"
    if np.all(np.abs(measured - expected) <= 2.0 * error):
        return "nothing to explain", f"{lies}: within the error of the reading", ""
    best = max(ranges, key=lambda each: each.chance)
    if best.chance >= TELLS_FROM and gap > 0.0:
        say = f"{lies}; {best.cause} explains {best.sag_mm:.2f} mm of it (chance {best.chance:.0%})"
        return best.cause, say, ""
    rivals = [each.cause for each in ranges if each.chance >= 0.1] or [each.cause for each in ranges]
    if not any(each.machine_on is False for each in readings):
        hint = "lift the machine off and read again: what has slipped stays low, what only bends comes back"
    elif not any(each.extra_n for each in readings):
        hint = "hang a known weight on the tip and read again: soft joints give more, slip does not"
    else:
        hint = "read more finely, with a dial gauge, or weigh the machine"
    say = f"these readings cannot tell {' from '.join(rivals)} apart" if len(rivals) > 1 else (
        f"{rivals[0]} is likely (chance {best.chance:.0%}) but not certain"
    )  # fmt: skip
    return "cannot tell", say, hint
