"""Newton's method for many criteria at once, as ``optimise.py`` does it for one, and inference at their minima."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hoofcohort.models.criterion import Evaluation

Array = NDArray[np.floating]
Ints = NDArray[np.integer]
Flags = NDArray[np.bool_]
Evaluate = Callable[[Ints, Array], Evaluation]
"""Takes which criteria, shape (S,), and variance ratios, shape (S, R); evaluates at the best residual variance."""
MOST_STEPS = 60
SETTLED = 1e-9
"""A search ends where Newton's next step would change no variance by more than this share of it."""


def descend(evaluate: Evaluate, which: Ints, start: Array) -> tuple[Evaluation, Flags]:
    """Take Newton steps, shortened where a criterion would rise, until none would move.

    Parameters
    ----------
    evaluate : callable
    which : int array, shape (S,)
        The criteria to minimise.
    start : array, shape (R,)
        Variance ratios to start from.

    Returns
    -------
    Evaluation
        With S in front, where each search ended.
    bool array, shape (S,)
        Whether it ended at a minimum.
    """
    here = evaluate(which, np.tile(start, (len(which), 1)))
    settled = np.zeros(len(which), bool)
    length = np.ones(len(which))
    going = np.flatnonzero(np.isfinite(here.criterion) & (here.variances[:, 0] > 0))
    for _ in range(MOST_STEPS):
        now = these(here, going)
        target = np.maximum(now.variances + _directions(now), 0.0)
        scale = np.maximum(now.variances, 1e-8 * now.variances.sum(axis=1, keepdims=True))
        near = (np.abs(target - now.variances) / scale).max(axis=1) < SETTLED
        settled[going[near]] = True
        onward = ~near & (length[going] > 1e-9)
        going = going[onward]
        if not len(going):
            break
        before = now.variances[onward]
        proposal = before + length[going, None] * (target[onward] - before)
        possible = proposal[:, 0] > 0.05 * before[:, 0]
        length[going[~possible]] /= 2
        moving, proposal = going[possible], proposal[possible]
        if not len(moving):
            continue
        there = evaluate(which[moving], proposal[:, 1:] / proposal[:, :1])
        slack = 1e-11 * (1.0 + np.abs(here.criterion[moving]))
        lower = (there.criterion <= here.criterion[moving] + slack) & (there.variances[:, 0] > 0)
        put(here, moving[lower], there, lower)
        length[moving] = np.where(lower, 1.0, length[moving] / 2)
    return here, settled


def _directions(here: Evaluation) -> Array:
    """Return Newton's steps in the free variances, with the observed Hessian where it is positive definite."""
    variances, gradient = here.variances, here.gradient
    free = (variances > 0) | (gradient < 0)
    direction = np.where(free, -gradient, 0.0) * variances.sum(axis=1, keepdims=True) ** 2
    left = np.ones(len(variances), bool)
    both = free[:, :, None] & free[:, None, :]
    for matrix in (here.hessian, here.expected):
        part = np.where(both, matrix, np.eye(matrix.shape[-1]))
        size = np.sqrt(np.abs(np.diagonal(part, axis1=1, axis2=2)))
        with np.errstate(divide="ignore", invalid="ignore"):
            scaled = part / (size[:, :, None] * size[:, None, :])
        usable = left & np.isfinite(scaled).all(axis=(1, 2))
        usable[usable] = np.linalg.eigvalsh(scaled[usable])[:, 0] > 1e-10
        push = np.where(free, gradient, 0.0)[usable] / size[usable]
        direction[usable] = -np.linalg.solve(scaled[usable], push[..., None])[..., 0] / size[usable]
        left &= ~usable
    return direction


def inference(at: Evaluation, df: str) -> tuple[Array, Array]:
    """Return covariance of the coefficients, (S, p, p), and of the variances, (S, K, K), as ``inference.py`` does."""
    if df != "kenward-roger":
        return at.covariance, _held(at)
    uncertainty = 2.0 * _scaled_inverse(at.expected)
    phi = at.covariance
    turned = at.first @ phi[:, None]
    inner = np.einsum("sij,sijab->sab", uncertainty, at.second, optimize=True) / 2
    weighted = np.einsum("sij,sjab->siab", uncertainty, at.first)
    inner -= (turned @ weighted).sum(axis=1)
    adjusted = phi + 2.0 * phi @ inner @ phi
    return (adjusted + adjusted.swapaxes(1, 2)) / 2, uncertainty


def _held(at: Evaluation) -> Array:
    """Return twice the inverse observed Hessian of the variances above zero, zeros elsewhere."""
    free = at.variances > 0
    both = free[:, :, None] & free[:, None, :]
    return np.where(both, 2.0 * _scaled_inverse(np.where(both, at.hessian, np.eye(free.shape[1]))), 0.0)


def _scaled_inverse(matrix: Array) -> Array:
    """Invert symmetric matrices whose rows may differ much in size; NaN where that cannot be done."""
    with np.errstate(divide="ignore", invalid="ignore"):
        size = np.sqrt(np.diagonal(matrix, axis1=1, axis2=2))
        outer = size[:, :, None] * size[:, None, :]
        scaled = matrix / outer
    out = np.full_like(scaled, np.nan)
    fine = np.isfinite(scaled).all(axis=(1, 2))
    fine[fine] = np.linalg.eigvalsh(scaled[fine])[:, 0] > 1e-14
    out[fine] = np.linalg.inv(scaled[fine])
    return out / outer


def these(at: Evaluation, which: Any) -> Evaluation:
    """Return some of many evaluations."""
    return Evaluation(**{own.name: getattr(at, own.name)[which] for own in fields(at)})


def put(at: Evaluation, which: Ints, others: Evaluation, chosen: Any) -> None:
    """Overwrite some of many evaluations by chosen others."""
    for own in fields(at):
        getattr(at, own.name)[which] = getattr(others, own.name)[chosen]


def blank(like: Evaluation, count: int) -> Evaluation:
    """Return ``count`` evaluations of NaN, of the shapes of a single one."""
    return Evaluation(
        **{own.name: np.full((count, *np.shape(getattr(like, own.name))), np.nan) for own in fields(like)}
    )
