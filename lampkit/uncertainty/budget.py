"""First-order uncertainty budgets, the ratio of two uncertain quantities, and whether two results agree."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.errors import InputError, within

if TYPE_CHECKING:
    import pandas as pd

K_95 = 1.959964
"""Coverage factor of a 95 % interval of a normal distribution [1]. Source: tables of the normal distribution."""


@dataclass(frozen=True, eq=False)
class Budget:
    """What each input contributes to the uncertainty of a result, to first order.

    Source: JCGM 100:2008, 5 and G.4.
    """

    names: tuple[str, ...]
    values: NDArray[np.float64]
    uncertainties: NDArray[np.float64]
    contributions: NDArray[np.float64]
    degrees_of_freedom: NDArray[np.float64]
    value: float
    standard_uncertainty: float
    effective_degrees_of_freedom: float

    def expanded(self, coverage: float = 0.95) -> float:
        """Give the expanded uncertainty, with the factor of Student's distribution.

        Source: JCGM 100:2008, G.4.
        """
        return float(coverage_factor(self.effective_degrees_of_freedom, coverage)) * self.standard_uncertainty

    def by_cause(self) -> dict[str, float]:
        """Add the squares of the contributions of inputs that are the same cause in several places.

        Source: JCGM 100:2008, 5.1.2: the contributions of independent inputs add in squares.
        """
        squares: dict[str, float] = {}
        for name, part in zip(self.names, self.contributions, strict=True):
            cause = name.partition(" (")[0]
            squares[cause] = squares.get(cause, 0.0) + float(part) ** 2
        return squares

    def table(self) -> "pd.DataFrame":
        """List the inputs, the greatest contribution first.

        Source: JCGM 100:2008, table H.1, the form of the table.
        """
        import pandas as pd

        total = float(np.sum(self.contributions**2)) or 1.0
        return (
            pd.DataFrame(
                {
                    "input": self.names,
                    "value": self.values,
                    "standard uncertainty": self.uncertainties,
                    "contribution": np.abs(self.contributions),
                    "share of variance": self.contributions**2 / total,
                }
            )
            .sort_values("contribution", ascending=False, kind="stable")
            .reset_index(drop=True)
        )


def contributions(
    function: Callable[[NDArray[np.float64]], ArrayLike], values: ArrayLike, uncertainties: ArrayLike
) -> NDArray[np.float64]:
    """Give what each input's standard uncertainty does to the results, by stepping it up and down.

    Source: JCGM 100:2008, 5.1.3, note 2: half the difference of the results at the estimate plus and minus u.
    """
    x = np.asarray(values, dtype=float)
    step = np.diag(np.asarray(uncertainties, dtype=float))
    return np.asarray(0.5 * (np.asarray(function(x + step)) - np.asarray(function(x - step))))


def propagate(
    function: Callable[[NDArray[np.float64]], ArrayLike],
    values: ArrayLike,
    uncertainties: ArrayLike,
    *,
    names: Sequence[str] | None = None,
    correlation: ArrayLike | None = None,
    degrees_of_freedom: ArrayLike = np.inf,
) -> Budget:
    """Propagate standard uncertainties through a function to first order.

    Parameters
    ----------
    function : callable
        Takes inputs of shape (..., k) and gives results of shape (...).
    values : array_like, shape (k,) [1]
        The estimates.
    uncertainties : array_like, shape (k,) [1]
        Their standard uncertainties.
    names : sequence of str, optional
        Names of the inputs.
    correlation : array_like, shape (k, k), optional [1]
        Correlation coefficients; none when left out.
    degrees_of_freedom : array_like, shape (k,) or () [1]
        Degrees of freedom of the uncertainties.

    Returns
    -------
    Budget
        The budget.

    Raises
    ------
    InputError
        The shapes differ, or an uncertainty is negative or not a number.

    Examples
    --------
    Independent uncertainties of 3 and 4 add to 5.

    >>> import lampkit as lk
    >>> sum_of_two = lk.uncertainty.propagate(lambda x: x.sum(axis=-1), [10, 20], [3, 4])
    >>> round(sum_of_two.value, 6), round(sum_of_two.standard_uncertainty, 6)
    (30.0, 5.0)

    Source: JCGM 100:2008, equations (10), (13) and (G.2b).
    """
    x, u = np.atleast_1d(np.asarray(values, dtype=float)), np.atleast_1d(np.asarray(uncertainties, dtype=float))
    if x.ndim != 1 or x.shape != u.shape:
        raise InputError(f"{x.size} values stand beside {u.size} uncertainties", expected="one uncertainty a value")
    if np.any(~np.isfinite(u)) or np.any(u < 0):
        raise InputError("a standard uncertainty is negative or not a number", expected="zero or more")
    parts = contributions(function, x, u)
    variance = float(parts @ covariance_factor(correlation, x.size) @ parts)
    freedom = np.broadcast_to(np.asarray(degrees_of_freedom, dtype=float), x.shape)
    spread = float(np.sum(parts**4 / freedom))
    return Budget(
        names=tuple(names) if names is not None else tuple(f"input {i + 1}" for i in range(x.size)),
        values=x,
        uncertainties=u,
        contributions=parts,
        degrees_of_freedom=freedom,
        value=float(np.asarray(function(x))),
        standard_uncertainty=float(np.sqrt(max(variance, 0.0))),
        effective_degrees_of_freedom=variance**2 / spread if spread > 0 else float("inf"),
    )


def propagate_covariance(
    function: Callable[[NDArray[np.float64]], ArrayLike],
    values: ArrayLike,
    uncertainties: ArrayLike,
    *,
    correlation: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Give the covariance of several results that share their inputs, to first order.

    Source: JCGM 102:2011, 6.2, and JCGM 100:2008, H.2.
    """
    parts = contributions(function, values, uncertainties)
    return np.asarray(parts.T @ covariance_factor(correlation, parts.shape[0]) @ parts)


