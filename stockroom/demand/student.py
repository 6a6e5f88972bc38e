"""Student's t, for the few values that are asked for: loading a library for it takes longer than working them out."""

from functools import lru_cache
from math import exp, lgamma, log, log1p, pi, sqrt

_STEPS = 10_000  # of the fraction below, which needs about the root of the degrees of freedom
_ENOUGH = 1e-15
_TINY = 1e-300


@lru_cache(4096)
def student_cdf(freedom: float, t: float) -> float:
    """Give the chance that Student's t with so many degrees of freedom, whole or not, is at most `t`.

    Notes
    -----
    By the regularised incomplete beta function, ``F(t) = 1 - I(v / (v + t^2); v / 2, 1 / 2) / 2`` for t above zero
    (Abramowitz and Stegun, *Handbook of Mathematical Functions*, 26.7.1 and 26.5.27), and its continued fraction
    (26.5.8), evaluated after Lentz.
    """
    square, half = t * t, freedom / 2
    if not square:
        return 0.5
    near, far = square / (freedom + square), freedom / (freedom + square)
    if far < (half + 1) / (half + 2.5):
        beyond = _beta(far, near, half, 0.5) / 2
    else:
        beyond = (1 - _beta(near, far, 0.5, half)) / 2
    return 1 - beyond if t > 0 else beyond


@lru_cache(4096)
def student_quantile(freedom: float, chance: float) -> float:
    """Give the value that Student's t stays below with a chance from a half up to, but not, 1.

    Notes
    -----
    Newton's steps from zero: there the distribution function bends down, so that each step stays short of the goal.
    """
    scale = exp(lgamma((freedom + 1) / 2) - lgamma(freedom / 2)) / sqrt(freedom * pi)
    t = 0.0
    for _ in range(_STEPS):
        density = scale * exp(-(freedom + 1) / 2 * log1p(t * t / freedom))
        step = (chance - student_cdf(freedom, t)) / density
        t += step
        if step <= _ENOUGH * t:
            break
    return t


def _beta(x: float, rest: float, a: float, b: float) -> float:
    """Give the regularised incomplete beta function at x, where `rest` is what is left of 1."""
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(rest)) / a
    ratio, made = 1 / _kept(1 - (a + b) * x / (a + 1)), 1.0
    whole = ratio
    for m in range(1, _STEPS):
        for term in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            ratio = 1 / _kept(1 + term * ratio)
            made = _kept(1 + term / made)
            whole *= ratio * made
        if abs(ratio * made - 1) < _ENOUGH:
            break
    return front * whole


def _kept(value: float) -> float:
    """Keep a divisor away from nothing."""
    return value if abs(value) > _TINY else _TINY
