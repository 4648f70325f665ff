"""One tell-tale between left and right, what feeds back through the far lamps, and the diodes that cure it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lampkit.circuits.earth import Earth
from lampkit.circuits.loads import Load, positive, relative_light, total_current
from lampkit.circuits.network import series_current
from lampkit.sources import incandescence
from lampkit.statements import Statement, say

DIODE_DROP = 0.7
"""What one silicon diode takes [V]. Source: from memory."""

VISIBLE_SHARE = 0.01
"""Share of its light from which a lamp that should be dark is seen by day [1]. Source: an assumption; at night far less
is seen."""


class Feedback(NamedTuple):
    """What happens on the far side when a tell-tale between left and right lights."""

    current: NDArray[np.float64]
    far_voltage: NDArray[np.float64]
    far_light: NDArray[np.float64]


def feedback(supply_voltage: ArrayLike, telltale: Load, far: Sequence[Load]) -> Feedback:
    """Work out a tell-tale that uses the lamps of the far side as its earth.

    Source: Kirchhoff's laws, V = V0 (I/I0)^(1/0.55) + nVf + I/G for a filament tell-tale and resistor-fed LEDs.
    """
    # A far filament is cold, and so a far better earth than the law of a hot one says: its volts are over-stated.
    chain = series_current(supply_voltage, [[telltale], list(far)])
    light = np.max([relative_light(lamp, chain.voltages[1]) for lamp in far], axis=0)
    return Feedback(chain.current, np.asarray(chain.voltages[1]), np.asarray(light))


def light_behind_diode(supply_voltage: ArrayLike) -> NDArray[np.float64]:
    """Give what a diode leaves of a filament tell-tale's light.

    Source: exponent 3.4, Fink and Beaty 1978, read in a secondary text; 0.7 V from memory.
    """
    v = positive(supply_voltage, "supply_voltage", "V")
    left = positive(v - DIODE_DROP, "supply_voltage", "V behind a diode")
    return np.asarray((left / v) ** incandescence.exponent("flux")[1])


class TellTaleVerdict(Enum):
    """Whether a tell-tale between left and right still works."""

    WORKS = "works"
    ONE_WAY_ONLY = "one_way_only"
    FEEDS_BACK = "feeds_back"


@dataclass(frozen=True)
class TellTaleState:
    """Whether a tell-tale between left and right still works, and what two diodes would leave of its light."""

    verdict: TellTaleVerdict
    current: float
    far_share: float
    left_behind_diode: float

    @property
    def said(self) -> Statement:
        """What happens, in a sentence."""
        if self.verdict is TellTaleVerdict.ONE_WAY_ONLY:
            return say("tell_tale.one_way_only")
        if self.verdict is TellTaleVerdict.FEEDS_BACK:
            return say("tell_tale.feeds_back", current=self.current, share=self.far_share)
        return say("tell_tale.works")

    @property
    def cure(self) -> Statement | None:
        """What cures it, or None where it works."""
        if self.verdict is TellTaleVerdict.WORKS:
            return None
        return say("tell_tale.cure", left=self.left_behind_diode)

    def __str__(self) -> str:
        return str(self.said if self.cure is None else say("tell_tale.with_cure", said=self.said, cure=self.cure))


def tell_tale_state(supply_voltage: float, telltale: Load, far: Sequence[Load]) -> TellTaleState:
    """Judge whether a single tell-tale still works after a conversion.

    Parameters
    ----------
    supply_voltage : float [V]
        Voltage of the side that flashes.
    telltale : Load
        The tell-tale.
    far : sequence of Load
        The lamps of the side that should be dark.

    Returns
    -------
    TellTaleState
        The verdict and its numbers; printed, one or two sentences.

    Raises
    ------
    InputError
        The supply is not above zero, or there is no far lamp.

    Examples
    --------
    LEDs on the far side light with it; filament lamps do not.

    >>> import lampkit as lk
    >>> led = lk.circuits.led_load(2, 13.5)
    >>> lamp = lk.circuits.filament_load(25, 13.5)
    >>> telltale = lk.circuits.filament_load(2, 12)
    >>> [lk.circuits.tell_tale_state(12.8, telltale, [far] * 2).verdict.value for far in (led, lamp)]
    ['feeds_back', 'works']

    Source: own reasoning on the circuit, with the laws of `loads`.
    """
    return _state(supply_voltage, telltale, tuple(far))


@lru_cache(maxsize=64)
def _state(supply_voltage: float, telltale: Load, far: tuple[Load, ...]) -> TellTaleState:
    """Judge a tell-tale once: left and right are mostly alike, and every state of the work asks again."""
    found = feedback(supply_voltage, telltale, far)
    leds = [lamp for lamp in far if lamp.is_led]
    # A filament beside an LED takes the whole current of the tell-tale at next to no volts, and the LED stays dark.
    own = float(total_current(leds, supply_voltage))
    share = float(total_current(leds, found.far_voltage)) / own if own else 0.0
    verdict = TellTaleVerdict.WORKS
    if telltale.is_led and not telltale.either_way:
        verdict = TellTaleVerdict.ONE_WAY_ONLY
    elif leds and max(float(found.far_light), share) > VISIBLE_SHARE:
        verdict = TellTaleVerdict.FEEDS_BACK
    return TellTaleState(verdict, float(found.current), share, float(light_behind_diode(supply_voltage)))


# --- diodes between feeds and lamps, and across coils: which way round, what they lose and must stand --------------

RATINGS = (1.0, 3.0, 6.0, 10.0, 16.0, 25.0, 40.0)
"""Diodes that are sold [A]. Source: common practice, no source."""

LEAST_REVERSE = 100.0
"""Reverse voltage that a diode in a vehicle should stand [V]. Source: common practice, no source."""

RATING_SHARE = 2.0
"""Rated current of a diode over what it carries [1]. Source: common practice, no source."""


class Band(Enum):
    """Towards what the banded end of a diode, its cathode, looks."""

    TO_FEEDS = "to_feeds"
    AWAY_FROM_FEEDS = "away_from_feeds"


def band(earth: Earth) -> Band:
    """Tell which way round a diode lies between what feeds and what is fed.

    Source: a diode conducts towards its banded end; with positive earth the current comes from the body, through the
    lamp, to the feed.
    """
    return Band.AWAY_FROM_FEEDS if earth is Earth.NEGATIVE else Band.TO_FEEDS


class FeedDiode(NamedTuple):
    """A diode between a feed and a lamp: which way round, what it carries [A], loses [V], heats [W] and must stand."""

    band: Band
    current: float
    drop: float
    heat: float
    rating: float
    reverse: float


def feed_diode(earth: Earth, current: float, *, duty: float = 1.0) -> FeedDiode:
    """Choose a diode for a current that flows a share of the time.

    Source: `DIODE_DROP`, from memory; ratings by common practice, no source.
    """
    rating = next((size for size in RATINGS if size >= RATING_SHARE * current), RATINGS[-1])
    return FeedDiode(band(earth), current, DIODE_DROP, DIODE_DROP * current * duty, rating, LEAST_REVERSE)


def across_coil(earth: Earth, current: float) -> FeedDiode:
    """Choose the diode across a coil that takes its spike when it is switched off: it blocks while the coil is fed.

    Source: as `feed_diode`, the other way round; the current of the coil flows on through it for an instant.
    """
    turned = Band.TO_FEEDS if earth is Earth.NEGATIVE else Band.AWAY_FROM_FEEDS
    return feed_diode(earth, current, duty=0.0)._replace(band=turned)
