"""The whole vehicle: every lamp assessed with the same draws, the parts chosen, and what hangs on it."""

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from lampkit import conversion, numbers, show
from lampkit.conversion.assessment import Assessment, Result
from lampkit.conversion.suggestion import Suggestion, Verdict
from lampkit.errors import Fault, InputError, nearest
from lampkit.measurement.illuminance_log import IlluminanceLog
from lampkit.numbers import listed
from lampkit.plan import (
    agreement,
    choice,
    circuit_reports,
    intensity,
    parts_to_fit,
    socket_voltages,
    stages,
    suitability,
    timing,
    work_order,
)
from lampkit.plan.agreement import Confrontation, ReadIntensity
from lampkit.plan.choice import Choice
from lampkit.plan.circuit_reports import CircuitReport
from lampkit.plan.intensity import LampIntensity
from lampkit.plan.socket_voltages import LightAtVoltages, SocketVoltage
from lampkit.plan.timing import LampTiming
from lampkit.plan.work_order import Work
from lampkit.progress import Phase, bar, steps
from lampkit.sources import filament_lamps
from lampkit.statements import Statement, say
from lampkit.vehicle import sharing
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Offer

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class AlikeLamps:
    """Lamps of one kind that get the same light source, such as left and right: told once."""

    name: str
    lamps: tuple[Lamp, ...]
    joint: Lamp
    assessment: Assessment


def _joint(lamps: Sequence[Lamp]) -> Lamp:
    def each(words: Iterable[str | None], between: str) -> str:
        return between.join(dict.fromkeys(word for word in words if word))

    return replace(
        lamps[0],
        position=each((lamp.position for lamp in lamps), ", ") or None,
        holder=each((lamp.holder for lamp in lamps), "' and '") or None,
        note=each((lamp.note for lamp in lamps), " "),
    )


def joint_name(names: Sequence[str]) -> str:
    """Name lamps that are alike in one breath: 'Stop lamp left and right', 'Saloon lamp 1 to 8, left and right'."""
    shared = short_name(names)
    if len(names) == 1 or not shared:
        return ", ".join(names)
    own = [name.removeprefix(shared).strip() for name in map(_single_spaced, names)]
    pairs = list(dict.fromkeys(name.rpartition(" ")[0] for name in own))
    if "" not in pairs and len(own) > 2 and own == [f"{one} {side}" for one in pairs for side in ("left", "right")]:
        return f"{shared} {_in_a_row(pairs)}, left and right"
    return f"{shared} {_in_a_row(own)}"


def _in_a_row(words: Sequence[str]) -> str:
    """List words, and numbers that follow each other by the first and the last: '1 to 8'."""
    if len(words) > 2 and words == [str(number) for number in range(1, len(words) + 1)]:
        return f"1 to {len(words)}"
    return listed(words)


def short_name(names: Sequence[str]) -> str:
    """Give the words with which all names begin, without what tells them apart: 'Stop lamp'; a single name is whole."""
    if len(names) == 1:
        return names[0]
    words = [name.split() for name in names]
    shared = 0
    while shared < min(map(len, words)) - 1 and len({w[shared] for w in words}) == 1:
        shared += 1
    return " ".join(words[0][:shared])


