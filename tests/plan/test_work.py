"""The states of the work and the order that leads through them, on a vehicle whose numbers are worked by hand."""

from pathlib import Path

import pytest
from reference.order_of_work import obstacles
from vehicle_text import BOTH, circuit, lamp, loaded, source

from lampkit.circuits.charging import GeneratorKind
from lampkit.circuits.circuit_change import LampMix
from lampkit.circuits.earth import Earth
from lampkit.circuits.flashers import FlasherBehaviour
from lampkit.circuits.tasks import LampTask, WorkState
from lampkit.circuits.tell_tale import TellTaleVerdict
from lampkit.plan import circuit_reports, stages, work_order
from lampkit.plan.stages import Lights, PartFitted, Stage
from lampkit.plan.work_order import Work
from lampkit.vehicle import vehicle
from lampkit.vehicle.vehicle import Vehicle
from lampkit.vehicle.vehicle_parts import CircuitPart, Offer

FILE = (
    """
[vehicle]
name = "invented cart"
supply_voltage_V = 12
{vehicle}
"""
    + source(
        "regulated amber", colour="amber", claimed_lumens_lm=200, power_W=2.7, feed="regulated", either_polarity=True
    )
    + source("one-way red", colour="red", claimed_lumens_lm=100, power_W=2.7, feed="regulated", either_polarity=False)
    + source("untold red", colour="red", claimed_lumens_lm=100, power_W=2.7)
    + source("no watts", colour="red", claimed_lumens_lm=100)
    + circuit(
        "turn",
        wire_length_m=6,
        wire_area_mm2=1,
        flasher="thermal series",
        flasher_rated_load_W=42,
        tell_tale="single between sides",
        tell_tale_W=2,
    )
    + circuit("stop", wire_length_m=6, wire_area_mm2=1)
    + circuit("tail", wire_length_m=6, wire_area_mm2=1)
    + lamp(
        "Stop", "stop", "red", "P21W", ["one-way red", "untold red", "no watts"], "{stop}", sides=BOTH, circuit="stop"
    )
    + lamp("Rear turn", "rear turn", "amber", "P21W", ["regulated amber"], sides=BOTH, circuit="turn")
    + lamp("Front turn", "front turn", "amber", "P21W", ["regulated amber"], sides=BOTH, circuit="turn")
    + lamp("Tail", "tail", "red", "R5W", ["one-way red"], sides=BOTH, circuit="tail")
)

FLASHER = CircuitPart("timer", "load-independent flasher", 9.0)
DIODES = CircuitPart("diodes", "pair of diodes", 1.0)
BALLAST = CircuitPart("six ohm", "ballast resistor", 2.0, resistance=6.0, power=50.0)
AMBER = ("Rear turn left", "Rear turn right", "Front turn left", "Front turn right")


def cart(folder: Path, head: str = 'earth = "negative"', stop: str = "") -> Vehicle:
    return loaded(folder, FILE.format(vehicle=head, stop=stop))


def offer(held: Vehicle, name: str) -> Offer:
    return next(one for one in held.offers if one.name == name)


def with_amber(held: Vehicle, *lamps: str) -> dict[str, Offer | None]:
    return {lamp.name: offer(held, "regulated amber") if lamp.name in lamps else None for lamp in held.lamps}


def turn_left(held: Vehicle, made: Work, place: int) -> stages.SideNow:
    (turn,) = [now for now in made.circuits[place] if now.circuit.name == "turn"]
    return next(side for side in turn.sides if side.side == "left")


# --- states -------------------------------------------------------------------------------------------------------


def test_one_led_and_one_filament_on_a_thermal_flasher_by_hand(tmp_path: Path) -> None:
    """P21W: 25 W at 13.5 V. Wire 1 mm2, 6 m of 19.5 mohm/m (IEC 60228 class 5), contacts and earth 0.05 ohm each.

    Mixed: V = 13.5 - 0.217 (1.8519 (V/13.5)^0.55 + 0.2) = 13.062 V, 2.019 A. The flasher, made for 3.6 A, trips above
    sqrt(0.6) 3.6 = 2.789 A; in series with wire and lamps it gets their 2.019 A and stays lit.
    """
    held = cart(tmp_path)
    made = work_order.work(held, with_amber(held, *AMBER))
    assert [state.stage for state in made.states] == [Stage.AS_FOUND, *[Stage.ON_THE_WAY] * 3, Stage.AS_CHOSEN]
    found, mixed, chosen = (turn_left(held, made, place) for place in (0, 1, 4))
    assert found.mix is LampMix.FILAMENTS and mixed.mix is LampMix.BOTH and chosen.mix is LampMix.LEDS
    assert (mixed.current, mixed.voltage) == (pytest.approx(2.0186, abs=2e-4), pytest.approx(13.062, abs=1e-3))
    assert mixed.flasher is not None and found.flasher is not None and chosen.flasher is not None
    assert found.flasher.behaviour is FlasherBehaviour.FLASHES
    assert mixed.flasher.behaviour is FlasherBehaviour.STAYS_LIT
    assert mixed.flasher.current == pytest.approx(2.0186, abs=2e-4)
    assert mixed.flasher.least_current == pytest.approx(2.7885, abs=1e-4)
    assert chosen.flasher.behaviour is FlasherBehaviour.STAYS_LIT
    assert chosen.current == pytest.approx(0.4) and chosen.drop == pytest.approx(0.217 * 0.4, abs=1e-6)


