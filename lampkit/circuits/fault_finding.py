"""From symptom to cause: what a vehicle makes likely, what a meter reads then, and which reading tells two apart."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import equations, tables
from lampkit.circuits.loads import Load, LoadKind, load_current, relative_light, total_current
from lampkit.circuits.network import DARK_VOLTAGE, lamp_voltage, series_current
from lampkit.circuits.tell_tale import feedback
from lampkit.errors import InputError
from lampkit.statements import Statement, named, say


class FaultCause(Enum):
    """What may be behind it."""

    REVERSED = "reversed"
    LOST_EARTH = "lost_earth"
    TIRED_EARTH = "tired_earth"
    NO_SUPPLY = "no_supply"
    POOR_CONTACT = "poor_contact"
    LEAKAGE = "leakage"
    BRIDGED_CONTACTS = "bridged_contacts"
    EXCHANGED_CONTACTS = "exchanged_contacts"
    TOO_LITTLE_LOAD = "too_little_load"
    TOO_MUCH_LOAD = "too_much_load"
    FLASHER_LACKS_EARTH = "flasher_lacks_earth"
    TELL_TALE_FEEDS_BACK = "tell_tale_feeds_back"
    SERIES_WITH_LAMPS = "series_with_lamps"
    WEAK_SOURCE = "weak_source"
    SHORT_CIRCUIT = "short_circuit"
    FUSE_TOO_SMALL = "fuse_too_small"
    NO_EXCITATION = "no_excitation"
    FIELD_REVERSED = "field_reversed"
    NO_OUTPUT = "no_output"
    LAMP_DEAD = "lamp_dead"
    PULSING_SUPPLY = "pulsing_supply"


Cure = Enum("Cure", {cause.name: cause.value for cause in FaultCause}, module=__name__)  # type: ignore[misc]
"""What is done about each cause, under the name of the cause."""


class Measurement(Enum):
    """What is read to tell causes apart; each is one number."""

    VOLTS_AT_LAMP = "volts_at_lamp"
    VOLTS_OF_EARTH = "volts_of_earth"
    VOLTS_OF_EARTH_BY_OTHER = "volts_of_earth_by_other"
    VOLTS_WHEN_OFF = "volts_when_off"
    VOLTS_OTHER_CONTACT = "volts_other_contact"
    OLD_LAMP_CURES = "old_lamp_cures"
    EARTH_WIRE_CURES = "earth_wire_cures"
    LIT_ON_BENCH = "lit_on_bench"
    LIT_REVERSED = "lit_reversed"
    TEST_LAMP_FOR_FUSE = "test_lamp_for_fuse"
    AMPERES = "amperes"
    GENERATOR_VOLTS = "generator_volts"
    SEEN_WITH_ENGINE_OFF = "seen_with_engine_off"


@dataclass(frozen=True)
class Scene:
    """What is known of the circuit in which a symptom is seen; None is unknown.

    Parameters
    ----------
    supply_voltage : float [V]
        Voltage of the supply.
    lamp : Load
        The light source with the symptom.
    others : tuple of Load
        What else lies on the same circuit, lit with it.
    sharing : tuple of Load
        Lamps on another feed whose shell is one with its own, as the second filament of its holder.
    far : tuple of Load
        The lamps of the other side.
    old : Load or None
        The filament lamp that was there.
    polarity_told : bool or None
        Whether the light source lights either way round; None where nobody knows.
    positive_earth : bool
        Whether the earth is positive.
    ways_in : int [1]
        In how many ways the base goes into its holder.
    double_holder : bool
        Whether the holder has two contacts.
    flasher : str or None
        The kind of flasher by the name that the vehicle file uses; None where there is none, 'unknown' where there is
        one.
    flasher_needs : float [A]
        Current that the flasher needs.
    single_tell_tale : bool or None
        Whether one tell-tale lies between both sides.
    no_earth_of_its_own : bool
        Whether the lamp finds its earth through the others only, as such a tell-tale does.
    fuse : float or None [A]
        What the fuse carries for good.
    dynamo : bool or None
        Whether a dynamo charges the battery.
    earth_changed : bool
        Whether the earth was changed.
    charge_lamp : Load or None
        The charge-warning lamp as fitted.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.circuits.Scene(12.6, lk.circuits.led_load(2, 13.5), ways_in=2).positive_earth
    False
    """

    supply_voltage: float
    lamp: Load
    others: tuple[Load, ...] = ()
    sharing: tuple[Load, ...] = ()
    far: tuple[Load, ...] = ()
    old: Load | None = None
    polarity_told: bool | None = None
    positive_earth: bool = False
    ways_in: int = 1
    double_holder: bool = False
    flasher: str | None = None
    flasher_needs: float = 0.0
    single_tell_tale: bool | None = None
    no_earth_of_its_own: bool = False
    fuse: float | None = None
    dynamo: bool | None = None
    earth_changed: bool = False
    charge_lamp: Load | None = None


EARTH_FAULTS = 0.3, 1.0, 3.0, 6.0, 12.0, 25.0, 50.0
"""Resistances of a corroded earth or contact that shows: where a lamp is dark, the least that leaves it dark [ohm].
Source: an assumption."""

DARK, DIM = 0.05, 0.8
"""Share of its light up to which a lamp is called dark, and up to which it is called dim [1]. Source: own judgement."""

LEAK = 5000.0
"""Resistance of damp, a switch or a flasher that bleeds [ohm]. Source: common practice, no source."""

TELL_TALE_WATTS = 2.0
"""Power of a tell-tale of which nothing is said [W]. Source: an assumption."""


def readings(cause: FaultCause, scene: Scene, *, dark: bool = False) -> Mapping[Measurement, float]:
    """Give what each measurement reads if one cause is the true one, all else sound; `dark` if the lamp is dark."""
    supply, lamp = scene.supply_voltage, scene.lamp
    lit = [lamp, *scene.others]
    amperes = float(total_current(lit, supply))
    # What a sound circuit reads.
    read = {
        Measurement.VOLTS_AT_LAMP: supply,
        Measurement.VOLTS_OF_EARTH: 0.0,
        Measurement.VOLTS_OF_EARTH_BY_OTHER: 0.0,
        Measurement.VOLTS_WHEN_OFF: 0.0,
        Measurement.VOLTS_OTHER_CONTACT: 0.0,
        Measurement.LIT_REVERSED: 1.0 if lamp.either_way else 0.0,
        Measurement.LIT_ON_BENCH: 1.0,
        Measurement.AMPERES: amperes,
        Measurement.OLD_LAMP_CURES: 0.0,
        Measurement.EARTH_WIRE_CURES: 0.0,
        Measurement.TEST_LAMP_FOR_FUSE: 0.0,
        Measurement.GENERATOR_VOLTS: supply * 1.12,
        Measurement.SEEN_WITH_ENGINE_OFF: 1.0,
    }
    read.update(SIZED[cause](scene, dark=dark) if cause in SIZED else CHANGES[cause](scene))
    return MappingProxyType(read)


def _lost_earth(scene: Scene) -> dict[Measurement, float]:
    """The shell floats: lamps of another feed that share it carry the current back, or none flows."""
    supply = scene.supply_voltage
    # Where none flows a meter across the lamp reads nil, and one at the shell all that the lamp does not hold back.
    own, shell, by_other, current = 0.0, supply - scene.lamp.threshold_voltage, 0.0, 0.0
    if scene.sharing:
        chain = series_current(supply, [[scene.lamp], list(scene.sharing)])
        own, current = float(chain.voltages[0]), float(chain.current)
        shell = supply - own
        # The other way round the lamp is the way back, where it passes current backwards.
        back = scene.lamp.either_way
        by_other = float(series_current(supply, [list(scene.sharing), [scene.lamp]]).voltages[1]) if back else supply
    return {
        Measurement.VOLTS_OF_EARTH_BY_OTHER: by_other,
        Measurement.VOLTS_AT_LAMP: own,
        Measurement.VOLTS_OF_EARTH: shell,
        Measurement.EARTH_WIRE_CURES: 1.0,
        Measurement.AMPERES: current + _without_lamp(scene),
    }


def _tired_earth(scene: Scene, *, dark: bool) -> dict[Measurement, float]:
    """An earth that all lamps of the circuit share: what they draw together lifts the shell."""
    loads = [scene.lamp, *scene.others]
    sound = float(relative_light(scene.lamp, scene.supply_voltage))
    supply = scene.supply_voltage
    tried = {ohms: _above_rust(supply, ohms, loads, scene.sharing) for ohms in EARTH_FAULTS}
    most = (DARK if dark else DIM) * sound
    ohms = next((one for one, left in tried.items() if float(relative_light(scene.lamp, left)) <= most), max(tried))
    left = tried[ohms]
    by_other = supply - _above_rust(supply, ohms, scene.sharing, [scene.lamp]) if scene.sharing else 0.0
    return {
        Measurement.VOLTS_OF_EARTH_BY_OTHER: by_other,
        Measurement.VOLTS_AT_LAMP: left,
        Measurement.VOLTS_OF_EARTH: supply - left,
        Measurement.EARTH_WIRE_CURES: 1.0,
        Measurement.AMPERES: float(total_current(loads, left)),
    }


def _above_rust(supply: float, ohms: float, loads: Sequence[Load], sharing: Sequence[Load]) -> float:
    """The volts left to lamps above a corroded earth, with dark lamps on the same shell as ways round it."""

    def stays_below(volts: NDArray[np.float64]) -> NDArray[np.bool_]:
        lifted = supply - volts
        # A polarised LED on the shell blocks what would flow backwards through it.
        round_it = total_current([one for one in sharing if one.either_way or not one.is_led], lifted)
        return np.asarray(total_current(loads, volts) < lifted / ohms + round_it)

    return float(equations.crossing(stays_below, np.zeros(()), np.asarray(supply), halvings=44))


def _poor_contact(scene: Scene, *, dark: bool) -> dict[Measurement, float]:
    """A film on the contact that a filament's current breaks through, and an LED's does not."""
    film = (20.0 if dark else 0.5) * scene.supply_voltage / scene.lamp.current
    left = float(lamp_voltage(scene.supply_voltage, film, [scene.lamp]))
    cures = float(scene.old is not None and scene.lamp.is_led)
    return {
        Measurement.VOLTS_AT_LAMP: left,
        Measurement.OLD_LAMP_CURES: cures,
        Measurement.AMPERES: float(total_current([*scene.others], scene.supply_voltage))
        + float(load_current(scene.lamp, left)),
    }


def _leakage(scene: Scene) -> dict[Measurement, float]:
    """A leak of some kilohm keeps the LED near the voltage at which it begins; a filament would pull it down."""
    left = float(lamp_voltage(scene.supply_voltage, LEAK, [scene.lamp]))
    return {Measurement.VOLTS_WHEN_OFF: max(left, DARK_VOLTAGE), Measurement.OLD_LAMP_CURES: 1.0}


def _feeds_back(scene: Scene) -> dict[Measurement, float]:
    watts = TELL_TALE_WATTS
    tell_tale = Load("tell-tale", LoadKind.FILAMENT, watts / scene.supply_voltage, scene.supply_voltage)
    found = feedback(scene.supply_voltage, tell_tale, list(scene.far) or [scene.lamp])
    return {Measurement.VOLTS_WHEN_OFF: float(found.far_voltage), Measurement.OLD_LAMP_CURES: 1.0}


def _in_series(scene: Scene) -> dict[Measurement, float]:
    """Fed or earthed through the lamps beside it, as a marker between turn and park: the smaller takes the volts."""
    way = list(scene.others) or list(scene.sharing) or [scene.lamp]
    chain = series_current(scene.supply_voltage, [[scene.lamp], way])
    own = float(chain.voltages[0])
    return {
        Measurement.VOLTS_AT_LAMP: own,
        Measurement.VOLTS_OF_EARTH: scene.supply_voltage - own,
        Measurement.AMPERES: float(chain.current),
        Measurement.EARTH_WIRE_CURES: 1.0,
    }


def _no_supply(scene: Scene) -> dict[Measurement, float]:
    return {Measurement.VOLTS_AT_LAMP: 0.0, Measurement.AMPERES: 0.0}


def _without_lamp(scene: Scene) -> float:
    return float(total_current([*scene.others], scene.supply_voltage))


CHANGES: Mapping[FaultCause, Callable[[Scene], dict[Measurement, float]]] = {
    FaultCause.REVERSED: lambda s: {
        Measurement.LIT_REVERSED: 1.0,
        Measurement.LIT_ON_BENCH: 0.0,
        Measurement.AMPERES: _without_lamp(s),
        Measurement.OLD_LAMP_CURES: 1.0,
    },
    FaultCause.LOST_EARTH: _lost_earth,
    FaultCause.NO_SUPPLY: _no_supply,
    FaultCause.LEAKAGE: _leakage,
    FaultCause.BRIDGED_CONTACTS: lambda s: {
        Measurement.VOLTS_OTHER_CONTACT: s.supply_voltage,
        Measurement.OLD_LAMP_CURES: 1.0,
    },
    FaultCause.EXCHANGED_CONTACTS: lambda s: {Measurement.OLD_LAMP_CURES: 0.0},
    FaultCause.TOO_LITTLE_LOAD: lambda s: {Measurement.OLD_LAMP_CURES: 1.0},
    FaultCause.TOO_MUCH_LOAD: lambda s: {Measurement.AMPERES: 1.5 * max(s.flasher_needs, s.lamp.current)},
    FaultCause.FLASHER_LACKS_EARTH: lambda s: {Measurement.EARTH_WIRE_CURES: 1.0},
    FaultCause.TELL_TALE_FEEDS_BACK: _feeds_back,
    FaultCause.SERIES_WITH_LAMPS: _in_series,
    FaultCause.WEAK_SOURCE: lambda s: {Measurement.OLD_LAMP_CURES: 1.0},
    FaultCause.SHORT_CIRCUIT: lambda s: {Measurement.AMPERES: np.inf, Measurement.TEST_LAMP_FOR_FUSE: 1.0},
    FaultCause.FUSE_TOO_SMALL: lambda s: {},
    FaultCause.NO_EXCITATION: lambda s: {
        Measurement.GENERATOR_VOLTS: 0.98 * s.supply_voltage,
        Measurement.OLD_LAMP_CURES: 1.0,
    },
    FaultCause.FIELD_REVERSED: lambda s: {Measurement.GENERATOR_VOLTS: -1.0},
    FaultCause.NO_OUTPUT: lambda s: {Measurement.GENERATOR_VOLTS: 1.0 if s.dynamo else 0.98 * s.supply_voltage},
    FaultCause.PULSING_SUPPLY: lambda s: {Measurement.SEEN_WITH_ENGINE_OFF: 0.0, Measurement.OLD_LAMP_CURES: 1.0},
    FaultCause.LAMP_DEAD: lambda s: {
        Measurement.LIT_REVERSED: 0.0,
        Measurement.LIT_ON_BENCH: 0.0,
        Measurement.AMPERES: _without_lamp(s),
        Measurement.OLD_LAMP_CURES: 1.0,
    },
}
"""How each cause changes what a sound circuit reads."""

SIZED = {FaultCause.TIRED_EARTH: _tired_earth, FaultCause.POOR_CONTACT: _poor_contact}
"""The same for causes of some size: it is the one that does what is seen."""


class Symptom(Enum):
    """What is seen."""

    STAYS_DARK = "stays dark"
    DARK_UNTIL_ALL_CHANGED = "dark until all are changed"
    GLOWS_WHEN_OFF = "glows when off"
    FLASHES_FAST = "flashes fast"
    FLASHES_SLOWLY = "flashes slowly"
    DOES_NOT_FLASH = "does not flash"
    TELL_TALE_LIGHTS_BOTH_SIDES = "tell-tale lights both sides"
    TAIL_AND_TURN_INFLUENCE = "tail and turn influence each other"
    DIM = "dim after the change"
    BRIGHT_AND_DIM_EXCHANGED = "bright and dim exchanged"
    BENCH_ONLY = "works on the bench only"
    FLICKERS = "flickers"
    FUSE_BLOWS = "fuse blows"
    CHARGE_LAMP_STAYS_ON = "charge lamp stays on"


OF_DARKNESS = (Symptom.STAYS_DARK, Symptom.DARK_UNTIL_ALL_CHANGED, Symptom.BENCH_ONLY)
"""What is seen of a lamp that gives no light."""

OF_LIGHT = (*OF_DARKNESS, Symptom.DIM)
"""What the volts at a lamp that is switched on tell apart."""

WRONG_SIZE = 0.05
"""How likely a cause is that by Kirchhoff's laws does not do what is seen, over one that does [1]. Source: an
assumption: its resistance may be another than the assumed one."""


class Suspect(NamedTuple):
    """A cause, how likely this vehicle makes it, and what each measurement would read if it were the one."""

    cause: FaultCause
    chance: float
    expected: Mapping[Measurement, float]

    @property
    def said(self) -> Statement:
        """What it is and what to do, in a sentence."""
        return say("suspect.told", cause=named(self.cause), chance=self.chance, cure=named(Cure[self.cause.name]))


class TellingReading(NamedTuple):
    """The one measurement that tells two causes apart, with what it reads for each."""

    measurement: Measurement
    first: FaultCause
    second: FaultCause
    if_first: float
    if_second: float

    @property
    def said(self) -> Statement:
        """What to read, and what it means, in a sentence."""
        return say(
            "suspect.telling",
            measurement=named(self.measurement),
            first=named(self.first),
            second=named(self.second),
            if_first=reading_words(self.measurement, self.if_first),
            if_second=reading_words(self.measurement, self.if_second),
        )


YES_OR_NO = (
    Measurement.LIT_REVERSED, Measurement.LIT_ON_BENCH, Measurement.OLD_LAMP_CURES, Measurement.EARTH_WIRE_CURES,
    Measurement.TEST_LAMP_FOR_FUSE, Measurement.SEEN_WITH_ENGINE_OFF,
)  # fmt: skip
"""What is answered by yes (1) or no (0)."""


def reading_words(measurement: Measurement, value: float) -> Statement:
    """Say what is read: yes or no, amperes or volts."""
    if measurement in YES_OR_NO:
        return say("suspect.yes") if value > 0.5 else say("suspect.no")
    if measurement is Measurement.AMPERES:
        return say("suspect.amperes", value=value)
    return say("suspect.volts", value=value)


def suspects(symptom: Symptom | str, scene: Scene, volts_at_lamp: float | None = None) -> tuple[Suspect, ...]:
    """Rank what may be behind a symptom by what the vehicle makes likely.

    Parameters
    ----------
    symptom : Symptom or str
        What is seen, as in 'stays dark'.
    scene : Scene
        What is known of the circuit.
    volts_at_lamp : float, optional [V]
        What a meter read across the contacts of the holder, switched on, while the symptom was seen.

    Returns
    -------
    tuple of Suspect
        The causes, the most likely first; what this circuit cannot do is left out.

    Raises
    ------
    InputError
        There is no such symptom.

    Examples
    --------
    A polarised LED in a vehicle with positive earth stays dark: it is the wrong way round.

    >>> import lampkit as lk
    >>> led = lk.circuits.led_load(2, 13.5)
    >>> scene = lk.circuits.Scene(12.6, led, polarity_told=False, positive_earth=True)
    >>> lk.circuits.suspects("stays dark", scene)[0].cause.value
    'reversed'

    Source: data/circuit/symptoms.csv for the weights, an assumption; Kirchhoff's laws for what this circuit can do.
    """
    seen = known_symptom(symptom)
    weights, read = dict[FaultCause, float](), dict[FaultCause, Mapping[Measurement, float]]()
    for row in tables.load("circuit", "symptoms").rows():
        if row["symptom"] == seen.value:
            cause = FaultCause(row["cause"])
            read[cause] = readings(cause, scene, dark=seen in OF_DARKNESS)
            weights[cause] = row["weight"] * likelihood(cause, seen, scene)
            if not does_it(cause, seen, scene, read[cause]):
                weights[cause] *= WRONG_SIZE
            if volts_at_lamp is not None:
                weights[cause] *= _explains(cause, seen, scene, read[cause][Measurement.VOLTS_AT_LAMP], volts_at_lamp)
    total = sum(weights.values()) or 1.0
    ranked = sorted((cause for cause in weights if weights[cause] > 0), key=lambda cause: -weights[cause])
    return tuple(Suspect(cause, weights[cause] / total, read[cause]) for cause in ranked)


BY_VOLTS = (
    FaultCause.LOST_EARTH, FaultCause.TIRED_EARTH, FaultCause.POOR_CONTACT, FaultCause.SERIES_WITH_LAMPS
)  # fmt: skip
"""Causes that act by the volts that they leave to the lamp."""


def does_it(cause: FaultCause, symptom: Symptom, scene: Scene, read: Mapping[Measurement, float]) -> bool:
    """Tell whether a cause leaves this lamp as dark, or as dim, as it is seen."""
    if cause not in BY_VOLTS:
        return True
    light = float(relative_light(scene.lamp, read[Measurement.VOLTS_AT_LAMP]))
    sound = float(relative_light(scene.lamp, scene.supply_voltage))
    if symptom in OF_DARKNESS:
        return light <= DARK * sound
    return symptom is not Symptom.DIM or DARK * sound < light <= DIM * sound


ANY_SIZE, MISREAD = 0.35, 0.02
"""How well a cause explains a reading that it may give by its size, and one that it cannot give, over one that it gives
just so [1]. Source: an assumption: what explains all explains little, and a meter may be misread."""


def _explains(cause: FaultCause, symptom: Symptom, scene: Scene, expected: float, volts: float) -> float:
    """Tell how well a cause explains the volts that were read at the lamp [1].

    Source: own reasoning; what rust and a film leave hangs on their ohms, so that any volts fit that leave such light.
    """
    told = 2.0 * VOLTS_TOLD * scene.supply_voltage / 12.0  # wiring that is sound takes some as well
    near = float(np.exp(-0.5 * ((volts - expected) / told) ** 2))
    sized = cause in (FaultCause.TIRED_EARTH, FaultCause.POOR_CONTACT) and volts <= scene.supply_voltage + told
    possible = sized and does_it(cause, symptom, scene, {Measurement.VOLTS_AT_LAMP: volts})
    return max(near, ANY_SIZE if possible else MISREAD)


def known_symptom(symptom: Symptom | str) -> Symptom:
    """Look up a symptom by what it is called."""
    try:
        return Symptom(symptom.casefold() if isinstance(symptom, str) else symptom)
    except ValueError:
        known = ", ".join(f"'{one.value}'" for one in Symptom)  # all of them: what is seen has many names
        raise InputError(f"the symptom '{symptom}' is unknown", key="symptom", expected=f"one of {known}") from None


def likelihood(cause: FaultCause, symptom: Symptom, scene: Scene) -> float:
    """Give by how much the vehicle makes a cause more likely than usual; nil where this circuit cannot do it.

    Source: Kirchhoff's laws; the factors are an assumption.
    """
    led = scene.lamp.is_led
    leds = [one for one in (scene.lamp, *scene.others) if one.is_led]
    drawn = float(total_current([scene.lamp, *scene.others], scene.supply_voltage))
    if cause is FaultCause.REVERSED:
        if not led or scene.polarity_told is True:
            return 0.0
        doubt = 3.0 if scene.positive_earth else 2.0 if scene.ways_in > 1 else 0.5
        return doubt * (1.0 if scene.polarity_told is None else 2.0)
    if cause is FaultCause.LOST_EARTH:
        return 2.0 if scene.sharing or scene.double_holder else 1.0
    if cause is FaultCause.POOR_CONTACT:
        return 2.0 if led and scene.lamp.current < 0.1 else 1.0
    if cause is FaultCause.LEAKAGE:
        return 1.0 if led else 0.0
    if cause in (FaultCause.BRIDGED_CONTACTS, FaultCause.EXCHANGED_CONTACTS):
        return 1.0 if scene.double_holder else 0.0
    if cause is FaultCause.TOO_LITTLE_LOAD:
        if scene.flasher in (None, "load-independent"):
            return 0.0
        if not leds:  # a filament lamp that has died
            return 0.5
        return 4.0 if drawn < scene.flasher_needs else 0.3
    if cause is FaultCause.TOO_MUCH_LOAD:
        return 0.0 if scene.flasher is None else 4.0 if drawn > 1.3 * scene.flasher_needs > 0 else 0.5
    if cause is FaultCause.FLASHER_LACKS_EARTH:
        unlikely = {"thermal series": 0.0, "hot wire": 0.0, "unknown": 1.0}
        return 0.0 if scene.flasher is None else unlikely.get(scene.flasher, 2.0)
    if cause is FaultCause.TELL_TALE_FEEDS_BACK:
        if scene.single_tell_tale is False or not any(one.is_led for one in scene.far):
            return 0.0
        return 4.0 if scene.single_tell_tale else 1.0
    if cause is FaultCause.SERIES_WITH_LAMPS:
        if scene.no_earth_of_its_own:
            return 8.0
        return 1.0 if scene.others or scene.sharing else 0.0
    if cause is FaultCause.WEAK_SOURCE:
        return 1.0 if led else 0.0
    if cause is FaultCause.PULSING_SUPPLY:  # a filament is too slow to show it
        return 0.0 if not led else 0.5 if scene.dynamo is False else 1.0
    if cause is FaultCause.FUSE_TOO_SMALL:
        return 0.0 if scene.fuse is None else 5.0 if scene.fuse < 1.25 * drawn else 0.2
    if cause is FaultCause.NO_EXCITATION:
        return 0.0 if scene.dynamo else 3.0 if scene.charge_lamp is not None and scene.charge_lamp.is_led else 0.5
    if cause is FaultCause.FIELD_REVERSED:
        return 0.0 if scene.dynamo is False else 4.0 if scene.earth_changed else 0.2
    return 1.0


VOLTS_TOLD, AMPERES_TOLD = 0.3, 0.05
"""What a meter tells apart for sure [V, A]. Source: an assumption."""


def telling_reading(
    first: Suspect, second: Suspect, supply_voltage: float, known: Collection[Measurement] = ()
) -> TellingReading | None:
    """Find the measurement that tells two causes apart best, beside those that are known; None where none does.

    Source: own reasoning: the largest difference over what a meter tells apart.
    """

    def apart(measurement: Measurement) -> float:
        one, other = first.expected[measurement], second.expected[measurement]
        if measurement in known:
            return 0.0
        if measurement in YES_OR_NO:
            return 30.0 * abs(one - other)
        if not np.isfinite(one - other):
            return 0.0  # nobody puts an ammeter into a short circuit
        step = AMPERES_TOLD if measurement is Measurement.AMPERES else VOLTS_TOLD
        return min(abs(one - other), supply_voltage) / step if one != other else 0.0

    best = max(Measurement, key=apart)
    if apart(best) < 1.0:
        return None
    return TellingReading(best, first.cause, second.cause, first.expected[best], second.expected[best])
