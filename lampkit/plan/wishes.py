"""What is asked of a choice of parts: what each family of requirements is, and what it keeps from being fitted."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import Enum

from lampkit.statements import Statement, say


class Family(Enum):
    """A family of requirements: what may speak against a light source on offer."""

    BUDGET = "budget"
    LIGHT = "light"
    COLOUR = "colour"
    INTENSITY = "intensity"
    STOP_OVER_TAIL = "stop_over_tail"
    ALIKE = "alike"
    FLASHER = "flasher"
    TELL_TALE = "tell_tale"
    CIRCUIT_CURRENT = "circuit_current"
    CLAIM = "claim"
    BASE = "base"
    POLARITY = "polarity"
    PRICE = "price"
    HOLDER = "holder"


Refusals = dict[Family, Statement]
"""What speaks against a candidate: the family of the requirement, and the reason as a clause."""


@dataclass(frozen=True)
class Wishes:
    """What was asked of a choice.

    Parameters
    ----------
    aim : str
        'least cost' or 'most light'.
    assurance : float [1]
        Wanted probability.
    colour_share : float [1]
        Wanted share of lenses and emitters with the colour inside its limit.
    stop_over_tail : float [1]
        How many times the tail lamp's light the stop lamp is to give.
    budget : float or None [currency]
        The most that everything may cost.
    currency : str
        Currency of all prices.
    """

    aim: str
    assurance: float
    colour_share: float
    stop_over_tail: float
    budget: float | None
    currency: str


WISHED: Mapping[Family, Callable[[Wishes], Statement]] = {
    Family.BUDGET: lambda w: say("wish.budget", budget=w.budget or 0.0, currency=w.currency),
    Family.LIGHT: lambda w: say("wish.light", assurance=w.assurance),
    Family.COLOUR: lambda w: say("wish.colour", share=w.colour_share),
    Family.INTENSITY: lambda w: say("wish.intensity"),
    Family.STOP_OVER_TAIL: lambda w: say("wish.stop_over_tail", times=w.stop_over_tail),
    Family.ALIKE: lambda w: say("wish.alike"),
    Family.FLASHER: lambda w: say("wish.flasher"),
    Family.TELL_TALE: lambda w: say("wish.tell_tale"),
    Family.CIRCUIT_CURRENT: lambda w: say("wish.circuit_current"),
}
"""What the families are called that may be left out for a trial."""

AGAINST: Mapping[Family, Callable[[Wishes], Statement]] = {
    Family.BUDGET: lambda w: say("against.budget", budget=w.budget or 0.0, currency=w.currency),
    Family.LIGHT: lambda w: say("against.light"),
    Family.COLOUR: lambda w: say("against.colour"),
    Family.INTENSITY: lambda w: say("against.intensity"),
    Family.STOP_OVER_TAIL: lambda w: say("against.stop_over_tail", times=w.stop_over_tail, assurance=w.assurance),
    Family.ALIKE: lambda w: say("against.alike"),
    Family.FLASHER: lambda w: say("against.flasher"),
    Family.TELL_TALE: lambda w: say("against.tell_tale"),
    Family.CIRCUIT_CURRENT: lambda w: say("against.circuit_current"),
}
"""How they keep a filament that could go."""