def test_two_filaments_by_hand(tmp_path: Path) -> None:
    """V = 13.5 - 0.217 * 3.7037 (V/13.5)^0.55: 12.721 V and 3.585 A."""
    found = turn_left(held := cart(tmp_path), work_order.work(held, with_amber(held)), 0)
    assert 3.7037 * (found.voltage / 13.5) ** 0.55 == pytest.approx(found.current, abs=1e-4)
    assert 13.5 - 0.217 * found.current == pytest.approx(found.voltage, abs=1e-4)
    assert (found.current, found.voltage) == (pytest.approx(3.585, abs=2e-3), pytest.approx(12.722, abs=2e-3))


def test_the_tell_tale_feeds_back_as_soon_as_the_far_side_is_led(tmp_path: Path) -> None:
    held = cart(tmp_path)
    made = work_order.work(held, with_amber(held, *AMBER))
    for place, state in enumerate(made.states):
        (turn,) = [now for now in made.circuits[place] if now.circuit.name == "turn"]
        for side in turn.sides:
            far = [name for name in AMBER if name.split()[-1] != side.side]
            leds = [state.fitted[name] is not None for name in far]
            assert side.tell_tale is not None
            expected = TellTaleVerdict.FEEDS_BACK if all(leds) else TellTaleVerdict.WORKS
            # A filament beside an LED takes the whole current of the tell-tale at next to no volts.
            assert side.tell_tale.verdict is expected, (place, side.side)


def test_parts_come_before_lamps_and_cure_every_state_after_them(tmp_path: Path) -> None:
    held = cart(tmp_path)
    made = work_order.work(held, with_amber(held, *AMBER), ((FLASHER, 1), (DIODES, 1)))
    assert made.states[1].stage is Stage.PARTS_FITTED and made.states[1].changed == ()
    assert made.states[1].parts == {PartFitted.FLASHER, PartFitted.DIODES}
    for circuits in made.circuits[1:]:
        (turn,) = [now for now in circuits if now.circuit.name == "turn"]
        for side in turn.sides:
            assert side.flasher is not None and side.flasher.behaviour is FlasherBehaviour.FLASHES
            assert side.tell_tale is None


def test_a_ballast_comes_with_each_lamp(tmp_path: Path) -> None:
    """6 ohm beside an LED of 0.2 A and a filament: the first state after the rear left lamp."""
    held = cart(tmp_path)
    made = work_order.work(held, with_amber(held, *AMBER), ((BALLAST, 4),))
    mixed, chosen = turn_left(held, made, 1), turn_left(held, made, 4)
    assert mixed.ballast == (6.0,) and chosen.ballast == (6.0, 6.0)
    drawn = 1.85185 * (mixed.voltage / 13.5) ** 0.55 + 0.2 + mixed.voltage / 6.0
    assert mixed.current == pytest.approx(drawn, abs=1e-4)
    assert chosen.current == pytest.approx(0.4 + 2.0 * chosen.voltage / 6.0, abs=1e-6)
    # The tell-tale's 0.3 A or less pass the two resistors of the far side, 3 ohm, at 0.9 V: no LED lights there.
    assert chosen.tell_tale is not None and chosen.tell_tale.verdict is TellTaleVerdict.WORKS
    reports = circuit_reports.report(held, with_amber(held, *AMBER), ((BALLAST, 4),))
    (turn,) = [one for one in reports if one.circuit.name == "turn"]
    assert turn.change.current[1] == pytest.approx(chosen.current) and turn.change.voltage[1] == chosen.voltage
    assert "circuit_report.tell_tale" not in {one.key for one in turn.cures}
    tasks = [one.step.task for one in made.steps]
    assert tasks.count(LampTask.CHANGE_LAMP_WITH_BALLAST) == 4


