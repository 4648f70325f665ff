"""What a few measured values teach about several quantities at once, and what they leave as unknown as before."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError
from lampkit.uncertainty import Belief

Values = Mapping[str, NDArray[np.float64]]

LARGEST_MISFIT = 4.0
"""How many standard uncertainties a measured value may lie from the best fit before the fit is refused [1]. Source:
the kit's own convention."""


@dataclass(frozen=True, eq=False)
class Narrowed:
    """Beliefs after something was measured.

    Measured values tie quantities together, while beliefs are drawn one by one; so these beliefs stand on directions
    in which the quantities move together, and those are independent.

    Parameters
    ----------
    beliefs : tuple of Belief
        One for each direction, the best seen first, then those of quantities that the values do not touch at all.
    quantities : tuple of Belief
        The quantities as they were believed before.
    directions : ndarray, shape (p, p) [1]
        Each row one direction, in standard deviations of the quantities it moves.
    notes : tuple of str
        What the values have and have not told, in words.

    Source: JCGM 101:2008 for the drawing; least squares with prior knowledge, linearised at the best fit.
    """

    beliefs: tuple[Belief, ...]
    quantities: tuple[Belief, ...]
    directions: NDArray[np.float64]
    notes: tuple[str, ...]

    def parameters(self, values: Values) -> dict[str, NDArray[np.float64]]:
        """Turn values on the directions back into values of the quantities.

        Parameters
        ----------
        values : mapping of str to ndarray, shape (...) [1]
            Values by the names of `beliefs`; what has other names is passed on.

        Returns
        -------
        dict of str to ndarray, shape (...) [1]
            Values of the quantities, each in its own unit.

        Source: an orthogonal change of variables.
        """
        names = [belief.name for belief in self.beliefs[: len(self.directions)]]
        along = np.stack(np.broadcast_arrays(*(np.asarray(values[name], dtype=float) for name in names)), axis=-1)
        standard = along @ self.directions
        passed = {name: np.asarray(v) for name, v in values.items() if name not in names}
        return passed | {q.name: q.value(standard[..., i]) for i, q in enumerate(self.quantities)}


def narrow(
    predict: Callable[[Values], NDArray[np.float64]],
    beliefs: Iterable[Belief],
    measured: ArrayLike,
    uncertainty: ArrayLike,
) -> Narrowed:
    """Weigh measured values against what was believed before.

    Parameters
    ----------
    predict : callable
        From values of the quantities, each of shape (...), to what would be measured, of shape (..., k) [1].
    beliefs : iterable of Belief
        What was believed before, of at least one quantity that the prediction depends on.
    measured : array_like, shape (k,) [1]
        The measured values, in the units of the prediction.
    uncertainty : array_like, shape (k,) [1]
        Their standard uncertainties, independent of each other.

    Returns
    -------
    Narrowed
        What is believed after.

    Raises
    ------
    InputError
        An uncertainty is not positive, nothing measured depends on the quantities, or the best fit is further from a
        measured value than LARGEST_MISFIT.

    Source: least squares with prior knowledge, linearised at its solution.
    """
    from scipy.optimize import least_squares

    listed, aim, spread = tuple(beliefs), np.asarray(measured, dtype=float), np.asarray(uncertainty, dtype=float)
    if not np.all((spread > 0) & np.isfinite(spread)):
        raise InputError("an uncertainty is not positive", key="uncertainty", expected="a number above zero")
    typical = {b.name: np.asarray(b.typical) for b in listed}

    def scaled(standard: NDArray[np.float64], over: tuple[Belief, ...]) -> NDArray[np.float64]:
        values = {b.name: b.value(standard[..., i]) for i, b in enumerate(over)}
        return np.asarray((predict({**typical, **values}) - aim) / spread)

    def slope(standard: NDArray[np.float64], over: tuple[Belief, ...], step: float = 0.02) -> NDArray[np.float64]:
        # All quantities in one batch, up and down.
        moves = step * np.eye(len(over))
        return np.asarray((scaled(standard + moves, over) - scaled(standard - moves, over)).T / (2.0 * step))

    # A quantity that moves the prediction by less than a hundredth of its uncertainty stays as it was.
    touched = np.linalg.norm(slope(np.zeros(len(listed)), listed, 0.5), axis=0) > 0.01
    moved = tuple(b for b, hit in zip(listed, touched, strict=True) if hit)
    kept = tuple(b for b, hit in zip(listed, touched, strict=True) if not hit)
    if not moved:
        raise InputError("the measured values do not depend on anything that is uncertain")

    def residual(standard: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.concatenate([standard, scaled(standard, moved)])

    def jacobian(standard: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.vstack([np.eye(len(moved)), slope(standard, moved)])

    best: NDArray[np.float64] = least_squares(residual, np.zeros(len(moved)), jac=jacobian).x
    misfit = scaled(best, moved)
    if np.max(np.abs(misfit)) > LARGEST_MISFIT:
        worst = int(np.argmax(np.abs(misfit)))
        raise InputError(
            f"the measured values do not fit: the nearest that could be found is {np.abs(misfit[worst]):.0f} standard "
            "uncertainties away",
            remedy="check the colour, the material, the light used and the uncertainties",
        )
    _, singular, directions = np.linalg.svd(slope(best, moved), full_matrices=True)
    information = np.concatenate([singular, np.zeros(len(moved) - singular.size)])
    directions = directions * np.sign(directions[np.arange(len(moved)), np.argmax(np.abs(directions), axis=1)])[:, None]
    remaining = 1.0 / np.sqrt(1.0 + information**2)
    found, notes = [], []
    for i, (row, left) in enumerate(zip(directions, remaining, strict=True)):
        seen = "well seen" if left < 0.3 else "partly seen" if left < 0.9 else "not seen"
        words = f"{_words(moved, best, -left * row)} or {_words(moved, best, left * row)}"
        found.append(Belief(f"direction {i + 1} ({seen})", float(row @ best), float(left), "1", f"measured: {words}"))
        if seen != "well seen":
            notes.append(
                f"{'hardly' if seen == 'not seen' else 'only partly'} told apart by what was measured: {words}"
            )
    return Narrowed((*found, *kept), moved, directions, tuple(notes))


def _words(quantities: tuple[Belief, ...], best: NDArray[np.float64], move: NDArray[np.float64]) -> str:
    # What moves by less than a tenth of the most moved one would only hide the others.
    return ", ".join(
        f"{q.name} {float(q.value(z + step)):.4g}" + (f" {q.unit}" if q.unit != "1" else "")
        for q, z, step in zip(quantities, best, move, strict=True)
        if abs(step) >= 0.1 * np.max(np.abs(move))
    )
