"""From symptom to cause: what a vehicle makes likely, what a meter reads then, and which reading tells two apart."""

from collections.abc import Collection, Mapping
from enum import Enum
from typing import NamedTuple

import numpy as np

from lampkit import tables
from lampkit.circuits.fault_causes import DARK, DIM, Cure, FaultCause, Measurement, Scene, readings
from lampkit.circuits.loads import relative_light, total_current
from lampkit.errors import InputError, nearest
from lampkit.statements import Statement, named, say


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
    Measurement.LIT_REVERSED,
    Measurement.LIT_ON_BENCH,
    Measurement.OLD_LAMP_CURES,
    Measurement.EARTH_WIRE_CURES,
    Measurement.TEST_LAMP_FOR_FUSE,
)
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
                weights[cause] *= _explains(cause, seen, scene, read[cause], volts_at_lamp)
    total = sum(weights.values()) or 1.0
    ranked = sorted((cause for cause in weights if weights[cause] > 0), key=lambda cause: -weights[cause])
    return tuple(Suspect(cause, weights[cause] / total, read[cause]) for cause in ranked)


BY_VOLTS = (
    FaultCause.LOST_EARTH, FaultCause.TIRED_EARTH, FaultCause.POOR_CONTACT, FaultCause.SERIES_WITH_LAMPS
)  # fmt: skip
"""Causes that act by the volts that they leave to the lamp."""


def does_it(cause: FaultCause, symptom: Symptom, scene: Scene, read: Mapping[Measurement, float]) -> bool:
    """Tell whether a cause leaves this lamp as dark, or as dim, as it is seen.

    Source: Kirchhoff's laws with the laws of `loads`.
    """
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


def _explains(
    cause: FaultCause, symptom: Symptom, scene: Scene, read: Mapping[Measurement, float], volts: float
) -> float:
    """Tell how well a cause explains the volts that were read at the lamp [1].

    Source: own reasoning; what rust and a film leave hangs on their ohms, so that any volts fit that leave such light.
    """
    told = VOLTS_TOLD * scene.supply_voltage / 12.0
    near = float(np.exp(-0.5 * ((volts - read[Measurement.VOLTS_AT_LAMP]) / told) ** 2))
    sized = cause in (FaultCause.TIRED_EARTH, FaultCause.POOR_CONTACT) and volts <= scene.supply_voltage + told
    sized = sized and does_it(cause, symptom, scene, {**read, Measurement.VOLTS_AT_LAMP: volts})
    return max(near, ANY_SIZE if sized else MISREAD)


def known_symptom(symptom: Symptom | str) -> Symptom:
    """Look up a symptom by what it is called."""
    try:
        return Symptom(symptom)
    except ValueError:
        known = [one.value for one in Symptom]
        raise InputError(
            f"the symptom '{symptom}' is unknown", key="symptom", expected=nearest(str(symptom), known)
        ) from None


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
        return 0.0 if scene.flasher in (None, "thermal series", "hot wire") else 2.0
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