def test_what_was_fitted_before_is_told_as_found(tmp_path: Path) -> None:
    """A polarised LED that somebody put into a vehicle with positive earth stays dark; one of unknown make may."""
    held = cart(tmp_path, 'earth = "positive"', 'fitted = "one-way red"')
    (stop,) = [now for now in stages.circuits_in(held, stages.states(held, {})[0]) if now.circuit.name == "stop"]
    assert stop.sides[0].dark == ("Stop left", "Stop right") and stop.sides[0].current == 0.0
    assert stop.sides[0].voltage == 13.5
    held = cart(tmp_path, 'earth = "positive"', 'fitted = "untold red"')
    (stop,) = [now for now in stages.circuits_in(held, stages.states(held, {})[0]) if now.circuit.name == "stop"]
    assert stop.sides[0].unknown == ("Stop left", "Stop right") and not stop.sides[0].dark
    assert stop.sides[0].current == pytest.approx(0.4, abs=0.01)  # fed by a resistor, for all that is known


def test_watts_that_nobody_tells_follow_from_the_lumens(tmp_path: Path) -> None:
    """100 lm of red at 28 % of the watts, an assumption, and V of 0.20 to 0.35 near 630 nm, CIE 1931."""
    held = cart(tmp_path, stop='fitted = "no watts"')
    found = {now.circuit.name: now for now in stages.circuits_in(held, stages.states(held, {})[0])}
    low, high = (2.0 * 100.0 / (0.28 * 683.0 * v) / 13.5 for v in (0.35, 0.20))
    assert low < found["stop"].sides[0].current < high


def test_filaments_wait_in_the_holders_while_the_earth_is_changed(tmp_path: Path) -> None:
    held = cart(tmp_path, 'earth = "positive"\nearth_after = "negative"', 'fitted = "one-way red"')
    chosen = {**with_amber(held, *AMBER), "Stop left": held.lamps[0].fitted, "Stop right": held.lamps[1].fitted}
    made = work_order.work(held, chosen)
    found, turned, *rest = made.states
    assert (found.earth, turned.earth) == (Earth.POSITIVE, Earth.NEGATIVE)
    assert turned.stage is Stage.EARTH_CHANGED and turned.changed == ("Stop left", "Stop right")
    assert turned.fitted["Stop left"] is None
    assert all(state.earth is Earth.NEGATIVE for state in rest)
    (stop,) = [now for now in made.circuits[1] if now.circuit.name == "stop"]
    assert stop.sides[0].mix is LampMix.FILAMENTS and not stop.sides[0].dark
    (stop,) = [now for now in made.circuits[-1] if now.circuit.name == "stop"]
    assert stop.sides[0].mix is LampMix.LEDS and not stop.sides[0].dark, "they light with the new earth"


def test_least_harm_first_pairs_together_and_one_lamp_at_a_time(tmp_path: Path) -> None:
    held = cart(tmp_path)
    red, amber = offer(held, "one-way red"), offer(held, "regulated amber")
    chosen = {lamp.name: amber if "turn" in lamp.name else red for lamp in held.lamps}
    changed = [state.changed for state in stages.states(held, chosen)[1:]]
    expected = ["Tail left", "Tail right", *AMBER, "Stop left", "Stop right"]
    assert changed == [(name,) for name in expected]


def test_both_levels_of_a_holder_are_one_step() -> None:
    held = vehicle.load(Path(__file__).parents[1] / "vehicles" / "fire_pump")
    (bright,) = [one for one in held.offers if one.name == "red article"]
    (dim,) = [one for one in held.offers if one.name == "red article dim"]
    found = stages.states(held, {"Stop lamp": bright, "Tail lamp": dim})
    assert [state.changed for state in found] == [(), ("Stop lamp", "Tail lamp")]


# --- the order ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", GeneratorKind)
@pytest.mark.parametrize("changes", [False, True])
@pytest.mark.parametrize("parts", [(), ((FLASHER, 1), (DIODES, 1)), ((BALLAST, 4),)])
def test_the_whole_order_can_be_walked(tmp_path: Path, kind: GeneratorKind, changes: bool, parts: tuple) -> None:
    after = "negative" if changes else "positive"
    held = cart(tmp_path, f'earth = "positive"\nearth_after = "{after}"\ngenerator = "{kind.value}"')
    made = work_order.work(held, with_amber(held, *AMBER), parts)
    assert bool(made.earth) is changes
    assert not obstacles(made.every)
    assert [step.number for step in made.every] == list(range(1, len(made.every) + 1))
    assert made.every[-1].task is LampTask.TRY_ALL
    for one in made.steps:
        moves_wires = one.step.task in (LampTask.FIT_FLASHER, LampTask.FIT_DIODES)
        assert one.battery_on is not (moves_wires or one.step.task is LampTask.BATTERY_ON), one.step.task
        assert str(one.step.what).endswith(".") and str(one.step.why).endswith(".")