def covariance_factor(correlation: ArrayLike | None, size: int) -> NDArray[np.float64]:
    """Check a correlation matrix, or make the one of independent inputs.

    Source: JCGM 100:2008, 5.2.2.
    """
    if correlation is None:
        return np.eye(size)
    r = np.asarray(correlation, dtype=float)
    if r.shape != (size, size) or not np.allclose(r, r.T) or not np.allclose(np.diag(r), 1.0) or np.any(abs(r) > 1):
        raise InputError(
            "this is not a correlation matrix of the inputs",
            key="correlation",
            expected=f"{size} by {size} coefficients, symmetric, one on the diagonal",
        )
    return r


def coverage_factor(degrees_of_freedom: ArrayLike, coverage: float = 0.95) -> NDArray[np.float64]:
    """Give the two-sided factor of Student's distribution.

    Source: JCGM 100:2008, table G.2.
    """
    if not 0.0 < coverage < 1.0:
        raise InputError(f"a coverage of {coverage:g} makes no interval", expected="a number between 0 and 1")
    from scipy.special import ndtri, stdtrit

    freedom = np.asarray(degrees_of_freedom, dtype=float)
    p = 0.5 + coverage / 2.0
    finite = np.isfinite(freedom)
    return np.asarray(np.where(finite, stdtrit(np.where(finite, freedom, 1.0), p), ndtri(p)))


def resolution_uncertainty(step: ArrayLike) -> NDArray[np.float64]:
    """Give the standard uncertainty that the last digit of a display leaves.

    Source: JCGM 100:2008, F.2.2.1.
    """
    return np.asarray(np.asarray(step, dtype=float) / np.sqrt(12.0))


def fieller(
    numerator: ArrayLike,
    denominator: ArrayLike,
    variance_numerator: ArrayLike,
    variance_denominator: ArrayLike,
    covariance: ArrayLike = 0.0,
    *,
    factor: float = K_95,
) -> NDArray[np.float64]:
    """Give the interval of the ratio of two normal quantities, which may be unbounded.

    Parameters
    ----------
    numerator, denominator : array_like, shape (...) [1]
        The two estimates.
    variance_numerator, variance_denominator, covariance : array_like, shape (...) [1]
        Their variances and covariance.
    factor : float [1]
        The coverage factor.

    Returns
    -------
    ndarray, shape (..., 3) [1]
        Lower limit, ratio, upper limit. Minus and plus infinity when the denominator cannot be told from zero.

    Examples
    --------
    The ratio of 30 to 40, both known to 2: the limits do not lie symmetrically.

    >>> import lampkit as lk
    >>> lk.uncertainty.fieller(30, 40, 2**2, 2**2).round(2)
    array([0.63, 0.75, 0.88])

    A denominator that cannot be told from zero leaves the ratio without limits.

    >>> lk.uncertainty.fieller(30, 3, 2**2, 2**2).round(2)
    array([-inf,  10.,  inf])

    Source: E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175, read in a statistics reference text.
    """
    a, b = (within(v, -1e75, 1e75, key="estimates", unit="") for v in (numerator, denominator))
    va, vb = (within(v, 0.0, 1e150, key="variances", unit="") for v in (variance_numerator, variance_denominator))
    cab = within(covariance, -1e150, 1e150, key="covariance", unit="")
    square = factor**2
    quadratic, linear, constant = b**2 - square * vb, a * b - square * cab, a**2 - square * va
    bounded = quadratic > 0
    safe = np.where(bounded, quadratic, 1.0)
    root = np.sqrt(np.maximum(linear**2 - quadratic * constant, 0.0))
    low = np.where(bounded, (linear - root) / safe, -np.inf)
    high = np.where(bounded, (linear + root) / safe, np.inf)
    ratio = np.divide(a, b, out=np.full(np.broadcast(a, b).shape, np.inf), where=b != 0)
    return np.stack(np.broadcast_arrays(low, ratio, high), axis=-1)


def normalised_error(
    value: ArrayLike, reference: ArrayLike, expanded: ArrayLike, expanded_reference: ArrayLike
) -> NDArray[np.float64]:
    """Give the E_n number of two results: their difference in units of its expanded uncertainty.

    Parameters
    ----------
    value, reference : array_like, shape (...) [1]
        The two results.
    expanded, expanded_reference : array_like, shape (...) [1]
        Their expanded uncertainties, of coverage factor two.

    Returns
    -------
    ndarray, shape (...) [1]
        The number; from minus one to one the results agree.

    Raises
    ------
    InputError
        An uncertainty is negative, or both are zero.

    Examples
    --------
    Two results that differ by as much as both are uncertain together.

    >>> import lampkit as lk
    >>> float(lk.uncertainty.normalised_error(10.5, 10.0, 0.3, 0.4))
    1.0

    Source: ISO/IEC 17043 and ISO 13528 (from memory).
    """
    u, v = np.asarray(expanded, dtype=float), np.asarray(expanded_reference, dtype=float)
    together = np.hypot(u, v)
    if np.any(u < 0) or np.any(v < 0) or np.any(together == 0):
        raise InputError("the expanded uncertainties make no E_n number", expected="zero or more, not both zero")
    return np.asarray((np.asarray(value, dtype=float) - np.asarray(reference, dtype=float)) / together)
