"""From symptom to cause: what a vehicle makes likely, what a meter reads then, and which reading tells two apart."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from lampkit import equations, tables
from lampkit.circuits.loads import Load, LoadKind, drawing, load_current, relative_light, total_current
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

    `supply_voltage` is in volts, `flasher_needs` and what the `fuse` carries for good in amperes. `others` lie on the
    circuit of the `lamp` and are lit with it, `far` are those of the other side, `sharing` those on another feed whose
    shell is one with its own, as the second filament of its holder; `old` is the filament lamp that was there.
    `polarity_told` says whether it lights either way round, `ways_in` in how many ways its base goes into the holder,
    `double_holder` that this has two contacts. The kind of `flasher` bears the name of the vehicle file, or is
    'unknown' where there is one. One tell-tale may lie between both sides (`single_tell_tale`), and has then no earth
    of its own.
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

FILM_IF_DARK, FILM_IF_LIT = 20.0, 0.5
"""Resistance of the film on a contact over that of the lamp, where it is dark and where it is not [1]. Source: an
assumption."""

TELL_TALE_WATTS = 2.0
"""Power of a tell-tale of which nothing is said [W]. Source: an assumption."""

CHARGING, NOT_CHARGING, REMANENCE = 1.12, 0.98, 1.0
"""Volts at the generator over the supply, charging and not [1], and of a dynamo without field [V]. Source: an
assumption: 14.1 V beside a rested battery of 12.6 V; a volt or two of remanence, common practice, no source."""

OVERLOAD = 1.5
"""Current over that which a flasher needs where it has too much to carry [1]. Source: an assumption."""

Read = dict[Measurement, float]
"""What each measurement reads, in volts or amperes, or 1 for yes and 0 for no."""


def readings(cause: FaultCause, scene: Scene, *, dark: bool = False) -> Mapping[Measurement, float]:
    """Give what each measurement reads if one cause is the true one, all else sound; `dark` if the lamp is dark."""
    sound = dict.fromkeys(Measurement, 0.0) | _read(
        volts_at_lamp=scene.supply_voltage,
        lit_reversed=float(scene.lamp.either_way),
        lit_on_bench=1.0,
        amperes=_drawn(scene, scene.lamp, *scene.others),
        generator_volts=CHARGING * scene.supply_voltage,
        seen_with_engine_off=1.0,
    )
    return MappingProxyType(sound | CHANGES[cause](scene, dark))


def _read(**values: float) -> Read:
    """Give what is read by the values of the measurements, as in volts_at_lamp=0.0."""
    return {Measurement(name): value for name, value in values.items()}


def _drawn(scene: Scene, *lit: Load) -> float:
    return float(total_current(lit, scene.supply_voltage))


def light_left(scene: Scene, volts: float) -> float:
    """Give the light of a sound lamp at some volts over that at the supply [1]."""
    return float(relative_light(scene.lamp, volts)) / float(relative_light(scene.lamp, scene.supply_voltage))


def _tired_earth(scene: Scene, dark: bool) -> Read:
    """An earth that all lamps of the circuit share: what they draw together lifts the shell."""
    loads = [scene.lamp, *scene.others]
    most = DARK if dark else DIM
    tried = {ohms: light_left(scene, _above_rust(scene, ohms, loads, scene.sharing)) for ohms in EARTH_FAULTS}
    return _over_earth(scene, next((ohms for ohms, light in tried.items() if light <= most), max(tried)), loads)


def _lost_earth(scene: Scene, dark: bool) -> Read:
    """The shell floats: lamps of another feed that share it carry the current back, or none flows."""
    read = _over_earth(scene, np.inf, [scene.lamp])
    return read | _read(amperes=read[Measurement.AMPERES] + _drawn(scene, *scene.others))


def _over_earth(scene: Scene, ohms: float, loads: Sequence[Load]) -> Read:
    """What is read where loads return through a corroded earth."""
    supply, left = scene.supply_voltage, _above_rust(scene, ohms, loads, scene.sharing)
    by_other = supply - _above_rust(scene, ohms, scene.sharing, [scene.lamp]) if scene.sharing else 0.0
    return _read(
        volts_of_earth_by_other=by_other,
        volts_at_lamp=left,
        # Where nothing flows a meter at the shell reads all that the lamp does not hold back.
        volts_of_earth=supply - (left or scene.lamp.threshold_voltage),
        earth_wire_cures=1.0,
        amperes=float(total_current(loads, left)),
    )


def _above_rust(scene: Scene, ohms: float, loads: Sequence[Load], sharing: Sequence[Load]) -> float:
    """The volts left to lamps above a corroded earth, with dark lamps on the same shell as ways round it."""
    # A polarised LED on the shell blocks what would flow backwards through it.
    round_it = drawing([one for one in sharing if one.either_way or not one.is_led])
    through, top = drawing(loads), np.asarray(scene.supply_voltage)
    return float(equations.rising_root(lambda v: through(v) - (top - v) / ohms - round_it(top - v), 0.0 * top, top))


def _poor_contact(scene: Scene, dark: bool) -> Read:
    """A film on the contact that a filament's current breaks through, and an LED's does not."""
    film = (FILM_IF_DARK if dark else FILM_IF_LIT) * scene.supply_voltage / scene.lamp.current
    left = float(lamp_voltage(scene.supply_voltage, film, [scene.lamp]))
    return _read(
        volts_at_lamp=left,
        old_lamp_cures=float(scene.old is not None and scene.lamp.is_led),
        amperes=_drawn(scene, *scene.others) + float(load_current(scene.lamp, left)),
    )


def _leakage(scene: Scene, dark: bool) -> Read:
    """A leak of some kilohm keeps the LED near the voltage at which it begins; a filament would pull it down."""
    left = float(lamp_voltage(scene.supply_voltage, LEAK, [scene.lamp]))
    return _read(volts_when_off=max(left, DARK_VOLTAGE), old_lamp_cures=1.0)


def _feeds_back(scene: Scene, dark: bool) -> Read:
    supply = scene.supply_voltage
    tell_tale = Load("tell-tale", LoadKind.FILAMENT, TELL_TALE_WATTS / supply, supply)
    found = feedback(supply, tell_tale, list(scene.far) or [scene.lamp])
    return _read(volts_when_off=float(found.far_voltage), old_lamp_cures=1.0)


def _in_series(scene: Scene, dark: bool) -> Read:
    """Fed or earthed through the lamps beside it, as a marker between turn and park: the smaller takes the volts."""
    way = list(scene.others) or list(scene.sharing) or [scene.lamp]
    chain = series_current(scene.supply_voltage, [[scene.lamp], way])
    own = float(chain.voltages[0])
    return _read(
        volts_at_lamp=own, volts_of_earth=scene.supply_voltage - own, amperes=float(chain.current), earth_wire_cures=1.0
    )


def _passes_nothing(scene: Scene, dark: bool) -> Read:
    """A light source that is dead, or the wrong way round."""
    return _read(lit_reversed=0.0, lit_on_bench=0.0, amperes=_drawn(scene, *scene.others), old_lamp_cures=1.0)


def _no_output(scene: Scene, dark: bool) -> Read:
    return _read(generator_volts=REMANENCE if scene.dynamo else NOT_CHARGING * scene.supply_voltage)


OLD_LAMP = _read(old_lamp_cures=1.0)

CHANGES: Mapping[FaultCause, Callable[[Scene, bool], Read]] = {
    FaultCause.REVERSED: lambda s, dark: _passes_nothing(s, dark) | _read(lit_reversed=1.0),
    FaultCause.LOST_EARTH: _lost_earth,
    FaultCause.TIRED_EARTH: _tired_earth,
    FaultCause.POOR_CONTACT: _poor_contact,
    FaultCause.NO_SUPPLY: lambda s, dark: _read(volts_at_lamp=0.0, amperes=0.0),
    FaultCause.LEAKAGE: _leakage,
    FaultCause.BRIDGED_CONTACTS: lambda s, dark: OLD_LAMP | _read(volts_other_contact=s.supply_voltage),
    FaultCause.EXCHANGED_CONTACTS: lambda s, dark: {},
    FaultCause.TOO_LITTLE_LOAD: lambda s, dark: OLD_LAMP,
    FaultCause.TOO_MUCH_LOAD: lambda s, dark: _read(amperes=OVERLOAD * max(s.flasher_needs, s.lamp.current)),
    FaultCause.FLASHER_LACKS_EARTH: lambda s, dark: _read(earth_wire_cures=1.0),
    FaultCause.TELL_TALE_FEEDS_BACK: _feeds_back,
    FaultCause.SERIES_WITH_LAMPS: _in_series,
    FaultCause.WEAK_SOURCE: lambda s, dark: OLD_LAMP,
    FaultCause.SHORT_CIRCUIT: lambda s, dark: _read(amperes=np.inf, test_lamp_for_fuse=1.0),
    FaultCause.FUSE_TOO_SMALL: lambda s, dark: {},
    FaultCause.NO_EXCITATION: lambda s, dark: OLD_LAMP | _read(generator_volts=NOT_CHARGING * s.supply_voltage),
    FaultCause.FIELD_REVERSED: lambda s, dark: _read(generator_volts=-REMANENCE),
    FaultCause.NO_OUTPUT: _no_output,
    FaultCause.LAMP_DEAD: _passes_nothing,
    FaultCause.PULSING_SUPPLY: lambda s, dark: OLD_LAMP | _read(seen_with_engine_off=0.0),
}
"""How each cause changes what a sound circuit reads; one of some size is the one that does what is seen."""


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
    """A cause, how likely this vehicle makes it, and what each measurement would read if it were the one.

    `explains` tells how well it explains the volts that were read at the lamp, one where none were [1].
    """

    cause: FaultCause
    chance: float
    expected: Mapping[Measurement, float]
    explains: float = 1.0

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

    `volts_at_lamp` is what a meter read across the contacts of the holder, switched on, while the symptom was seen [V].
    What this circuit cannot do is left out.
    Source: data/circuit/symptoms.csv for the weights, an assumption; Kirchhoff's laws for what this circuit can do.
    """
    seen = known_symptom(symptom)
    found = list[Suspect]()
    for row in tables.load("circuit", "symptoms").rows():
        if row["symptom"] == seen.value:
            cause = FaultCause(row["cause"])
            read = readings(cause, scene, dark=seen in OF_DARKNESS)
            weight = row["weight"] * LIKELIHOODS[cause](scene)
            if not does_it(cause, seen, scene, read[Measurement.VOLTS_AT_LAMP]):
                weight *= WRONG_SIZE
            explains = 1.0
            if volts_at_lamp is not None:
                explains = _explains(cause, seen, scene, read[Measurement.VOLTS_AT_LAMP], volts_at_lamp)
            found.append(Suspect(cause, weight * explains, read, explains))
    total = sum(one.chance for one in found) or 1.0
    ranked = sorted((one for one in found if one.chance > 0), key=lambda one: -one.chance)
    return tuple(one._replace(chance=one.chance / total) for one in ranked)


