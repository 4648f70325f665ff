"""The whole vehicle: every lamp assessed with the same draws, the parts chosen, and what hangs on it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from lampkit import conversion, show
from lampkit.conversion import Assessment
from lampkit.plan import agreement, choice, circuit_reports, intensity, timing
from lampkit.plan.agreement import Confrontation
from lampkit.plan.choice import Choice
from lampkit.plan.circuit_reports import CircuitReport
from lampkit.plan.intensity import LampIntensity
from lampkit.plan.timing import LampTiming
from lampkit.vehicle.vehicle import Lamp, Vehicle

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Plan:
    """What to fit into a vehicle and why, and what it changes.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    assessments : tuple of Assessment
        One for each lamp, in the order of the vehicle.
    intensities : mapping of str to LampIntensity
        By lamp, where the kit holds published limits for its function.
    timings : mapping of str to LampTiming
        By lamp, for stop and turn lamps.
    choice : Choice
        The parts chosen.
    circuits : tuple of CircuitReport
        Each circuit before and after.
    readings : Confrontation or None
        Readings of the vehicle's folder beside the prediction; None without a log.
    seed : int [1]
        The seed of the draws.
    """

    vehicle: Vehicle
    assessments: tuple[Assessment, ...]
    intensities: Mapping[str, LampIntensity]
    timings: Mapping[str, LampTiming]
    choice: Choice
    circuits: tuple[CircuitReport, ...]
    readings: Confrontation | None
    seed: int

    def table(self) -> "pd.DataFrame":
        """List every lamp with what is chosen for it."""
        import pandas as pd

        rows = []
        for lamp, assessment in zip(self.vehicle.lamps, self.assessments, strict=True):
            offer = self.choice.chosen.get(lamp.name)
            result = next((r for r in assessment.results if offer and r.source.name == offer.name), None)
            rows.append(
                {
                    "lamp": lamp.name,
                    "lens": lamp.lens.colour,
                    "fit": offer.name if offer else "keep the filament",
                    "light against filament [1]": conversion.with_interval(result.ratio) if result else "1",
                    "colour": result.verdict if result and result.verdict else "",
                    "why": result.why if result else self.choice.kept.get(lamp.name, ""),
                }
            )
        return pd.DataFrame(rows)

    def _repr_html_(self) -> str:
        return show.written(self.table())

    def __repr__(self) -> str:
        return f"{self.vehicle.name}: {len(self.assessments)} lamps\n{self.table().iloc[:, :4].to_string(index=False)}"


def make(
    vehicle: Vehicle,
    *,
    draws: int = 4000,
    seed: int = 1,
    assurance: float = conversion.ASSURANCE,
    aim: str = "least cost",
    progress: bool = False,
) -> Plan:
    """Assess every lamp of a vehicle, choose the parts and work out what they change.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    draws : int [1]
        How many possible garages are drawn.
    seed : int [1]
        The seed; the same seed gives the same numbers.
    assurance : float [1]
        Wanted probability of at least the filament's light.
    aim : {'least cost', 'most light'}
        What the choice is made for.
    progress : bool
        Whether a bar tells how far it is.

    Returns
    -------
    Plan
        The plan.

    Raises
    ------
    InputError
        The number of draws is below one, the aim is unknown, or the log of readings cannot be used.

    Source: as for lampkit.conversion.assess and lampkit.choice.choose.
    """
    assessments = assess_lamps(vehicle, draws=draws, seed=seed, progress=progress)
    pairs = list(zip(vehicle.lamps, assessments, strict=True))
    believed = {lamp.name: intensity.predict_intensity(lamp, assessment, vehicle.rules) for lamp, assessment in pairs}
    intensities = {name: found for name, found in believed.items() if found is not None}
    chosen = choice.choose(
        vehicle,
        assessments,
        assurance=assurance,
        aim=aim,
        intensities={name: found.draws for name, found in intensities.items() if found.measured},
    )
    timings = {lamp.name: timing.assess_timing(lamp) for lamp in vehicle.lamps}
    return Plan(
        vehicle=vehicle,
        assessments=assessments,
        intensities=intensities,
        timings={name: found for name, found in timings.items() if found is not None},
        choice=chosen,
        circuits=circuit_reports.report(vehicle, chosen.chosen, chosen.parts),
        readings=agreement.confront_readings(vehicle, assessments, seed=seed),
        seed=seed,
    )


def assess_lamps(
    vehicle: Vehicle, *, draws: int = 4000, seed: int = 1, progress: bool = False
) -> tuple[Assessment, ...]:
    """Assess every lamp of a vehicle; lamps that are alike are worked out once.

    Source: as for lampkit.conversion.assess.
    """
    known: dict[tuple[object, ...], Assessment] = {}
    found = []
    for lamp in _watched(vehicle.lamps, progress):
        alike = (id(lamp.filament), id(lamp.lens), lamp.candidates, lamp.function, lamp.road_rule)
        if alike not in known:
            known[alike] = _assess(lamp, vehicle, draws, seed)
        found.append(replace(known[alike], name=lamp.name))
    return tuple(found)


def _watched(lamps: tuple[Lamp, ...], progress: bool) -> Iterable[Lamp]:
    if not progress:
        return lamps
    from tqdm.auto import tqdm

    bar: Iterable[Lamp] = tqdm(lamps, desc="lamps", unit="lamp", leave=False)
    return bar


def _assess(lamp: Lamp, vehicle: Vehicle, draws: int, seed: int) -> Assessment:
    return conversion.assess(
        lamp.filament,
        [offer.source for offer in lamp.candidates],
        lamp.lens,
        function=lamp.function if lamp.road_rule else None,
        rules=vehicle.rules if lamp.road_rule else None,
        draws=draws,
        seed=seed,
        name=lamp.name,
    )
