"""The order of work when the earth is changed, walked for each generator through a vehicle that has its own laws."""

from collections.abc import Sequence
from dataclasses import dataclass

import pytest
from reference.order_of_work import obstacles

from lampkit import tables
from lampkit.circuits import tasks
from lampkit.circuits.charging import GeneratorKind
from lampkit.circuits.tasks import Caution, EarthTask, Step, WorkState
from lampkit.errors import InputError

DYNAMOS = ["FIELD_EARTHED_INSIDE", "FIELD_EARTHED_AT_REGULATOR", "THIRD_BRUSH"]
OLD, NEW = +1, -1


@dataclass
class Garage:
    """A vehicle that breaks where a wrong step would break it; nothing in it is read from the order."""

    kind: str
    battery_on: bool = True
    live: int = OLD  # sign of the live post against the body
    field: int = OLD  # sign of the remanent field
    dynamo_leads_on: bool = True
    alternator: int | None = None
    bound_parts: int | None = OLD  # the earth that the fitted parts are made for; None where they are off
    coil: int = OLD
    running: bool = False

    def moves_leads(self) -> None:
        assert not self.battery_on, "a lead moves with the battery on"

    def live_bound(self) -> None:
        assert not self.battery_on or self.bound_parts in (None, self.live), "a part sees the wrong polarity"
        assert not self.battery_on or self.alternator in (None, self.live), "the diodes short-circuit the battery"


def field_current(kind: str, live: int, touched: str) -> int:
    """Sign of the current in the field winding, counted from its field terminal to its far end."""
    # Far end: body, at 0, or the armature terminal, which the armature winding holds near 0 at rest unless it is live.
    field, armature = (live, 0) if touched == "field" else (0, live)
    far = 0 if kind == "FIELD_EARTHED_INSIDE" else armature
    if kind == "FIELD_EARTHED_INSIDE" and touched == "armature":
        field = live  # at rest the regulator joins both terminals
    return field - far


def build_up(kind: str, live: int) -> int:
    """Sign of the field current with which a dynamo of the new polarity runs by itself."""
    return live if kind == "FIELD_EARTHED_INSIDE" else -live


def take(garage: Garage, task: EarthTask) -> None:
    g, name = garage, task.name
    if name in ("BATTERY_OFF", "BATTERY_OFF_AGAIN"):
        assert g.battery_on and not g.running
        g.battery_on = False
    elif name in ("BATTERY_ON", "BATTERY_ON_AGAIN"):
        assert not g.battery_on
        g.battery_on = True
    elif name == "TURN_BATTERY":
        g.moves_leads()
        g.live = NEW
    elif name in ("BOUND_PARTS_OFF", "FIT_PARTS"):
        g.moves_leads()
        g.bound_parts = None if name == "BOUND_PARTS_OFF" else NEW
    elif name in ("DYNAMO_LEADS_OFF", "DYNAMO_LEADS_ON"):
        g.moves_leads()
        g.dynamo_leads_on = name == "DYNAMO_LEADS_ON"
    elif name in ("ALTERNATOR_OUT", "RECTIFIER_OFF", "FIT_ALTERNATOR", "TURN_RECTIFIER"):
        g.moves_leads()
        g.alternator = NEW if name in ("FIT_ALTERNATOR", "TURN_RECTIFIER") else None
    elif name in ("EXCHANGE_LEADS", "EXCHANGE_LEADS_BUT_COIL"):
        g.moves_leads()
        g.coil = NEW if name == "EXCHANGE_LEADS" else g.coil
    elif name in ("TOUCH_FIELD", "TOUCH_ARMATURE", "TOUCH_CUT_OUT"):
        assert g.battery_on and not g.running, "nothing is live"
        touched = "field" if name == "TOUCH_FIELD" else "armature"
        assert touched == "armature" or not g.dynamo_leads_on, "the control box is in circuit"
        assert touched == "field" or g.dynamo_leads_on, "the field has no way to earth"
        flows = field_current(g.kind, g.live, touched)
        g.field = g.live if flows * build_up(g.kind, g.live) > 0 else -g.live
    elif name == "POLARISE_BY_HANDBOOK":
        assert g.battery_on
        g.field = g.live
    elif name == "START":
        assert g.battery_on and g.dynamo_leads_on
        assert g.kind in ("ALTERNATOR", "MAGNETO") or g.field == g.live, "the cut-out closes on a reversed dynamo"
        assert g.kind == "MAGNETO" or g.coil == g.live, "the spark is reversed"
        g.running = True
    elif name == "TRY_LAMPS":
        assert g.battery_on and g.bound_parts == g.live
        g.running = False
    g.live_bound()


