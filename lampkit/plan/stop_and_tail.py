"""Whether a stop lamp still stands out from the tail lamp beside it, once light sources were chosen."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lampkit.plan import suitability
from lampkit.uncertainty import sampling
from lampkit.vehicle import sharing

if TYPE_CHECKING:
    from lampkit.plan.plan import Plan


@dataclass(frozen=True, eq=False)
class OverTail:
    """One stop lamp and the tail lamp beside it: how many times its light, and whether that is enough."""

    stop: str
    tail: str
    ratio: NDArray[np.float64]
    wanted: float
    chance: float
    assurance: float

    @property
    def too_bright(self) -> bool:
        """Whether the tail lamp is too bright for its stop lamp to be told from it, as far as is known."""
        return self.chance < self.assurance


def over_tails(made: "Plan") -> tuple[OverTail, ...]:
    """Hold every stop lamp against the tail lamp beside it, where either gets a light source.

    Source: JCGM 101:2008, 7; as wanted of the choice.
    """
    found, wishes, lamps = [], made.choice.wishes, made.vehicle.lamps
    for *pair, _ in sharing.outshining(lamps, made.vehicle.held_to.name):
        picks = [_place(made, i) for i in pair]
        if picks == [None, None]:
            continue  # that is how the vehicle was built
        stop, tail = (made.assessments[i] for i in pair)
        candela = (_candela(made, pair[0]), _candela(made, pair[1]))
        ratios, weights = suitability.over_tail(stop, tail, picks[0], picks[1], candela)
        wanted = wishes.stop_over_tail
        chance = suitability.chance_over_tail(stop, tail, picks[0], picks[1], wanted, candela)
        found.append(
            OverTail(
                stop=lamps[pair[0]].name,
                tail=lamps[pair[1]].name,
                ratio=sampling.interval(ratios, weights),
                wanted=wishes.stop_over_tail,
                chance=chance,
                assurance=wishes.assurance,
            )
        )
    return tuple(found)


def _place(made: "Plan", lamp: int) -> int | None:
    """Tell which candidate a lamp gets; None where its filament stays."""
    offer = made.fitted(made.vehicle.lamps[lamp].name)
    names = [one.source.name for one in made.assessments[lamp].results]
    return None if offer is None else names.index(offer.name)


def _candela(made: "Plan", lamp: int) -> Mapping[int | None, NDArray[np.float64]]:
    """Give the candela of each candidate, draw by draw, for a lamp that was read."""
    known = made.intensities.get(made.vehicle.lamps[lamp].name)
    return dict(enumerate(known.draws)) if known is not None and known.measured else {}