BY_VOLTS = (
    FaultCause.LOST_EARTH, FaultCause.TIRED_EARTH, FaultCause.POOR_CONTACT, FaultCause.SERIES_WITH_LAMPS
)  # fmt: skip
"""Causes that act by the volts that they leave to the lamp."""


def does_it(cause: FaultCause, symptom: Symptom, scene: Scene, volts: float) -> bool:
    """Tell whether a cause that leaves the lamp some volts leaves it as dark, or as dim, as it is seen."""
    if cause not in BY_VOLTS:
        return True
    light = light_left(scene, volts)
    if symptom in OF_DARKNESS:
        return light <= DARK
    return symptom is not Symptom.DIM or DARK < light <= DIM


ANY_SIZE, MISREAD = 0.35, 0.02
"""How well a cause explains a reading that it may give by its size, and one that it cannot give, over one that it gives
just so [1]. Source: an assumption: what explains all explains little, and a meter may be misread."""


def _explains(cause: FaultCause, symptom: Symptom, scene: Scene, expected: float, volts: float) -> float:
    """Tell how well a cause explains the volts that were read at the lamp [1].

    Source: own reasoning; what rust and a film leave hangs on their ohms, so that any volts fit that leave such light.
    """
    if not does_it(cause, symptom, scene, volts):
        return MISREAD
    told = 2.0 * VOLTS_TOLD * scene.supply_voltage / 12.0  # wiring that is sound takes some as well
    near = float(np.exp(-0.5 * ((volts - expected) / told) ** 2))
    sized = cause in (FaultCause.TIRED_EARTH, FaultCause.POOR_CONTACT) and volts <= scene.supply_voltage + told
    return max(near, ANY_SIZE if sized else MISREAD)


