"""What a circuit asks of the lamps on it: current for its flasher, an earth for its tell-tale, not too much for it."""

from collections.abc import Sequence
from functools import lru_cache

from lampkit.circuits import flashers, loads
from lampkit.circuits.flashers import Flasher
from lampkit.circuits.fuses import BLOWING_OVER_CONTINUOUS
from lampkit.circuits.loads import Load
from lampkit.rules import functions
from lampkit.sources import claims
from lampkit.vehicle.vehicle import Lamp
from lampkit.vehicle.vehicle_parts import Circuit, Offer

FUSE_SHARE = 1.25
"""Rating of a fuse over the current that it should carry for long [1]. Source: common practice, no source."""

PAIR_POWER = 42.0
"""Rated watts of the two 21 W lamps that a typical flasher is made for [W]. Source: definition."""

TELL_TALE_POWER = 4.0
"""Power of a tell-tale of which nothing is said [W]. Source: an assumption."""

TELL_TALE_LOSS = 0.1
"""Share of the voltage that the lamps of the far side may take from a single tell-tale [1]. Source: own judgement: a
filament tell-tale then keeps 70 % of its light."""

SIDES = ("left", "right")


def side_of(lamp: Lamp) -> str | None:
    """Tell the side of a lamp from its position, or else from its name."""
    for words in (lamp.position, lamp.name):
        found = [side for side in SIDES if words and side in words.casefold().split()]
        if len(found) == 1:
            return found[0]
    return None


def lamps_of_side(lamps: Sequence[Lamp], side: str) -> list[Lamp]:
    """Pick the lamps that flash on one side; those of no side flash on both, a tell-tale on none.

    What burns steadily may hang on the same fuse: it is no load of the flasher.
    """
    does = ((lamp, functions.function(lamp.function)) for lamp in lamps)
    return [lamp for lamp, its in does if its.flashes and not its.tell_tale and side_of(lamp) in (side, None)]


def excites(lamp: Lamp) -> bool:
    """Tell whether a lamp may excite the generator, by its function or, for a tell-tale, by what it is called."""
    does = functions.function(lamp.function)
    suggested = functions.suggested_by(lamp.name) if does.tell_tale else None
    return does.keep or (suggested is not None and suggested.keep)


@lru_cache(maxsize=4096)
def load_of(lamp: Lamp, offer: Offer | None) -> Load:
    """Describe one light source as its circuit sees it.

    Source: `loads.filament_load`, `loads.led_load`; an LED of which nobody knows the feed counts as fed by a resistor,
    one of which nobody knows the watts takes those of `claims.usual_power`.
    """
    old = lamp.filament
    assert old.electrical_power and old.voltage, "every filament lamp has a rating"
    if offer is None:
        return loads.filament_load(old.electrical_power, old.voltage, name=old.name)
    return loads.led_load(
        offer.source.electrical_power or claims.usual_power(offer.source, dim=offer.dim_level_of is not None),
        offer.source.voltage or old.voltage,
        feed="regulated" if offer.feed == "regulated" else "resistor",
        bridge=bool(offer.either_polarity),
        name=offer.name,
    )


def current_of(
    lamp: Lamp, offer: Offer | None, voltage: float, *, cold: bool = False, unknown: float | None = None
) -> float:
    """Give what a lamp draws, all its light sources together; `unknown` stands for each LED of untold watts.

    Source: the laws of `loads`.
    """
    if unknown is not None and offer is not None and not offer.source.electrical_power:
        return lamp.quantity * unknown
    load = load_of(lamp, offer)
    return lamp.quantity * float(loads.load_current(flashers.cold(load) if cold else load, voltage))


def fitted_flasher(circuit: Circuit, lamps: Sequence[Lamp], supply_voltage: float) -> Flasher | None:
    """Give a typical flasher of the kind that is fitted, made for the load printed on it."""
    if circuit.flasher is None:
        return None
    pairs = circuit.flasher_rated_load
    if pairs is None:
        voltage = 12.8 * supply_voltage / 12.0
        amperes = max(sum(current_of(lamp, None, voltage) for lamp in lamps_of_side(lamps, side)) for side in SIDES)
        # A typical unit draws 3.6 A at 12 V from the pair that it is made for.
        return flashers.flasher(
            circuit.flasher, supply_voltage=supply_voltage, pairs=max(amperes * supply_voltage / 12.0 / 3.6, 0.1)
        )
    return flashers.flasher(circuit.flasher, supply_voltage=supply_voltage, pairs=pairs / PAIR_POWER)


def lit_from(lamps: Sequence[Lamp]) -> float | None:
    """Give the lowest voltage at which any LED on offer for some lamps begins to conduct."""
    found = [load_of(lamp, offer) for lamp in lamps for offer in lamp.candidates]
    return min((load.threshold_voltage for load in found), default=None)


def limit_of_current(circuit: Circuit) -> tuple[float, str]:
    """Give what the switch and the fuse of a circuit may carry for long, and which of them it is."""
    known = [(circuit.switch_rating, "switch")] if circuit.switch_rating else []
    if circuit.fuse:
        # A glass fuse may be marked by the current that blows it.
        carries = circuit.fuse / (BLOWING_OVER_CONTINUOUS if circuit.fuse_mark == "glass, blowing current" else 1.0)
        known.append((carries / FUSE_SHARE, "fuse"))
    return min(known, default=(float("inf"), ""))
