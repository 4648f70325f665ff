"""The rhythm of a flasher in closed form."""

from enum import Enum
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.circuits.loads import positive
from lampkit.errors import InputError

RATE_LIMITS = 60.0, 120.0
"""Published limits of the flashes a minute [1/min]. Source: UN R48, 6.5.9, 90 +- 30, read in a secondary text."""


class FlashPace(Enum):
    """Where a rate lies beside the published limits, `RATE_LIMITS`."""

    SLOWER = "slower"
    WITHIN = "within"
    FASTER = "faster"


class Flash(NamedTuple):
    """The rhythm of a flasher."""

    on: NDArray[np.float64]
    off: NDArray[np.float64]
    start: NDArray[np.float64]
    rate: NDArray[np.float64]
    duty: NDArray[np.float64]


def check_levels(trip: float, reset: float) -> None:
    """Refuse levels at which no flasher could work.

    Source: own model.
    """
    if not 0 < reset < trip < 1:
        raise InputError(
            f"a flasher that trips at {trip:g} and resets at {reset:g} of its rated rise",
            key="trip",
            expected="0 < reset < trip < 1",
        )


def rhythm(on: NDArray[np.float64], off: NDArray[np.float64], start: NDArray[np.float64]) -> Flash:
    """Add rate and duty to the times of a flash.

    Source: definition.
    """
    period = on + off
    rate = np.where(np.isfinite(period), 60.0 / period, 0.0)
    duty = np.where(np.isinf(on), 1.0, np.where(np.isinf(off), 0.0, on / np.where(np.isinf(period), 1.0, period)))
    return Flash(on, off, np.asarray(start), np.asarray(rate), np.asarray(duty))


def _log_ratio(above: NDArray[np.float64], below: NDArray[np.float64]) -> NDArray[np.float64]:
    """ln(above/below), infinite where the lower one is not above zero: the temperature is never reached."""
    reached = below > 0
    return np.asarray(np.where(reached, np.log(np.where(reached, above / np.where(reached, below, 1.0), 1.0)), np.inf))


def thermal_series_flash(
    load_ratio: ArrayLike, *, trip: float = 0.6, reset: float = 0.4, time_constant: float = 0.87
) -> Flash:
    """Give the rhythm of a thermal series flasher: the lamps' own current heats the strip that interrupts it.

    Source: own model, one heat capacity: t_on = tau ln[(m2 - x2)/(m2 - x1)], t_off = tau ln(x1/x2), start = tau
    ln[m2/(m2 - x1)], with m2 the square of the ratio. Principle: US Army TM 9-8000, 16-20, read.
    """
    check_levels(trip, reset)
    heat = positive(load_ratio, "load_ratio", "1", or_zero=True) ** 2
    on = time_constant * _log_ratio(heat - reset, heat - trip)
    off = np.where(np.isinf(on), 0.0, time_constant * np.log(trip / reset))
    return rhythm(np.asarray(on), off, time_constant * _log_ratio(heat, heat - trip))


def hot_wire_flash(
    heater_ratio: ArrayLike, *, trip: float = 0.6, reset: float = 0.4, time_constant: float = 0.87
) -> Flash:
    """Give the rhythm of a hot-wire flasher: a wire heats through the dark lamps, closes the contacts and cools.

    Source: own model, one heat capacity: t_on = tau ln(x1/x2), t_off = tau ln[(u2 - x2)/(u2 - x1)], first light at tau
    ln[u2/(u2 - x1)], with u2 the square of the ratio. Principle: a period article, read in reprint.
    """
    check_levels(trip, reset)
    heat = positive(heater_ratio, "heater_ratio", "1", or_zero=True) ** 2
    off = time_constant * _log_ratio(heat - reset, heat - trip)
    on = np.where(np.isinf(off), 0.0, time_constant * np.log(trip / reset))
    return rhythm(on, np.asarray(off), time_constant * _log_ratio(heat, heat - trip))
