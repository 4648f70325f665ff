"""Changing the earth: the order of work for each generator, and what must be true before and after each task."""

from collections.abc import Mapping
from enum import Enum
from typing import Literal, NamedTuple

from lampkit import tables
from lampkit.circuits.caution import Caution
from lampkit.errors import InputError, nearest
from lampkit.statements import Statement, named


class GeneratorKind(Enum):
    """What charges the battery, by the name that the vehicle file uses.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.circuits.GeneratorKind("third brush").name
    'THIRD_BRUSH'
    """

    FIELD_EARTHED_INSIDE = "field earthed inside"
    FIELD_EARTHED_AT_REGULATOR = "field earthed at the regulator"
    THIRD_BRUSH = "third brush"
    ALTERNATOR = "alternator"
    MAGNETO = "magneto"
    UNKNOWN = "unknown"


GeneratorName = Literal[
    "field earthed inside", "field earthed at the regulator", "third brush", "alternator", "magneto", "unknown"
]


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
    """One step of the work: what is done and why, what must be true before it, and what is true after it.

    Source: data/circuit/conversion_order.csv and data/circuit/cautions.csv.
    """

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
    kind = generator_kind(generator)
    found = list[Step]()
    for row in tables.load("circuit", "conversion_order").rows():
        if row["generators"] == "any" or kind.name.casefold() in row["generators"].split():
            task = EarthTask(row["task"])
            found.append(step_of(row, len(found) + 1, task, EarthTaskReason[task.name]))
    return tuple(found)


def step_of(row: Mapping[str, str], number: int, task: Enum, reason: Enum) -> Step:
    """Make a step out of its row."""
    cautions = tuple(Caution(one) for one in row["cautions"].split())
    return Step(number, task, reason, _states(row["before"]), _states(row["after"]), cautions)


def generator_kind(name: GeneratorKind | str) -> GeneratorKind:
    """Look up a kind of generator by the name that the vehicle file uses."""
    try:
        return GeneratorKind(name)
    except ValueError:
        known = [kind.value for kind in GeneratorKind]
        raise InputError(
            f"the generator '{name}' is unknown", key="generator", expected=nearest(str(name), known)
        ) from None


def _states(words: str) -> tuple[StateOfWork, ...]:
    return tuple(
        StateOfWork(WorkState(word.removeprefix("not_")), not word.startswith("not_")) for word in words.split()
    )
