"""What lamps take from the battery: how long it stands with them lit, and what a dynamo at idle leaves of it."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.circuits.loads import positive

USABLE_SHARE = 0.5
"""Share of its rated charge that a starter battery may give before it no longer starts the engine [1]. Source: common
practice, no source."""

IDLE_CURRENT_OF_DYNAMO = 0.0
"""What a dynamo gives at idle, its cut-out open [A]. Source: common practice, no source."""


def standing_time(capacity: ArrayLike, current: ArrayLike) -> NDArray[np.float64]:
    """Give how long a battery stands with lamps lit and still starts the engine.

    Parameters
    ----------
    capacity : array_like, shape (...) [A h]
        Rated charge of the battery.
    current : array_like, shape (...) [A]
        What the lamps draw.

    Returns
    -------
    ndarray, shape (...) [h]
        Half of the charge over the current.

    Raises
    ------
    InputError
        A number is not above zero.

    Examples
    --------
    >>> import lampkit as lk
    >>> round(float(lk.circuits.standing_time(40, 3.17)), 1)
    6.3

    Source: definition; half of the charge: common practice, no source.
    """
    return np.asarray(USABLE_SHARE * positive(capacity, "capacity", "A h") / positive(current, "current", "A"))