def known_symptom(symptom: Symptom | str) -> Symptom:
    """Look up a symptom by what it is called."""
    try:
        return Symptom(symptom.casefold() if isinstance(symptom, str) else symptom)
    except ValueError:
        known = ", ".join(f"'{one.value}'" for one in Symptom)  # all of them: what is seen has many names
        raise InputError(f"the symptom '{symptom}' is unknown", key="symptom", expected=f"one of {known}") from None


def _reversed(scene: Scene) -> float:
    if not scene.lamp.is_led or scene.polarity_told is True:
        return 0.0
    doubt = 3.0 if scene.positive_earth else 2.0 if scene.ways_in > 1 else 0.5
    return doubt * (1.0 if scene.polarity_told is None else 2.0)


def _too_little_load(scene: Scene) -> float:
    if scene.flasher in (None, "load-independent"):
        return 0.0
    if not any(one.is_led for one in (scene.lamp, *scene.others)):  # a filament lamp that has died
        return 0.5
    return 4.0 if _drawn(scene, scene.lamp, *scene.others) < scene.flasher_needs else 0.3


def _too_much_load(scene: Scene) -> float:
    heavy = _drawn(scene, scene.lamp, *scene.others) > 1.3 * scene.flasher_needs > 0
    return 0.0 if scene.flasher is None else 4.0 if heavy else 0.5


