"""A thermal flasher followed step by step: the kit computes with the closed form alone."""

from functools import partial

import numpy as np
from numpy.typing import ArrayLike
from reference.steps_in_time import runge_kutta

from lampkit.circuits.flashers import Flash, rhythm
from lampkit.circuits.loads import Load

HOT, AMBIENT = 2750.0, 300.0
"""Temperature of a signal lamp's filament, lit and cold [K]. Source: own estimate."""

HEAT_CAPACITY = 3.1e-3 / 25.0
"""Heat capacity of a filament over the watts of its lamp [J/K for each W]. Source: own estimate, 19 mg of tungsten in
a 25 W lamp; no measured mass was found."""


def warming_flash(
    lamp: Load,
    count: int,
    supply_voltage: ArrayLike,
    *,
    rated_current: float = 3.6,
    heater_resistance: float = 0.111,
    resistance: ArrayLike = 0.0,
    trip: float = 0.6,
    reset: float = 0.4,
    coil_time_constant: float = 0.0,
    strip_time_constant: float = 1.15,
    duration: float = 12.0,
) -> Flash:
    """A thermal series flasher and filaments that warm and cool in each flash, followed step by step.

    Source: own model: C dT/dt = I2 R - k (T4 - Ta4) for the filaments with R as T^1.2, and one or two heat capacities
    for the flasher; classical fourth-order Runge-Kutta steps of 1 ms. Heat capacity and temperature of the filament are
    those of a 25 W lamp (19 mg of tungsten at 2750 K, own estimate): rates are good to some per cent, the first flash
    to a factor of 1.5.
    """
    shared = np.asarray(resistance, dtype=float) + heater_resistance
    supply, shared = np.broadcast_arrays(np.asarray(supply_voltage, dtype=float), shared)
    power = lamp.current * lamp.voltage
    capacity = HEAT_CAPACITY * power
    loss = power / (HOT**4 - AMBIENT**4)
    rated_heat = rated_current**2

    def change(state: np.ndarray, closed: np.ndarray) -> np.ndarray:
        wire, coil, strip = state
        ohms = lamp.voltage / lamp.current * (wire / HOT) ** 1.2
        each = np.where(closed, supply / (ohms + count * shared), 0.0)
        heat = (count * each) ** 2 / rated_heat
        passed = coil if coil_time_constant > 0 else heat
        return np.array(
            [
                (each**2 * ohms - loss * (wire**4 - AMBIENT**4)) / capacity,
                (heat - coil) / coil_time_constant if coil_time_constant > 0 else np.zeros_like(coil),
                (passed - strip) / strip_time_constant,
            ]
        )

    state = np.array([np.full(supply.shape, AMBIENT), np.zeros(supply.shape), np.zeros(supply.shape)])
    closed = np.ones(supply.shape, dtype=bool)
    # Instants of the last opening and of the last two closings; an infinite one has not come yet.
    opened, first = np.full(supply.shape, np.inf), np.full(supply.shape, np.inf)
    shut = np.full(supply.shape, np.inf)
    on, off = np.full(supply.shape, np.inf), np.zeros(supply.shape)
    step = 1e-3
    for i in range(round(duration / step)):
        before = state[2]
        state = runge_kutta(partial(change, closed=closed), state, step)
        level = np.where(closed, trip, reset)
        over = np.where(closed, state[2] >= trip, state[2] <= reset)
        if not np.any(over):
            continue
        # The instant of crossing lies inside the step.
        share = np.clip((level - before) / np.where(state[2] == before, 1.0, state[2] - before), 0.0, 1.0)
        now = (i + share) * step
        opens, closes = over & closed, over & ~closed
        on = np.where(opens & np.isfinite(shut), now - shut, on)
        first = np.where(opens & np.isinf(first), now, first)
        off = np.where(closes, now - opened, off)
        opened = np.where(opens, now, opened)
        shut = np.where(closes, now, shut)
        closed = closed ^ over
    return rhythm(on, off, first)