def _single_spaced(name: str) -> str:
    return " ".join(name.split())


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
    predicted : tuple of Assessment
        The assessments as they were before any reading took the place of what was assumed.
    unread : tuple of Fault
        What is wrong with the log of the vehicle's folder, where it cannot be used: the plan is then made without it.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> made = lk.plan.make(van, draws=200)
    >>> made.fitted("Stop lamp left").name
    'red LED B'
    >>> made.decision("Stop lamp left").verdict
    <Verdict.FIT: 'fit'>
    """

    vehicle: Vehicle
    assessments: tuple[Assessment, ...]
    intensities: Mapping[str, LampIntensity]
    timings: Mapping[str, LampTiming]
    choice: Choice
    circuits: tuple[CircuitReport, ...]
    readings: Confrontation | None
    seed: int
    predicted: tuple[Assessment, ...]
    unread: tuple[Fault, ...] = ()

    @cached_property
    def alike(self) -> tuple[AlikeLamps, ...]:
        """Put together the lamps that are alike and get the same light source, such as left and right."""
        groups: dict[Hashable, list[tuple[Lamp, Assessment]]] = {}
        for lamp, assessment in zip(self.vehicle.lamps, self.assessments, strict=True):
            key = socket_voltages.sort_of(self.vehicle, lamp), lamp.quantity, self.choice.chosen.get(lamp.name)
            groups.setdefault(key, []).append((lamp, assessment))
        found = []
        for group in groups.values():
            members, name = tuple(lamp for lamp, _ in group), joint_name([lamp.name for lamp, _ in group])
            found.append(AlikeLamps(name, members, _joint(members), replace(group[0][1], name=name)))
        return tuple(found)

    @cached_property
    def sockets(self) -> Mapping[str, SocketVoltage]:
        """Give by lamp what its socket gets."""
        return {lamp.name: socket_voltages.at_socket(self.vehicle, lamp) for lamp in self.vehicle.lamps}

    @cached_property
    def at_other_voltages(self) -> Mapping[str, tuple[LightAtVoltages, ...]]:
        """Give by lamp the light of each light source with the engine idling, and with sound wiring."""
        known: dict[tuple[int, int], tuple[LightAtVoltages, ...]] = {}
        told = {}
        for lamp, found in zip(self.vehicle.lamps, self.assessments, strict=True):
            which = id(found.old), id(found.results)  # lamps with nothing on offer have the same results: none
            if which not in known:
                known[which] = socket_voltages.at_other_voltages(lamp, found, self.sockets[lamp.name])
            told[lamp.name] = known[which]
        return told

    def fitted(self, lamp: str) -> Offer | None:
        """Give what is fitted into a lamp, by its name; None where the filament lamp stays."""
        self._place(lamp)
        return self.choice.chosen.get(lamp)

    def result(self, lamp: str) -> Result | None:
        """Give what is predicted of the light source that is fitted into a lamp; None where the filament lamp stays."""
        offer, found = self.fitted(lamp), self.assessments[self._place(lamp)]
        return next((r for r in found.results if offer is not None and r.source.name == offer.name), None)

    def decision(self, lamp: str) -> Suggestion:
        """Give the verdict on a lamp with its chance and reason: of what is fitted, or else of the best on offer."""
        return self._decisions[self._place(lamp)]

    def must_be(self, lamp: str) -> tuple[Statement, ...]:
        """Say what a light source must be to go in place of the filament of a lamp; nothing where that is unknown."""
        return self._needs[self._place(lamp)]

    @cached_property
    def must_all_be(self) -> tuple[Statement, ...]:
        """Say what every replacement on the vehicle must be."""
        rated = [(lamp, lamp.filament.rating) for lamp in self.vehicle.lamps]
        known = {row["designation"]: self.must_be(lamp.name) for lamp, row in rated if row is not None}
        if len(known) < 2:
            return ()
        first, *others = known.values()
        return tuple(words for words in first if all(words in other for other in others))

    @cached_property
    def _places(self) -> Mapping[str, int]:
        return {lamp.name: place for place, lamp in enumerate(self.vehicle.lamps)}

    def _place(self, lamp: str) -> int:
        if lamp not in self._places:
            raise InputError(f"the vehicle has no lamp '{lamp}'", key="lamp", expected=nearest(lamp, self._places))
        return self._places[lamp]

    @cached_property
    def _decisions(self) -> tuple[Suggestion, ...]:
        return tuple(
            self._decided(lamp.name, found) for lamp, found in zip(self.vehicle.lamps, self.assessments, strict=True)
        )

    def _decided(self, lamp: str, assessment: Assessment) -> Suggestion:
        result = self.result(lamp)
        if result is not None:
            fitting, first = conversion.suggestion.suggest_fitting(assessment, result), self._first_of.get(lamp)
            if first is None:
                return fitting
            return replace(fitting, statement=say("decision.same_source", lamp=first, rest=fitting.statement))
        alone, why = conversion.suggestion.suggest(assessment), self.choice.kept.get(lamp)
        if assessment.results and alone.result is not None:
            against = self.choice.refused.get(lamp, {})
            listed = [against.get(result.source.name, {}) for result in assessment.results]
            near, *_ = suitability.by_nearness(assessment, listed, self.choice.wishes.colour_share)
            alone = replace(alone, result=assessment.results[near])
        if why is None:
            return replace(alone, verdict=Verdict.KEEP)
        told = say("decision.keep", why=why, look_for=self.choice.look_for.get(lamp))
        return replace(alone, verdict=Verdict.KEEP, statement=told)

    @cached_property
    def _first_of(self) -> Mapping[str, str]:
        """Name for each further function of a light source the lamp under which it is bought."""
        lamps = self.vehicle.lamps
        return {lamps[i].name: lamps[group[0]].name for group in sharing.one_source(lamps) for i in group[1:]}

    @cached_property
    def _needs(self) -> tuple[tuple[Statement, ...], ...]:
        earth: Literal["negative", "positive"] | None
        earth = "positive" if self.vehicle.earth_after == "positive" else "negative"
        earth = None if self.vehicle.without_battery else earth
        known: dict[str, tuple[Statement, ...]] = {}
        for lamp in self.vehicle.lamps:
            rating = lamp.filament.rating
            if rating is not None and rating["designation"] not in known:
                known[rating["designation"]] = filament_lamps.led_must_be(rating, earth=earth)
        return tuple(
            () if lamp.filament.rating is None else known[lamp.filament.rating["designation"]]
            for lamp in self.vehicle.lamps
        )

    @cached_property
    def work(self) -> Work:
        """Order the work that leads from the vehicle as found to what is chosen, with its circuits in every state."""
        return work_order.work(self.vehicle, self.choice.chosen, self.choice.parts)

    @cached_property
    def parts_to_fit(self) -> tuple[Statement, ...]:
        """Tell of each part that goes with the choice how it is fitted."""
        filaments = stages.circuits_in(self.vehicle, stages.with_filaments(self.vehicle))
        return parts_to_fit.parts_to_fit(self.vehicle, self.work.circuits[-1], filaments, self.choice.parts)

    @cached_property
    def savings(self) -> tuple[Statement, ...]:
        """Say what the change saves, from the vehicle as found to what is chosen."""
        return parts_to_fit.savings(self.vehicle, self.choice.chosen, self.work.circuits[0], self.work.circuits[-1])

    def table(self) -> "pd.DataFrame":
        """List every lamp with what is chosen for it."""
        import pandas as pd

        rows = []
        for lamp in self.vehicle.lamps:
            offer, result = self.fitted(lamp.name), self.result(lamp.name)
            rows.append(
                {
                    "lamp": lamp.name,
                    "lens": lamp.lens.colour,
                    "fit": offer.name if offer else "keep the filament",
                    "light against filament [1]": numbers.interval(result.ratio) if result else "1",
                    "colour": str(result.colour.statement) if result and result.colour else "",
                    "why": str(result.why if result else self.choice.kept.get(lamp.name, "")),
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
    assurance: float | None = None,
    aim: str | None = None,
    progress: bool = False,
    assessed: Sequence[Assessment] | None = None,
    before: Plan | None = None,
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
    assurance : float, optional [1]
        Wanted probability of at least the filament's light; what the vehicle's owner asks when left out, as the aim.
    aim : {'least cost', 'most light'}, optional
        What the choice is made for.
    progress : bool
        Whether a bar tells how far it is; `lampkit.progress.watched` tells it to anything else.
    assessed : sequence of Assessment, optional
        One for each lamp, in the order of the vehicle, where they are known already with these draws and this seed.
    before : Plan, optional
        An earlier plan; what it found of readings and of times is taken over where it rests on the same.

    Returns
    -------
    Plan
        The plan.

    Raises
    ------
    InputError
        The number of draws is below one, or the aim is unknown.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> made = lk.plan.make(van, draws=200)
    >>> len(made.assessments) == len(van.lamps)
    True
    """
    if progress:
        with bar():
            return make(vehicle, draws=draws, seed=seed, assurance=assurance, aim=aim, assessed=assessed, before=before)
    predicted = assess_lamps(vehicle, draws=draws, seed=seed) if assessed is None else assessed
    earlier = None if before is None else before.readings
    unread: tuple[Fault, ...] = ()
    try:
        assessments, readings = with_readings(vehicle, predicted, seed=seed, before=earlier)
    except InputError as error:  # one slip in a log must not keep the whole answer back
        assessments, readings, unread = tuple(predicted), None, error.faults
    read = agreement.intensities_read(readings)
    twins = _measured_twins(vehicle, read)
    pairs = list(zip(vehicle.lamps, assessments, strict=True))
    believed = {
        lamp.name: intensity.predict_intensity(
            lamp, one, vehicle.rules, vehicle.year, twins.get(lamp.name), read, _same_source(vehicle, lamp)
        )
        for lamp, one in pairs
    }
    intensities = {name: found for name, found in believed.items() if found is not None}
    chosen = choice.choose(
        vehicle,
        assessments,
        assurance=assurance,
        aim=aim,
        intensities={name: found.draws for name, found in intensities.items() if found.measured},
    )
    same_times = before is not None and [*map(_lit, vehicle.lamps)] == [*map(_lit, before.vehicle.lamps)]
    return Plan(
        vehicle=vehicle,
        assessments=assessments,
        intensities=intensities,
        timings=before.timings if before is not None and same_times else timing.assess_timings(vehicle.lamps),
        choice=chosen,
        circuits=circuit_reports.report(vehicle, chosen.chosen, chosen.parts),
        readings=readings,
        seed=seed,
        predicted=tuple(predicted),
        unread=unread,
    )


