"""The light of many garages behind a lens, added up at the fewest wavelengths that are enough."""

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from lampkit import grid
from lampkit.grid import Curves
from lampkit.light import colorimetry

BLOCK = 1024
"""Garages whose spectra are worked on at a time [1]. Source: own timing; they stay in the processor's cache, and memory
does not grow with them."""

SAME = 2.5e-5
"""Share by which light added up at some wavelengths may miss that at all [1]. Source: an assumption, a hundredth of the
hundredths that two readings of one lamp differ by."""

TRIED = 16
"""Garages in which it is tried how many wavelengths are enough [1]. Source: an assumption; a test holds all others."""


def behind_lens(
    lights: Mapping[str, Curves], lens: Curves, garages: int, *, progress: bool = False
) -> dict[str, NDArray[np.float64]]:
    """Give X, Y and Z of each light behind a lens, in rows of many garages, where Y before the lens is one.

    Each light is added up at the first part of grid.SEEN that gives the same as all wavelengths in the first garages.
    Source: CIE 015:2018, 7.1.
    """
    found = {name: np.empty((3, garages)) for name in lights}
    first, few, left = slice(0, BLOCK), slice(0, TRIED), dict(lights)
    full = _added_up(lights, lens, few, grid.WHOLE)
    enough: list[tuple[slice, dict[str, Curves]]] = []
    for part in grid.SEEN:
        some = _added_up(left, lens, first, part)
        same = [name for name, xyz in some.items() if part == grid.WHOLE or _same(xyz[:, few], full[name])]
        for name in same:
            found[name][:, first] = some[name]
        enough.append((part, {name: left.pop(name) for name in same}))
    for block in _blocks(garages, progress):
        for part, some_lights in enough:
            for name, xyz in _added_up(some_lights, lens, block, part).items():
                found[name][:, block] = xyz
    return found


def _blocks(garages: int, progress: bool) -> Iterable[slice]:
    """List the blocks of garages after the first, with a bar where it is asked for."""
    blocks = [slice(start, start + BLOCK) for start in range(BLOCK, garages, BLOCK)]
    if not progress:
        return blocks
    from tqdm.auto import tqdm

    bar: Iterable[slice] = tqdm(blocks, desc="garages", unit="block", leave=False)
    return bar


def _added_up(
    lights: Mapping[str, Curves], lens: Curves, garages: slice, part: slice
) -> dict[str, NDArray[np.float64]]:
    """Add up the lights of some garages at a part of the wavelengths."""
    if not lights:
        return {}
    through = lens(garages, part).T
    weights = colorimetry.observer(part).T.astype(through.dtype)
    found = {}
    for name, light in lights.items():
        spectra = light(garages, part).T
        found[name] = weights @ (spectra * through) / (weights[1] @ spectra).astype(float)
    return found


def _same(some: NDArray[np.float64], full: NDArray[np.float64]) -> bool:
    """Tell whether lights behind a lens are the same to the eye, in their colour and in their light."""
    colour = full.sum(axis=0)
    # Of the light a fifth of that share of what is before the lens may be lost besides.
    bound = SAME * np.stack([colour, np.minimum(colour, full[1] + 0.2), colour])
    return bool(np.all(np.abs(some - full) <= bound))
