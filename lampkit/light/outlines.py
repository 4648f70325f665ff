"""Outlines of a region in the chromaticity diagram that straight boundaries and a closed curve enclose."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray


def outline(
    normals: Sequence[NDArray[np.float64]], offsets: Sequence[NDArray[np.float64]], curve: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give the corner points of what lies within a closed curve and keeps to every boundary line."""
    step = np.roll(curve, -1, axis=0) - curve
    kept = np.hypot(step[:, 0], step[:, 1]) > 1e-9
    start, step = curve[kept], step[kept]
    all_normals, all_offsets = np.concatenate(normals), np.concatenate(offsets)
    centre = _middle(all_normals, all_offsets, start, step)

    candidates: list[NDArray[np.floating]] = [start]
    for i in range(len(all_offsets)):
        with np.errstate(divide="ignore", invalid="ignore"):
            s = (all_offsets[i] - start @ all_normals[i]) / (step @ all_normals[i])
        hit = np.isfinite(s) & (s >= 0) & (s <= 1)
        candidates.append(start[hit] + s[hit, np.newaxis] * step[hit])
        for j in range(i):
            pair = all_normals[[i, j]]
            if abs(np.linalg.det(pair)) > 1e-9:
                candidates.append(np.linalg.solve(pair, all_offsets[[i, j]])[np.newaxis])
    points = np.concatenate(candidates)

    ray = points - centre
    with np.errstate(divide="ignore", invalid="ignore"):
        exits = (all_offsets - centre @ all_normals.T) / (ray @ all_normals.T)
        first = np.where(exits > 0, exits, np.inf)
        across = _cross(ray[:, np.newaxis], step)
        t = _cross(start - centre, step) / across
        s = _cross(start - centre, ray[:, np.newaxis]) / across
    starts = np.cumsum([0, *(len(b) for b in offsets)])[:-1]
    lines = np.maximum.reduceat(first, starts, axis=-1).min(axis=-1)
    curve_exit = np.where((t > 1e-9) & (s >= -1e-9) & (s <= 1 + 1e-9), t, np.inf).min(axis=-1)
    corners = points[np.abs(np.minimum(lines, curve_exit) - 1) < 1e-6]
    corners = corners[np.argsort(np.arctan2(corners[:, 1] - centre[1], corners[:, 0] - centre[0]))]
    before = corners - np.roll(corners, 1, axis=0)
    corners = corners[np.hypot(before[:, 0], before[:, 1]) > 1e-7]
    return np.concatenate([corners, corners[:1]])


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _middle(
    normals: NDArray[np.float64], offsets: NDArray[np.float64], start: NDArray[np.float64], step: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Find the point farthest from every line, alternatives and the curve included (a Chebyshev centre)."""
    from scipy.optimize import linprog

    outward = np.stack([step[:, 1], -step[:, 0]], axis=-1) / np.hypot(step[:, 0], step[:, 1])[:, np.newaxis]
    # The hull stands in for the curve: the ends of the spectrum locus are ragged in their last printed digits.
    lines = np.concatenate([normals, outward])
    bounds = np.concatenate([offsets, (outward @ start.T).max(axis=-1)])
    best = linprog([0, 0, -1], A_ub=np.column_stack([lines, np.ones(len(lines))]), b_ub=bounds, bounds=[(0, 1)] * 3)
    middle: NDArray[np.float64] = np.asarray(best["x"])[:2]
    return middle
