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
    """Hold every lamp that must outshine one beside it against that one, where either gets a light source.

    Source: JCGM 101:2008, 7; as wanted of the choice.
    """
    found, wishes, lamps = [], made.choice.wishes, made.vehicle.lamps
    for bright, dim, _ in sharing.outshining(lamps, made.vehicle.held_to.name):
        pick, other = _place(made, bright), _place(made, dim)
        if pick is None and other is None:
            continue  # that is how the vehicle was built
        stop, tail = made.assessments[bright], made.assessments[dim]
        read = _candela(made, bright), _candela(made, dim)
        weights = stop.garage.weights
        if not np.array_equal(weights, tail.garage.weights):
            weights = weights * tail.garage.weights
        # Once the tail lamp's light: no filaments of a lamp with two levels are nearer to each other.
        times = suitability.over_tail(stop, tail, pick, other, 1.0, read)
        found.append(
            OverTail(
                stop=lamps[bright].name,
                tail=lamps[dim].name,
                ratio=sampling.interval(times, weights),
                wanted=wishes.stop_over_tail,
                chance=suitability.chance_over_tail(stop, tail, pick, other, wishes.stop_over_tail, read),
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