def pick(made: Plan, picked: Mapping[str, Offer | None]) -> Plan:
    """Give a plan with the light sources of some lamps picked by hand; the other lamps keep what was chosen for them.

    Parameters
    ----------
    made : Plan
        The plan.
    picked : mapping of str to Offer or None
        By the name of a lamp one of its candidates, or None for its filament lamp. What cannot be fitted stays out, and
        what else is needed is added.

    Returns
    -------
    Plan
        The plan with another choice and other circuits.

    Raises
    ------
    InputError
        The vehicle has no such lamp, or a light source is not on offer for it.

    Examples
    --------
    The filament of one lamp stays; what was chosen for the others stays too.

    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> made = lk.plan.make(van, draws=200)
    >>> by_hand = lk.plan.pick(made, {"Stop lamp left": None})
    >>> by_hand.fitted("Stop lamp left") is None
    True
    """
    if not picked:
        return made
    every = {**made.choice.chosen, **picked}
    chosen = choice.choose(made.vehicle, made.assessments, picked=every)
    return replace(made, choice=chosen, circuits=circuit_reports.report(made.vehicle, chosen.chosen, chosen.parts))


def assess_lamps(
    vehicle: Vehicle,
    *,
    lamps: tuple[Lamp, ...] | None = None,
    draws: int = 4000,
    seed: int = 1,
) -> tuple[Assessment, ...]:
    """Assess every lamp of a vehicle, or some of them; lamps that are alike are worked out once."""
    known: dict[Hashable, Assessment] = {}
    found = []
    for lamp in steps(vehicle.lamps if lamps is None else lamps, Phase.LAMPS):
        sort = socket_voltages.sort_of(vehicle, lamp)
        if sort not in known:
            known[sort] = socket_voltages.assess_at_socket(vehicle, lamp, draws, seed)
        found.append(replace(known[sort], name=lamp.name))
    return tuple(found)


