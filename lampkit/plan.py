"""The whole vehicle: every lamp assessed with the same draws."""

from dataclasses import dataclass

from lampkit import conversion
from lampkit.conversion import Assessment
from lampkit.vehicle import Vehicle


@dataclass(frozen=True, eq=False)
class Plan:
    """What is known of a vehicle's lamps before anything is bought.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    assessments : tuple of Assessment
        One for each lamp, in the order of the vehicle.
    seed : int [1]
        The seed of the draws.

    Source: the kit's own convention.
    """

    vehicle: Vehicle
    assessments: tuple[Assessment, ...]
    seed: int


def make(vehicle: Vehicle, *, draws: int = 4000, seed: int = 1) -> Plan:
    """Assess every lamp of a vehicle.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    draws : int [1]
        How many possible garages are drawn.
    seed : int [1]
        The seed; the same seed gives the same numbers.

    Returns
    -------
    Plan
        The assessments.

    Raises
    ------
    InputError
        The number of draws is below one.

    Source: as for lampkit.conversion.assess.
    """
    return Plan(
        vehicle=vehicle,
        assessments=tuple(
            conversion.assess(
                lamp.filament,
                [offer.source for offer in lamp.candidates],
                lamp.lens,
                function=lamp.function if lamp.road_rule else None,
                rules=vehicle.rules if lamp.road_rule else None,
                draws=draws,
                seed=seed,
                name=lamp.name,
            )
            for lamp in vehicle.lamps
        ),
        seed=seed,
    )
