"""Diodes between feeds and lamps, and across coils: which way round, what they lose and must stand."""

from enum import Enum
from typing import NamedTuple

from lampkit.circuits.earth import Earth
from lampkit.circuits.tell_tale import DIODE_DROP

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
