"""The Bayesian model of a shop's prices: a level, a multiplier on every rate, and noise that allows outliers.

    total = level × Σ rate_j × multiplier_j × amount_j × noise, but not below the least order

The level and the multipliers are log-normal about the typical rates, so no rate can become negative; the noise is
Student-t on the logarithm, so that one odd quote does not spoil the rest. The posterior is sampled: the bell
curve at its top is too narrow with few quotes. Chains run side by side as rows of one array.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

LEVEL_SPREAD = 0.35
"""Standard deviation of the logarithm of a shop's level about the typical (assumed: half of all shops lie within
a quarter of it)."""
RATE_SPREAD = 0.35
"""Standard deviation of the logarithm of each multiplier about 1 (assumed)."""
NOISE_MIDDLE, NOISE_SPREAD = 0.04, 0.5
"""A quote strays from its rates by about 4 %; logarithm of that known to 0.5 (assumed)."""
NOISE_FREEDOM = 4.0
"""Degrees of freedom of the Student-t noise."""
DRIFT_PER_YEAR = 0.06
"""How much further a quote strays for each year of its age (assumed, about the prices of metal and work)."""

CHAINS, WARM_UP, KEPT, LEAPS = 64, 60, 40, 10


@dataclass(frozen=True, eq=False)
class Evidence:
    """What is known: `spend` (quotes, keys) money at the typical rates, the quotes' totals, their ages in years.

    `least` is the least order at the typical rates; its multiplier is the last of the parameters.
    """

    spend: np.ndarray
    totals: np.ndarray
    ages_years: np.ndarray
    least: float


@dataclass(frozen=True, eq=False)
class Draws:
    """Samples of the posterior: `log_level` (n,), `log_multiplier` (n, keys), `log_least` (n,), `noise` (n,)."""

    log_level: np.ndarray
    log_multiplier: np.ndarray
    log_least: np.ndarray
    noise: np.ndarray


def posterior_draws(evidence: Evidence, seed: int = 1) -> Draws:
    """Samples of the posterior by Hamiltonian Monte Carlo, whitened by the bell curve at its top.

    Source of the method: Neal, MCMC using Hamiltonian dynamics, 2011 (recalled). Always the same for the same
    evidence and seed.
    """
    random = np.random.default_rng(seed)
    size = evidence.spend.shape[1] + 3
    top, root = _top(evidence, size)
    place = top + random.standard_normal((CHAINS, size)) @ root.T
    log_density, slope = _log_density(evidence, place)
    step, kept = 0.25, []
    for turn in range(WARM_UP + KEPT):
        push = random.standard_normal((CHAINS, size))
        energy = log_density - 0.5 * (push**2).sum(axis=1)
        at, there, downhill, moving = place, log_density, slope, push
        jitter = step * random.uniform(0.7, 1.3)
        for _ in range(LEAPS):
            moving = moving + 0.5 * jitter * downhill @ root
            at = at + jitter * moving @ root.T
            there, downhill = _log_density(evidence, at)
            moving = moving + 0.5 * jitter * downhill @ root
        gain = there - 0.5 * (moving**2).sum(axis=1) - energy
        chance = np.exp(np.minimum(0.0, np.nan_to_num(gain, nan=-np.inf)))
        taken = random.random(CHAINS) < chance
        place = np.where(taken[:, None], at, place)
        slope = np.where(taken[:, None], downhill, slope)
        log_density = np.where(taken, there, log_density)
        if turn < WARM_UP:
            step *= 1.1 if chance.mean() > 0.8 else 0.85
        else:
            kept.append(place)
    sampled = np.concatenate(kept)
    return Draws(
        LEVEL_SPREAD * sampled[:, 0],
        RATE_SPREAD * sampled[:, 3:],
        RATE_SPREAD * sampled[:, 1],
        NOISE_MIDDLE * np.exp(NOISE_SPREAD * sampled[:, 2]),
    )


def _log_density(evidence: Evidence, place: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Logarithm of prior times likelihood and its slope at (chains, parameters): level, least, noise, multipliers,
    each in its own standard deviation."""
    level, least, tone, rates = place[:, 0], place[:, 1], place[:, 2], place[:, 3:]
    parts = np.exp(RATE_SPREAD * rates)[:, None, :] * evidence.spend[None, :, :]
    work = parts.sum(axis=2)
    floor = evidence.least * np.exp(RATE_SPREAD * least)[:, None]
    by_work = work >= floor
    away = np.log(evidence.totals)[None, :] - LEVEL_SPREAD * level[:, None] - np.log(np.maximum(work, floor))
    noise = NOISE_MIDDLE * np.exp(NOISE_SPREAD * np.clip(tone, -20, 20))
    variance = noise[:, None] ** 2 + (DRIFT_PER_YEAR * evidence.ages_years[None, :]) ** 2
    ratio = away**2 / (NOISE_FREEDOM * variance)
    half = 0.5 * (NOISE_FREEDOM + 1)
    density = -half * np.log1p(ratio).sum(axis=1) - 0.5 * np.log(variance).sum(axis=1) - 0.5 * (place**2).sum(axis=1)
    pull = 2 * half * away / (NOISE_FREEDOM * variance * (1 + ratio))
    slope = -place.copy()
    slope[:, 0] += LEVEL_SPREAD * pull.sum(axis=1)
    slope[:, 1] += RATE_SPREAD * np.where(by_work, 0.0, pull).sum(axis=1)
    by_variance = half * ratio / (variance * (1 + ratio)) - 0.5 / variance
    slope[:, 2] += (by_variance.sum(axis=1)) * 2 * noise**2 * NOISE_SPREAD
    slope[:, 3:] += RATE_SPREAD * np.einsum("cq,cqk->ck", np.where(by_work, pull, 0.0) / work, parts)
    return density, slope


def _top(evidence: Evidence, size: int) -> tuple[np.ndarray, np.ndarray]:
    """Near the top of the posterior, and a root of the covariance there, by Gauss-Newton steps with weights that
    take outliers down."""
    place = np.zeros(size)
    inverse = np.eye(size)
    for _ in range(12):
        parts = np.exp(RATE_SPREAD * place[3:]) * evidence.spend
        work = parts.sum(axis=1)
        floor = evidence.least * np.exp(RATE_SPREAD * place[1])
        by_work = work >= floor
        away = np.log(evidence.totals) - LEVEL_SPREAD * place[0] - np.log(np.maximum(work, floor))
        variance = NOISE_MIDDLE**2 + (DRIFT_PER_YEAR * evidence.ages_years) ** 2
        weight = (NOISE_FREEDOM + 1) / (NOISE_FREEDOM * variance + away**2)
        rows = np.zeros((len(away), size))
        rows[:, 0] = LEVEL_SPREAD
        rows[:, 1] = np.where(by_work, 0.0, RATE_SPREAD)
        rows[:, 3:] = np.where(by_work[:, None], RATE_SPREAD * parts / work[:, None], 0.0)
        inverse = np.linalg.inv(np.eye(size) + rows.T @ (weight[:, None] * rows))
        move = inverse @ (rows.T @ (weight * away) - place)
        place = place + move * min(1.0, 2.0 / max(float(np.linalg.norm(move)), 1e-9))
    return place, np.linalg.cholesky(inverse)
