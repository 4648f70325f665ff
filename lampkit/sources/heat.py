"""What heat takes from an LED: light, and nanometres of drift, by its family, its watts, its base and its duty."""

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import tables
from lampkit.errors import InputError
from lampkit.uncertainty import sampling
from lampkit.uncertainty.sampling import Belief

if TYPE_CHECKING:
    from lampkit.sources.light_source import LightSource, Values

HOT_OVER_COLD, DRIFT = "hot over cold light", "drift when hot"
"""Names of the two beliefs about heat, both for a light source that burns steadily until it is warm."""

UNKNOWN_RISE = 30.0
"""Rise of temperature of a light source whose watts are not known [K]. Source: an assumption, 3 W in a large base."""

MOST_RISE = 60.0
"""Rise beyond which a light source limits itself, or does not last [K]. Source: an assumption."""

RISE_SPREAD, UNKNOWN_SPREAD = 0.3, 0.5
"""Spread of the logarithm of a rise that is reckoned from watts, and of one that is not [1]. Source: an assumption."""

FLASHING = 0.5
"""Share of the time in which a flashing lamp is lit [1]. Source: UN R6 and the like ask for 60 to 120 flashes a minute
with about as much light as dark (common practice)."""


class Shedding(NamedTuple):
    """What a base sheds: rise for each watt, and the most watts, if that is known."""

    thermal_resistance: float
    most_power: float | None


@cache
def _bases() -> dict[str, Shedding]:
    rows = tables.load("leds", "heat_by_base").rows()
    return {
        str(row["base"]).casefold(): Shedding(row["thermal_resistance_K_per_W"], _number(row, "most_power_W") or None)
        for row in rows
    }


def shedding(base: str | None) -> Shedding:
    """Tell what heat a base sheds; one that is not known counts as a large one, without a limit.

    Source: data/leds/heat_by_base.csv, an assumption.
    """
    known = _bases()
    return known.get((base or "unknown").casefold(), known["unknown"])


def steady_rise(power: float | None, base: str | None) -> float | None:
    """Give the rise of temperature in steady burning before the light source limits itself; None for unknown watts."""
    try:
        watts = float(power)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return None
    # What is no power is told where the light source is put together.
    return watts * shedding(base).thermal_resistance if np.isfinite(watts) and watts > 0 else None


def duty_share(rise: float | None, duty: float) -> float:
    """Give the share of the steady rise that a lamp reaches which is lit for part of the time only.

    Source: the rise goes with the mean power; it is cut at MOST_RISE.
    """
    if not 0.0 < duty <= 1.0:
        raise InputError(f"a duty of {duty:g} cannot be", key="duty", expected="above 0, up to 1")
    if rise is None:
        return duty
    return min(rise * duty, MOST_RISE) / min(rise, MOST_RISE)


def beliefs(
    row: Mapping[str, Any],
    rise: float | None,
    hot_over_cold: tuple[float, float] | None = None,
    drift: tuple[float, float] | None = None,
) -> tuple[Belief, Belief]:
    """Give what is believed of the light that heat leaves and of the drift, for steady burning.

    Source: the row of data/leds/*.csv for both for each kelvin; RISE_SPREAD for the rise.
    """
    kelvin = UNKNOWN_RISE if rise is None else min(rise, MOST_RISE)
    spread = UNKNOWN_SPREAD if rise is None else RISE_SPREAD
    reckoned = "assumed, its watts are not known" if rise is None else "by its watts and base, an assumption"
    known = row if np.isfinite(_number(row, "loss_per_K", np.nan)) else white("unknown")
    loss = float(known["loss_per_K"]) * kelvin
    if drift is None:
        each, unsure = (_number(row, key) for key in ("drift_nm_per_K", "drift_spread_nm_per_K"))
        moved = Belief(
            DRIFT,
            each * kelvin,
            float(np.hypot(each * kelvin * spread, unsure * kelvin)),
            "nm",
            f"{kelvin:.0f} K of rise, {reckoned}; {known['heat_source']}",
            low=min(0.0, each * kelvin) - 2.0,
            high=each * kelvin + 12.0,
        )
    else:
        what = "between which the drift of the colour lies, in nanometres"
        moved = sampling.of_range(DRIFT, drift, "nm", (-5.0, 20.0), key="drift", what=what, shape="normal")
    if hot_over_cold is not None:
        what = "between which the light when warm over that when cold lies"
        return sampling.of_range(HOT_OVER_COLD, hot_over_cold, "1", (0.05, 1.2), key="hot_over_cold", what=what), moved
    light = Belief(
        HOT_OVER_COLD,
        float(np.exp(-loss)),
        float(loss * np.hypot(spread, float(known["loss_spread_ln"]))),
        "1",
        f"{kelvin:.0f} K of rise, {reckoned}; {known['heat_source']}",
        "lognormal",
        high=1.0 if loss > 0 else np.inf,
    )
    return light, moved


def _number(row: Mapping[str, Any], key: str, missing: float = 0.0) -> float:
    """Take a number of a row; own rows of a user may leave it out."""
    value = row.get(key)
    return missing if value in (None, "") or not np.isfinite(float(value)) else float(value)


@cache
def white(family: str = "phosphor white") -> Mapping[str, Any]:
    """Give the row of white LEDs, or of those of which only the spectrum is known.

    Source: data/leds/white_heat.csv, from memory.
    """
    return next(row for row in tables.load("leds", "white_heat").rows() if row["family"] == family)


def hot_over_cold(source: "LightSource", values: "Values", duty: float = 1.0) -> NDArray[np.float64]:
    """Give the light that heat leaves, for drawn values, at a share of the time lit.

    Source: the loss is exponential in the rise.
    """
    if HOT_OVER_COLD not in values:
        return np.asarray(1.0)
    share = duty_share(source.steady_rise, duty)
    return np.asarray(values[HOT_OVER_COLD] if share == 1.0 else values[HOT_OVER_COLD] ** share)
