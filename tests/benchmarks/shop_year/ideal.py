"""The best forecaster there can be in the invented shops: told the law that they are drawn from, not what was drawn.

Whatever full information saves beyond him cannot be known by anybody. The logarithm of a rate is a level, a yearly wave,
a drift and a random walk (`world._rates`): jointly normal but for the wave's size, whose two coefficients are taken as
normal with their true mean and covariance. Counts are Poisson-gamma (sales: Poisson). The posterior is Laplace's
approximation, found by Newton's method in the form of Rasmussen and Williams 2006, algorithm 3.1 (from memory).
"""

from functools import cache

import numpy as np

from stockroom.buying.problem import FloatArray
from tests.benchmarks.shop_year.rules import weekly_jobs, weekly_sales
from tests.benchmarks.shop_year.world import World

JOB_LEVEL, SALE_LEVEL = (0.9, 0.8), (0.0, 0.7)  # mean and spread of a level's logarithm
DRIFT, WANDER = 0.08, 0.02  # a year, a week
NEWTON_STEPS = 30


def ideal_rates(
    world: World, day: int, n_paths: int, weeks: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Draw what the rates of the coming weeks may be, shapes (n_paths, weeks, n_jobs or n_items)."""
    jobs, sales = weekly_jobs(world, day), weekly_sales(world, day)
    past = len(jobs)
    shut = world.open_weeks[: past + weeks]
    shut = np.append(shut, np.ones(past + weeks - len(shut)))
    told = [_drawn(each, shut, JOB_LEVEL, world.job_size, (n_paths, rng)) for each in jobs.T]
    none = np.zeros((n_paths, weeks))
    sold = [_drawn(each, shut, SALE_LEVEL, np.inf, (n_paths, rng)) if each.any() else none for each in sales.T]
    return np.stack(told, axis=2), np.stack(sold, axis=2)


def _drawn(
    counts: FloatArray,
    opened: FloatArray,
    level: tuple[float, float],
    size: float,
    draws: tuple[int, np.random.Generator],
) -> FloatArray:
    """Draw the coming weekly rates of one series from its posterior."""
    past, whole = len(counts), len(opened)
    mean, cov = _prior(whole, level)
    seen = np.flatnonzero(opened[:past] > 0)
    y, own = counts[seen], cov[np.ix_(seen, seen)]
    eta = mean[seen].copy()
    for _ in range(NEWTON_STEPS):
        slope, curve = _slope(y, eta, size)
        root = np.sqrt(curve)
        inner = np.eye(len(seen)) + root[:, None] * own * root
        push = curve * (eta - mean[seen]) + slope
        pull = push - root * np.linalg.solve(inner, root * (own @ push))
        new = mean[seen] + own @ pull
        done, eta = float(np.abs(new - eta).max()) < 1e-8, new
        if done:
            break
    slope, curve = _slope(y, eta, size)
    root = np.sqrt(curve)
    ahead = np.arange(past, whole)
    cross = cov[np.ix_(ahead, seen)]
    middle = mean[ahead] + cross @ slope
    inner = np.eye(len(seen)) + root[:, None] * own * root
    spread = cov[np.ix_(ahead, ahead)] - (cross * root) @ np.linalg.solve(inner, root[:, None] * cross.T)
    n_paths, rng = draws
    noise = rng.standard_normal((n_paths, len(ahead)))
    values, vectors = np.linalg.eigh(spread)
    logs = middle + (noise * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    rates: FloatArray = np.exp(logs) * opened[past:]
    return rates


def _slope(y: FloatArray, eta: FloatArray, size: float) -> tuple[FloatArray, FloatArray]:
    """First derivative of the log likelihood in the log rate, and minus the second."""
    rate = np.exp(np.clip(eta, -20.0, 20.0))
    if np.isinf(size):
        return y - rate, rate
    part = rate / (size + rate)
    return y - (y + size) * part, (y + size) * part * (1 - part)


@cache
def _prior(weeks: int, level: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of the log rate of each week, as the worlds are drawn."""
    rng = np.random.default_rng(0)
    size, turn = rng.uniform(0.1, 0.5, 100_000), 2 * np.pi * rng.normal(0.8, 0.12, 100_000)
    wave = np.stack([size * np.cos(turn), size * np.sin(turn)])
    week = np.arange(weeks)
    basis = np.stack([np.cos(2 * np.pi * week / 52), np.sin(2 * np.pi * week / 52)])
    mean = level[0] + wave.mean(axis=1) @ basis
    cov = basis.T @ np.cov(wave) @ basis + level[1] ** 2
    cov += DRIFT**2 * np.outer(week, week) / 52**2 + WANDER**2 * (np.minimum.outer(week, week) + 1.0)
    return mean, cov