def _feeding_back(scene: Scene) -> float:
    able = scene.single_tell_tale is not False and any(one.is_led for one in scene.far)
    return (4.0 if scene.single_tell_tale else 1.0) if able else 0.0


def _fuse_too_small(scene: Scene) -> float:
    if scene.fuse is None:
        return 0.0
    return 5.0 if scene.fuse < 1.25 * _drawn(scene, scene.lamp, *scene.others) else 0.2


def _no_excitation(scene: Scene) -> float:
    led = scene.charge_lamp is not None and scene.charge_lamp.is_led
    return 0.0 if scene.dynamo else 3.0 if led else 0.5


LIKELIHOODS: Mapping[FaultCause, Callable[[Scene], float]] = {
    **dict.fromkeys(FaultCause, lambda s: 1.0),
    FaultCause.REVERSED: _reversed,
    FaultCause.LOST_EARTH: lambda s: 2.0 if s.sharing or s.double_holder else 1.0,
    FaultCause.POOR_CONTACT: lambda s: 2.0 if s.lamp.is_led and s.lamp.current < 0.1 else 1.0,
    FaultCause.LEAKAGE: lambda s: float(s.lamp.is_led),
    FaultCause.BRIDGED_CONTACTS: lambda s: float(s.double_holder),
    FaultCause.EXCHANGED_CONTACTS: lambda s: float(s.double_holder),
    FaultCause.TOO_LITTLE_LOAD: _too_little_load,
    FaultCause.TOO_MUCH_LOAD: _too_much_load,
    FaultCause.FLASHER_LACKS_EARTH: lambda s: {None: 0.0, "thermal series": 0.0, "hot wire": 0.0, "unknown": 1.0}.get(
        s.flasher, 2.0
    ),
    FaultCause.TELL_TALE_FEEDS_BACK: _feeding_back,
    FaultCause.SERIES_WITH_LAMPS: lambda s: 8.0 if s.no_earth_of_its_own else float(bool(s.others or s.sharing)),
    FaultCause.WEAK_SOURCE: lambda s: float(s.lamp.is_led),
    # A filament is too slow to show it.
    FaultCause.PULSING_SUPPLY: lambda s: 0.0 if not s.lamp.is_led else 0.5 if s.dynamo is False else 1.0,
    FaultCause.FUSE_TOO_SMALL: _fuse_too_small,
    FaultCause.NO_EXCITATION: _no_excitation,
    FaultCause.FIELD_REVERSED: lambda s: 0.0 if s.dynamo is False else 4.0 if s.earth_changed else 0.2,
}
"""By how much the vehicle makes each cause more likely than usual; nil where this circuit cannot do it [1]. Source:
Kirchhoff's laws; the factors are an assumption."""


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
