"""The tasks of changing the earth or the lamps, in order: what must be true before and after each, and cautions."""

from collections.abc import Collection, Mapping
from enum import Enum
from functools import cache
from types import MappingProxyType
from typing import NamedTuple

from lampkit import tables
from lampkit.circuits.charging import GeneratorKind, GeneratorName
from lampkit.errors import InputError, member, nearest
from lampkit.statements import Statement, named


class Caution(Enum):
    """A caution, by its id in the table.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.circuits.Caution("earth_first").name
    'EARTH_FIRST'

    Source: data/circuit/cautions.csv, each row with its own source.
    """

    HOT_BALLAST = "hot_ballast"
    BALLAST_WIRE = "ballast_wire"
    EARTH_FIRST = "earth_first"
    BATTERY_GAS = "battery_gas"
    ACID = "acid"
    CHARGE_LAMP = "charge_lamp"
    DYNAMO_TOUCH = "dynamo_touch"
    CHARGING_OPEN = "charging_open"
    POLARITY_BOUND = "polarity_bound"
    MARK_BATTERY = "mark_battery"
    FUSE_SIZE = "fuse_size"
    NO_FUSE = "no_fuse"
    GLASS_FUSE = "glass_fuse"
    OUTAGE = "outage"
    HAZARDS = "hazards"
    INRUSH_LIMIT = "inrush_limit"
    HOT_LAMP = "hot_lamp"
    MEASURE_HOLDER = "measure_holder"
    ROAD_RULES = "road_rules"
    SPARE_FILAMENTS = "spare_filaments"
    HOLDER_CONTACTS = "holder_contacts"


@cache
def places() -> Mapping[str, tuple[Caution, ...]]:
    """List the cautions by the piece of work at which their hazard stands."""
    found: dict[str, tuple[Caution, ...]] = {}
    for row in tables.load("circuit", "cautions").rows():
        found[row["where"]] = (*found.get(row["where"], ()), Caution(row["id"]))
    return MappingProxyType(found)


def cautions(where: str) -> tuple[Caution, ...]:
    """List the cautions that belong to a piece of work.

    Parameters
    ----------
    where : str
        The work, as in 'battery' or 'charging'.

    Returns
    -------
    tuple of Caution
        The cautions.

    Raises
    ------
    InputError
        There are none for such a work.

    Examples
    --------
    >>> import lampkit as lk
    >>> [caution.value for caution in lk.circuits.cautions("flasher")]
    ['outage', 'hazards']

    Source: data/circuit/cautions.csv, each row with its own source.
    """
    if where not in places():
        raise InputError(f"there are no cautions for '{where}'", key="where", expected=nearest(where, places()))
    return places()[where]


class WorkState(Enum):
    """What is true, or not yet, while the earth is changed."""

    BATTERY_CONNECTED = "battery_connected"
    ENGINE_RUNNING = "engine_running"
    PARTS_LISTED = "parts_listed"
    HANDBOOK_READ = "handbook_read"
    STATE_MEASURED = "state_measured"
    BENCH_TESTED = "bench_tested"
    BOUND_PARTS_OFF = "bound_parts_off"
    GENERATOR_LEADS_OFF = "generator_leads_off"
    BATTERY_TURNED = "battery_turned"
    LEADS_EXCHANGED = "leads_exchanged"
    SHORT_EXCLUDED = "short_excluded"
    GENERATOR_SUITS = "generator_suits"
    PARTS_FITTED = "parts_fitted"
    CHARGING_SEEN = "charging_seen"
    LAMPS_TRIED = "lamps_tried"
    MARKED = "marked"
    CIRCUIT_PARTS_FITTED = "circuit_parts_fitted"
    CIRCUIT_PARTS_TRIED = "circuit_parts_tried"


class EarthTask(Enum):
    """A piece of the work when the earth is changed: what is done."""

    LIST_PARTS = "list_parts"
    READ_HANDBOOK = "read_handbook"
    NEW_ALTERNATOR_IN_HAND = "new_alternator_in_hand"
    MEASURE_STATE = "measure_state"
    BENCH_TEST = "bench_test"
    BATTERY_OFF = "battery_off"
    BOUND_PARTS_OFF = "bound_parts_off"
    DYNAMO_LEADS_OFF = "dynamo_leads_off"
    ALTERNATOR_OUT = "alternator_out"
    RECTIFIER_OFF = "rectifier_off"
    TURN_BATTERY = "turn_battery"
    EXCHANGE_LEADS = "exchange_leads"
    EXCHANGE_LEADS_BUT_COIL = "exchange_leads_but_coil"
    FIT_ALTERNATOR = "fit_alternator"
    TURN_RECTIFIER = "turn_rectifier"
    FIT_PARTS = "fit_parts"
    BATTERY_ON = "battery_on"
    TOUCH_FIELD = "touch_field"
    TOUCH_ARMATURE = "touch_armature"
    TOUCH_CUT_OUT = "touch_cut_out"
    POLARISE_BY_HANDBOOK = "polarise_by_handbook"
    BATTERY_OFF_AGAIN = "battery_off_again"
    DYNAMO_LEADS_ON = "dynamo_leads_on"
    BATTERY_ON_AGAIN = "battery_on_again"
    START = "start"
    TRY_LAMPS = "try_lamps"
    MARK = "mark"