def work_through(kind: str, steps: Sequence[Step]) -> Garage:
    garage = Garage(kind, alternator=OLD if kind in ("ALTERNATOR", "MAGNETO") else None)
    for step in steps:
        take(garage, step.task)
    return garage


@pytest.mark.parametrize("kind", GeneratorKind)
def test_order_can_be_worked_through(kind: GeneratorKind) -> None:
    steps = tasks.order_of_work(kind)
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    assert not obstacles(steps)
    garage = work_through(kind.name, steps)
    assert garage.battery_on and garage.live == NEW and garage.bound_parts == NEW and garage.dynamo_leads_on
    assert not garage.running
    assert garage.field == NEW or kind.name in ("ALTERNATOR", "MAGNETO")
    assert steps[-1].task is EarthTask.MARK


@pytest.mark.parametrize("kind", GeneratorKind)
@pytest.mark.parametrize("last", [False, True])
def test_a_step_left_out_or_too_early_is_found(kind: GeneratorKind, last: bool) -> None:
    """Whatever breaks the vehicle is an obstacle of the data too."""
    steps = tasks.order_of_work(kind)
    broken = 0
    for i, step in enumerate(steps):
        others = [*steps[:i], *steps[i + 1 :]]
        changed = [*others, step] if last else others
        try:
            work_through(kind.name, changed)
        except AssertionError:
            broken += 1
            assert obstacles(changed), f"{step.task.name} moved: the vehicle breaks and nothing said so"
    assert broken >= 3


@pytest.mark.parametrize("kind", DYNAMOS)
def test_nothing_is_polarised_before_the_battery_is_on(kind: str) -> None:
    steps = list(tasks.order_of_work(GeneratorKind[kind]))
    touch = next(step for step in steps if step.task.name.startswith("TOUCH"))
    on = next(step for step in steps if step.task is EarthTask.BATTERY_ON)
    steps.remove(touch)
    steps.insert(steps.index(on), touch)
    assert WorkState.BATTERY_CONNECTED in {state for _, state in obstacles(steps)}
    assert Caution.DYNAMO_TOUCH in touch.cautions
    with pytest.raises(AssertionError, match="nothing is live"):
        work_through(kind, steps)


@pytest.mark.parametrize("kind", DYNAMOS)
def test_the_way_of_another_dynamo_turns_its_field_wrongly_or_meets_the_control_box(kind: str) -> None:
    other = "FIELD_EARTHED_AT_REGULATOR" if kind == "FIELD_EARTHED_INSIDE" else "FIELD_EARTHED_INSIDE"
    steps = tasks.order_of_work(GeneratorKind[other])
    if kind == "FIELD_EARTHED_INSIDE":  # the other way turns it too, but through the closed contacts of the regulator
        assert field_current(kind, NEW, "armature") * build_up(kind, NEW) > 0
        return
    with pytest.raises(AssertionError, match="reversed dynamo"):
        work_through(kind, steps)


def test_an_alternator_and_a_magneto_are_never_touched() -> None:
    for kind in ("ALTERNATOR", "MAGNETO"):
        found = {step.task.name for step in tasks.order_of_work(GeneratorKind[kind])}
        assert not any(task.startswith(("TOUCH", "POLARISE")) for task in found)


def test_the_unknown_is_sent_to_the_handbook_before_the_battery_comes_off() -> None:
    found = [step.task.name for step in tasks.order_of_work("unknown")]
    assert found.index("READ_HANDBOOK") < found.index("BATTERY_OFF")
    assert not any(task.startswith("TOUCH") for task in found)


def test_each_task_has_rows_words_and_a_reason() -> None:
    rows = tables.load("circuit", "conversion_order")
    assert set(rows["task"]) == {task.value for task in EarthTask}
    kinds = {kind.name.casefold() for kind in GeneratorKind} | {"any"}
    assert {kind for cell in rows["generators"] for kind in cell.split()} <= kinds
    for kind in GeneratorKind:
        for step in tasks.order_of_work(kind):
            assert str(step.what).endswith(".") and str(step.why).endswith(".")


def test_the_earth_lead_is_first_off_and_last_on() -> None:
    for kind in GeneratorKind:
        for step in tasks.order_of_work(kind):
            if step.task.name.startswith("BATTERY_O"):
                assert Caution.EARTH_FIRST in step.cautions


def test_an_unknown_generator_is_refused_by_its_key() -> None:
    with pytest.raises(InputError, match="generator"):
        tasks.order_of_work("dynamo")  # type: ignore[arg-type]