def test_a_step_left_out_or_too_early_is_found(tmp_path: Path) -> None:
    held = cart(tmp_path)
    steps = work_order.work(held, with_amber(held, *AMBER), ((FLASHER, 1),)).every
    needed = {
        LampTask.MEASURE_AS_FOUND: WorkState.STATE_MEASURED,
        LampTask.BENCH_TEST_EACH: WorkState.BENCH_TESTED,
        LampTask.BATTERY_OFF: WorkState.BATTERY_CONNECTED,
        LampTask.FIT_FLASHER: WorkState.CIRCUIT_PARTS_FITTED,
        LampTask.BATTERY_ON: WorkState.BATTERY_CONNECTED,
    }
    for i, step in enumerate(steps):
        if step.task in needed:
            found = obstacles([*steps[:i], *steps[i + 1 :]])
            assert needed[step.task] in {state for _, state in found}, step.task


def test_the_reason_for_the_flasher_first_is_worked_out(tmp_path: Path) -> None:
    held = cart(tmp_path)
    made = work_order.work(held, with_amber(held, *AMBER), ((FLASHER, 1), (DIODES, 1)))
    (fit,) = [one for one in made.steps if one.step.task is LampTask.FIT_FLASHER]
    (early,) = fit.too_early
    assert early.flasher is not None and early.flasher.behaviour is FlasherBehaviour.STAYS_LIT


def test_each_light_source_is_tried_on_the_bench(tmp_path: Path) -> None:
    """2.7 W at 13.5 V regulated: 0.2 A at 12.6 V too."""
    held = cart(tmp_path, 'earth = "positive"')
    red = offer(held, "one-way red")
    chosen = {**with_amber(held, *AMBER), "Tail left": red, "Tail right": red}
    (bench,) = [one for one in work_order.work(held, chosen).steps if one.step.task is LampTask.BENCH_TEST_EACH]
    assert {test.source: test.lights for test in bench.bench} == {
        "regulated amber": Lights.YES,
        "one-way red": Lights.NO,
    }
    assert all(test.current == pytest.approx(0.2) and test.voltage == pytest.approx(12.6) for test in bench.bench)


def test_nothing_to_do_is_no_work(tmp_path: Path) -> None:
    held = cart(tmp_path)
    made = work_order.work(held, with_amber(held))
    assert [state.stage for state in made.states] == [Stage.AS_FOUND, Stage.AS_CHOSEN]
    assert not any(one.step.task is LampTask.CHANGE_LAMP for one in made.steps)


# --- an invented vehicle with other laws ------------------------------------------------------------------------------


def test_an_electronic_flasher_of_24_volts_on_the_way_by_hand() -> None:
    """P21W of 24 V: 28 W at 28 V, 1 A. Wire 1 mm2, 14 m of 19.5 mohm/m, contacts and earth 0.05 ohm each: 0.373 ohm.

    As found V = 28 - 0.373 * 2 (V/28)^0.55 = 27.265 V, 1.971 A. The flasher, for one pair, calls a lamp dead below
    1.35 A at 24 V, 1.35 (28/24)^0.55 = 1.469 A at 28 V. With one filament and a regulated LED of 9.8 W, 0.35 A,
    V = 28 - 0.373 ((V/28)^0.55 + 0.35) = 27.500 V and 1.340 A, which is what the flasher in series gets.
    """
    held = vehicle.load(Path(__file__).parents[1] / "vehicles" / "cheese_truck")
    amber = offer(held, "turn amber")
    chosen = {lamp.name: amber if lamp.name == "Rear turn left" else None for lamp in held.lamps}
    made = work_order.work(held, chosen)
    found, mixed = (turn_left(held, made, place) for place in (0, -1))
    assert (found.current, found.voltage) == (pytest.approx(1.971, abs=1e-3), pytest.approx(27.265, abs=1e-3))
    assert found.flasher is not None and found.flasher.behaviour is FlasherBehaviour.FLASHES
    assert found.flasher.least_current == pytest.approx(1.4694, abs=1e-3)
    assert mixed.mix is LampMix.BOTH
    assert (mixed.current, mixed.voltage) == (pytest.approx(1.3401, abs=2e-4), pytest.approx(27.500, abs=1e-3))
    assert mixed.flasher is not None and mixed.flasher.behaviour is FlasherBehaviour.REPORTS_A_FAILED_LAMP
    assert mixed.flasher.current == pytest.approx(1.3401, abs=2e-4)