EarthTaskReason = Enum("EarthTaskReason", {task.name: task.value for task in EarthTask}, module=__name__)  # type: ignore[misc]
"""Why a task stands in the order, under the name of the task."""


class StateOfWork(NamedTuple):
    """A state, and whether it holds."""

    state: WorkState
    holds: bool


class Step(NamedTuple):
    """One step of the work: what is done and why, what must be true before it, and what is true after it."""

    number: int
    task: Enum
    reason: Enum
    before: tuple[StateOfWork, ...]
    after: tuple[StateOfWork, ...]
    cautions: tuple[Caution, ...]

    @property
    def what(self) -> Statement:
        """What is done."""
        return named(self.task)

    @property
    def why(self) -> Statement:
        """Why it is done, and done here."""
        return named(self.reason)


def order_of_work(generator: GeneratorKind | GeneratorName = GeneratorKind.UNKNOWN) -> tuple[Step, ...]:
    """Give the order in which an earth is changed, each step with what must be true before it and after it.

    Parameters
    ----------
    generator : GeneratorKind or str
        What charges the battery; where nobody knows, the order sends to the handbook first.

    Returns
    -------
    tuple of Step
        The steps.

    Raises
    ------
    InputError
        There is no such kind of generator.

    Examples
    --------
    A dynamo is re-polarised only where something is live to do it with.

    >>> import lampkit as lk
    >>> order = lk.circuits.order_of_work("field earthed inside")
    >>> touch = next(step for step in order if step.task.name == "TOUCH_FIELD")
    >>> [told.state.value for told in touch.before if told.holds]
    ['battery_connected', 'battery_turned', 'generator_leads_off', 'bound_parts_off']

    Source: data/circuit/conversion_order.csv: owners' technical articles, read in a secondary
    text, and common practice.
    """
    kind = member(GeneratorKind, generator, "generator", "generator")
    rows = tables.load("circuit", "conversion_order").rows()
    meant = (row for row in rows if {"any", kind.name.casefold()} & {*row["generators"].split()})
    return tuple(_step(row, number, EarthTask, EarthTaskReason) for number, row in enumerate(meant, start=1))


def _step(row: Mapping[str, str], number: int, tasks: type[Enum], reasons: type[Enum]) -> Step:
    """Make a step out of its row."""
    task, cautions = tasks(row["task"]), tuple(Caution(one) for one in row["cautions"].split())
    return Step(number, task, reasons[task.name], _states(row["before"]), _states(row["after"]), cautions)


def _states(words: str) -> tuple[StateOfWork, ...]:
    return tuple(
        StateOfWork(WorkState(word.removeprefix("not_")), not word.startswith("not_")) for word in words.split()
    )


class LampTask(Enum):
    """A piece of the work when lamps are changed: what is done."""

    MEASURE_AS_FOUND = "measure_as_found"
    BENCH_TEST_EACH = "bench_test_each"
    BENCH_TEST_BOTH_WAYS = "bench_test_both_ways"
    BATTERY_OFF = "battery_off"
    FIT_FLASHER = "fit_flasher"
    FIT_DIODES = "fit_diodes"
    BATTERY_ON = "battery_on"
    TRY_PARTS = "try_parts"
    CHANGE_LAMP = "change_lamp"
    CHANGE_LAMP_WITH_BALLAST = "change_lamp_with_ballast"
    TRY_ALL = "try_all"


LampTaskReason = Enum("LampTaskReason", {task.name: task.value for task in LampTask}, module=__name__)  # type: ignore[misc]
"""Why a task stands in the order, under the name of the task."""


class Need(Enum):
    """What makes a task of the order needed."""

    ANY = "any"
    EARTH_STAYS = "earth_stays"
    POLES = "poles"
    NO_BATTERY = "no_battery"
    LAMPS = "lamps"
    PARTS = "parts"
    FLASHER = "flasher"
    DIODES = "diodes"
    BALLAST = "ballast"


def order_of_lamps(needs: Collection[Need]) -> tuple[Step, ...]:
    """Give the order in which lamps are changed, each task once; those of single lamps are repeated by the caller.

    Source: data/circuit/lamp_order.csv, common practice, no source.
    """
    meant = (row for row in tables.load("circuit", "lamp_order").rows() if Need(row["needed"]) in {*needs, Need.ANY})
    return tuple(_step(row, number, LampTask, LampTaskReason) for number, row in enumerate(meant, start=1))
