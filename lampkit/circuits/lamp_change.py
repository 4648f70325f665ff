"""Changing the lamps one at a time: the order of work, and what must be true before and after each task."""

from collections.abc import Collection
from enum import Enum

from lampkit import tables
from lampkit.circuits.earth_change import Step, step_of


class LampTask(Enum):
    """A piece of the work when lamps are changed: what is done."""

    MEASURE_AS_FOUND = "measure_as_found"
    BENCH_TEST_EACH = "bench_test_each"
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
    LAMPS = "lamps"
    PARTS = "parts"
    FLASHER = "flasher"
    DIODES = "diodes"
    BALLAST = "ballast"


def order_of_lamps(needs: Collection[Need]) -> tuple[Step, ...]:
    """Give the order in which lamps are changed, each task once; those of single lamps are repeated by the caller.

    Source: data/circuit/lamp_order.csv, common practice, no source.
    """
    found = list[Step]()
    for row in tables.load("circuit", "lamp_order").rows():
        if Need(row["needed"]) in {*needs, Need.ANY}:
            task = LampTask(row["task"])
            found.append(step_of(row, len(found) + 1, task, LampTaskReason[task.name]))
    return tuple(found)