def _measured_twins(vehicle: Vehicle, read: Mapping[str, ReadIntensity]) -> dict[str, Lamp]:
    """Find for each unmeasured lamp its like that was measured, by a log or else as the file states."""
    lamps = vehicle.lamps
    sorts = [(socket_voltages.sort_of(vehicle, lamp), lamp.quantity) for lamp in lamps]
    found: dict[str, Lamp] = {}
    for logged in (False, True):
        for lamp, sort in zip(lamps, sorts, strict=True):
            if lamp.name in read or (lamp.intensity is not None and not logged):
                continue
            for twin, other in zip(lamps, sorts, strict=True):
                if twin is not lamp and other == sort and (twin.name in read if logged else twin.intensity is not None):
                    found[lamp.name] = twin
    return found


def _lit(lamp: Lamp) -> tuple[object, ...]:
    """List what the timing of a lamp rests on."""
    return lamp.name, lamp.function, lamp.filament, lamp.lens


def with_readings(
    vehicle: Vehicle,
    predicted: Sequence[Assessment],
    *,
    log: IlluminanceLog | None = None,
    seed: int = 1,
    before: Confrontation | None = None,
) -> tuple[tuple[Assessment, ...], Confrontation | None]:
    """Give the assessments with what a log says in place of what was assumed, and the log beside what was predicted."""
    readings = agreement.confront_readings(vehicle, predicted, log=log, seed=seed, before=before)
    if readings is None:
        return tuple(predicted), None
    read = agreement.intensities_read(readings)
    assessments = agreement.replaced(vehicle, predicted, readings, _measured_twins(vehicle, read), seed)
    by_name = {found.name: found for found in assessments}
    lenses = tuple(replace(known, assessment=by_name[known.lamp]) for known in readings.lenses)
    said = agreement.file_and_log(vehicle, read)
    return assessments, replace(readings, lenses=lenses, remarks=(*said, *readings.remarks))


def _same_source(vehicle: Vehicle, lamp: Lamp) -> tuple[Lamp, ...]:
    """Find the other functions of the light source of a lamp."""
    groups = ([vehicle.lamps[i] for i in group] for group in sharing.one_source(vehicle.lamps))
    return tuple(one for group in groups if lamp in group for one in group if one.lens is lamp.lens and one is not lamp)
