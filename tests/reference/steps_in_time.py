"""Steps in time by brute force: the kit has closed forms and integrals in their place."""

from collections.abc import Callable

import numpy as np

from lampkit.sources import hot_wire


def runge_kutta(slope: Callable[[np.ndarray], np.ndarray], state: np.ndarray, step: float) -> np.ndarray:
    """Take one step of the classical fourth-order method.

    Source: Kutta, Z. Math. Phys. 46 (1901) 435 (from memory).
    """
    a = slope(state)
    b = slope(state + 0.5 * step * a)
    c = slope(state + 0.5 * step * b)
    d = slope(state + step * c)
    return np.asarray(state + (step / 6.0) * (a + 2.0 * (b + c) + d))


def filament_course(
    wire: hot_wire.HotWire, start: float, spans: list[tuple[float, float]], series: float = 0.0, kept: float = 1e-3
) -> np.ndarray:
    """Follow one filament through spans of (seconds, volts): temperatures every millisecond."""
    state, course = np.array([start]), [start]
    for seconds, volts in spans:
        cold = float(hot_wire.rates(wire, volts, start, series_resistance=series)[0])
        inner = int(np.ceil(kept / (150.0 / max(cold, 1.0))))
        for _ in range(round(seconds / kept)):
            for _ in range(inner):
                state = runge_kutta(
                    lambda at, v=volts: hot_wire.rates(wire, v, at, series_resistance=series)[0], state, kept / inner
                )
            course.append(state[0])
    return np.array(course)
