"""Two other ways to ask a filament for its light."""

import numpy as np
from numpy.typing import ArrayLike

from lampkit.sources import filament_lamps, hot_wire
from lampkit.sources.hot_wire import HotWire


def light_with_series_resistance(wire: HotWire, series_resistance: ArrayLike) -> np.ndarray:
    """Steady light of a filament behind a tired earth or a long wire, relative to that with none."""
    behind = hot_wire.steady_temperature(wire, wire.voltage, series_resistance=series_resistance)
    bare = hot_wire.steady_temperature(wire, wire.voltage)
    return hot_wire.hot_wire_light(wire, behind) / hot_wire.hot_wire_light(wire, bare)


def flux_at(designation: str, voltage: ArrayLike) -> np.ndarray:
    """Rated flux at another voltage. Source: exponents 3.4 (Fink and Beaty 1978) and 3.6 (upper end of handbooks)."""
    row = filament_lamps.rating(designation)
    ratio = np.asarray(voltage, dtype=float) / row["test_V"]
    return row["flux_lm"] * ratio[..., np.newaxis] ** np.array([3.4, 3.6])
