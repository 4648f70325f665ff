"""What the quicker rise of an LED is worth on the road, and what a flash of it is worth to the eye."""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lampkit.errors import InputError
from lampkit.rules import functions
from lampkit.sources import hot_wire, warming
from lampkit.sources.light_source import LightSource
from lampkit.statements import Statement, say
from lampkit.vehicle.vehicle import Lamp
from lampkit.visibility import sight

STEADY_FLASHES = 60
"""Flashes after which a train counts as steady: the share of all before them is below half a percent [1].
Source: the memory a/(a + t) of the Modified Allard law."""

SPEEDS = (50.0, 90.0)
"""Speeds at which a gain is told [km/h]. Source: usual limits in and out of town in Europe."""


@dataclass(frozen=True, eq=False)
class LampTiming:
    """How quickly a lamp's filament lights, against an LED.

    Source: UMTRI-93-37; IALA E-200-4 for the flash (from memory).
    """

    lamp: str
    function: str
    rise: NDArray[np.float64]
    gained: NDArray[np.float64]
    distance: NDArray[np.float64]
    flash_share: float
    led_flash_share: float
    statement: Statement


def assess_timing(lamp: Lamp, *, rate: float = 90.0, duty: float = 0.5) -> LampTiming | None:
    """Work out rise and flash of a lamp's filament against an LED.

    Parameters
    ----------
    lamp : Lamp
        The lamp.
    rate : float [1/min]
        Flashes a minute.
    duty : float [1]
        Share of the time for which a flash has current.

    Returns
    -------
    LampTiming or None
        The timing; None for a lamp that neither warns of braking nor flashes.

    Examples
    --------
    How long the filament of a stop lamp takes to light: least, typical, greatest time.

    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> lk.plan.assess_timing(van.lamps[0]).rise.round(2)
    array([0.12, 0.25, 0.37])

    Source: the hot-wire model of `sources.hot_wire`; UMTRI-93-37 for reaction; IALA E-200-4 for flashes (from memory).
    """
    does = functions.function(lamp.function)
    flashes = does.flashes
    if not (flashes or does.brakes):
        return None
    lit = lamp.filament
    if lit.rating is None or lit.voltage is None:
        return None
    wire, behind = _wire(lit, lit.rating), lamp.lens.transmittance
    course = warming.switch_on(wire, lit.voltage, transmittance=behind, step=2e-3)
    rise = float(warming.rise_time(course)) * (1.0 + warming.TIME_UNCERTAINTY * np.array([-1.0, 0.0, 1.0]))
    gained = sight.reaction_time_gained(rise[1])
    distance = sight.distance_gained(np.array(SPEEDS)[:, np.newaxis], gained)
    share = led = float("nan")
    if flashes:
        share, led = _flash_shares(wire, lit.voltage, behind, 60.0 / rate, duty)
    return LampTiming(
        lamp=lamp.name,
        function=lamp.function,
        rise=rise,
        gained=gained,
        distance=distance,
        flash_share=share,
        led_flash_share=led,
        statement=_words(rise, gained, distance, share, led),
    )


def assess_timings(lamps: Iterable[Lamp]) -> dict[str, LampTiming]:
    """Give by name the timing of each lamp that has one; equal function, filament and lens are worked out once."""
    alike: dict[Hashable, LampTiming | None] = {}
    found = {}
    for lamp in lamps:
        sort = lamp.function, id(lamp.filament), id(lamp.lens)
        if sort not in alike:
            alike[sort] = assess_timing(lamp)
        timing = alike[sort]
        if timing is not None:
            found[lamp.name] = replace(timing, lamp=lamp.name)
    return found


def _wire(lit: LightSource, rating: Mapping[str, Any]) -> hot_wire.HotWire:
    """Make the wire from the rating: what is believed of its temperature holds there, not at the lamp's own voltage."""
    (temperature,) = (b.typical for b in lit.beliefs if b.name == "filament temperature")
    return hot_wire.hot_wire_of_rating(rating["test_V"], rating["power_W"], temperature)


def flash_of(lamp: Lamp, *, rate: float = 90.0, duty: float = 0.5) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give the times [s] of one flash of a lamp's filament and its light over that at rest [1], once it has settled."""
    lit = lamp.filament
    if lit.rating is None or lit.voltage is None:
        raise InputError("its filament lamp is not one that is rated", key=lamp.name, expected="a lamp by designation")
    return _steady_flash(_wire(lit, lit.rating), lit.voltage, lamp.lens.transmittance, 60.0 / rate, duty)


def _steady_flash(
    wire: hot_wire.HotWire, voltage: float, transmittance: NDArray[np.float64], period: float, duty: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    course = warming.filament_flash(
        wire,
        voltage,
        on_time=duty * period,
        off_time=(1 - duty) * period,
        cycles=4,
        transmittance=transmittance,
        step=2e-3,
    )
    last = course.time >= 3.0 * period - 1e-9
    light = np.ravel(course.light[..., last] / course.settled_light[..., np.newaxis])
    return np.ravel(course.time[last]) - 3.0 * period, light


def _flash_shares(
    wire: hot_wire.HotWire, voltage: float, transmittance: NDArray[np.float64], period: float, duty: float
) -> tuple[float, float]:
    phase, light = _steady_flash(wire, voltage, transmittance, period, duty)
    # The eye remembers every flash before: the last one, settled, is repeated until more of them change nothing.
    time = np.arange(0.0, STEADY_FLASHES * period, 2e-3)
    train = np.interp(time % period, phase, light, period=period)
    square = (time % period < duty * period).astype(float)
    both = sight.modified_allard(time, np.stack([train, square]))
    return float(both[0]), float(both[1])


def _words(
    rise: NDArray[np.float64], gained: NDArray[np.float64], distance: NDArray[np.float64], share: float, led: float
) -> Statement:
    needs = say("timing.rise", rise=rise.tolist())
    if not np.isnan(share):
        return say("timing.flash", rise=needs, filament=share, led=led)
    slow, fast = distance.tolist()
    return say("timing.reaction", rise=needs, gained=gained.tolist(), slow=slow, fast=fast, speeds=list(SPEEDS))
