"""The parts told so that they can be fitted, and what the change saves: each number by hand."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from vehicle_text import BOTH, circuit, lamp, loaded, source

from lampkit.circuits import loads, tell_tale
from lampkit.circuits.charging import standing_time
from lampkit.circuits.earth import Earth
from lampkit.circuits.tell_tale import Band
from lampkit.errors import InputError
from lampkit.plan import parts_to_fit, stages
from lampkit.plan.stages import Fittings, PartFitted, Stage
from lampkit.statements import Statement, named
from lampkit.vehicle.vehicle import Vehicle
from lampkit.vehicle.vehicle_parts import CircuitPart

FILE = (
    """
[vehicle]
name = "invented cart"
supply_voltage_V = 12
{vehicle}
"""
    + source("red", colour="red", claimed_lumens_lm=100, power_W=0.5, feed="regulated", either_polarity=True)
    + source("dim red", dim_level_of="red", colour="red", claimed_lumens_lm=10, power_W=0.1)
    + source("amber", colour="amber", claimed_lumens_lm=200, power_W=2, feed="{feed}", either_polarity=True)
    + circuit(
        "turn",
        "{turn}",
        wire_length_m=0.1,
        wire_area_mm2=4,
        flasher="{flasher}",
        tell_tale="{tell_tale}",
        tell_tale_W=2.7,
    )
    + circuit("tail")
    + lamp("Rear turn", "rear turn", "amber", "P21W", ["amber"], sides=BOTH, circuit="turn")
    + lamp("Front turn", "front turn", "amber", "P21W", ["amber"], sides=BOTH, circuit="turn")
    + lamp("Tail", "tail", "red", "R5W", ["red", "dim red"], sides=BOTH, circuit="tail")
    + lamp("Stop", "stop", "red", "P21W", ["red"], sides=BOTH, circuit="tail")
)


def cart(
    folder: Path,
    head: str = "",
    flasher: str = "thermal series",
    tell_tale: str = "single between sides",
    turn: str = "",
    feed: str = "regulated",
) -> Vehicle:
    text = FILE.format(vehicle=head, flasher=flasher, tell_tale=tell_tale, turn=turn, feed=feed)
    return loaded(folder, text)


def notes(
    held: Vehicle, fitted: dict[str, str], kinds: Sequence[PartFitted] = (), parts: Sequence = ()
) -> dict[str, Mapping[str, Any]]:
    """What each note tells, by its key."""
    offers = {one.name: one for one in held.offers}
    by_lamp = {lamp.name: offers.get(fitted.get(lamp.name.rsplit(" ", 1)[0], "")) for lamp in held.lamps}
    earth = Earth(held.earth_after)
    chosen = Fittings(Stage.AS_CHOSEN, earth, by_lamp, frozenset(kinds))
    spares = replace(chosen, fitted=dict.fromkeys(by_lamp), parts=frozenset())
    now, before = (stages.circuits_in(held, state, parts) for state in (chosen, spares))
    found = parts_to_fit.parts_to_fit(held, now, before, parts)
    return values_of(found)


def values_of(found: Sequence[Statement]) -> dict[str, Mapping[str, Any]]:
    assert all(str(note).strip().endswith(".") for note in found)
    assert not any("nan" in str(note) or "e+0" in str(note) for note in found)
    return {note.key.split(".")[1]: note.values for note in found}


AMBER = {"Rear turn": "amber", "Front turn": "amber"}


# --- diodes -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("earth", "live"), [(Earth.NEGATIVE, +1.0), (Earth.POSITIVE, -1.0)])
def test_diodes_let_the_feed_through_and_stop_what_comes_back(earth: Earth, live: float) -> None:
    """A diode conducts from its plain to its banded end; the live feed is plus with negative earth, minus else."""

    def conducts(band: Band, feed: float, lamp: float) -> bool:
        """The current that flows through it, were it a light source that lights one way round."""
        diode = loads.led_load(1, 12)
        towards_lamp = feed - lamp
        forward = towards_lamp if band is Band.AWAY_FROM_FEEDS else -towards_lamp
        return float(loads.load_current(diode, forward)) > 0

    band = tell_tale.feed_diode(earth, 0.2).band
    assert conducts(band, 12.0 * live, 0.0), "the side that flashes feeds the tell-tale"
    assert not conducts(band, 0.0, 12.0 * live), "the other side gets nothing back from it"
    coil = tell_tale.across_coil(earth, 3.0).band
    assert not conducts(coil, 12.0 * live, 0.0), "it would short-circuit the coil"
    assert conducts(coil, -12.0 * live, 0.0), "it takes the spike, which has the other sign"


def test_tell_tale_diodes_and_the_new_earth_wire(tmp_path: Path) -> None:
    """2.7 W at 13.5 V: 0.2 A. A diode leaves (12.8/13.5)^3.4 of the light."""
    for earth, band in (("negative", Band.AWAY_FROM_FEEDS), ("positive", Band.TO_FEEDS)):
        found = notes(cart(tmp_path, f'earth = "{earth}"'), AMBER, [PartFitted.DIODES])
        diodes = found["diodes"]
        assert diodes["band"] == named(band) and diodes["rating"] == 1.0, "0.2 A, half of the time"
        assert diodes["left"] == pytest.approx((12.8 / 13.5) ** 3.4, abs=1e-4)
        assert "insulated_holder" in found
    assert "diodes" not in notes(cart(tmp_path), AMBER)
    found = notes(cart(tmp_path, tell_tale="one each side"), AMBER, [PartFitted.DIODES])
    assert "insulated_holder" not in found, "its holders have their earth"


def test_hazard_diodes_by_hand(tmp_path: Path) -> None:
    """Two P21W draw 3.7 A a side less the little that 0.1 ohm takes; 0.7 V of it, half of the time, is heat."""
    found = notes(cart(tmp_path), AMBER)["hazards"]
    assert found["current"] == pytest.approx(3.63, abs=0.03)
    assert found["heat"] == pytest.approx(0.35 * found["current"])
    assert found["rating"] == 10.0, "7.3 A, the next size"
    assert found["both"] == pytest.approx(2.0 * found["current"])
    assert found["chosen"] == pytest.approx(2 * 2 / 13.5, abs=1e-3)


# --- flashers -----------------------------------------------------------------------------------------------------


def test_a_new_flasher_needs_one_terminal_more(tmp_path: Path) -> None:
    found = notes(cart(tmp_path), AMBER, [PartFitted.FLASHER])["flasher"]
    assert [one.key for one in found["old"]] == ["FlasherTerminal.SUPPLY", "FlasherTerminal.LAMPS"]
    assert [one.key for one in found["new"]] == [*(one.key for one in found["old"]), "FlasherTerminal.EARTH"]
    found = notes(cart(tmp_path, tell_tale="from the flasher"), AMBER, [PartFitted.FLASHER])["flasher"]
    assert "FlasherTerminal.TELL_TALE" in {one.key for one in found["old"]} and len(found["new"]) == 4
    assert "flasher" not in notes(cart(tmp_path), AMBER)


def test_only_lamps_on_a_flasher_with_a_shunt_are_watched(tmp_path: Path) -> None:
    assert "shunt" in notes(cart(tmp_path, flasher="electronic"), AMBER)
    assert "shunt" not in notes(cart(tmp_path), AMBER)


# --- resistors ----------------------------------------------------------------------------------------------------


def test_bleed_resistor_by_hand(tmp_path: Path) -> None:
    """13.5 V, a leak of 5 kilohm: 1 kilohm leaves 2.25 V and takes 0.18 W, so one of 0.5 W stays cool."""
    found = notes(cart(tmp_path), AMBER)["bleed"]
    assert (found["resistance"], found["power"]) == (1000.0, 0.5)
    assert found["voltage"] == pytest.approx(2.25) and found["heat"] == pytest.approx(0.18225)
    assert found["voltage"] < found["begins"]
    assert "bleed" not in notes(cart(tmp_path), {}), "filaments do not glow"


def test_ballast_across_and_not_in_series(tmp_path: Path) -> None:
    part = CircuitPart("six ohm", "ballast resistor", 2.0, resistance=6.0, power=50.0)
    found = notes(cart(tmp_path), AMBER, [PartFitted.BALLAST], [(part, 4)])["ballast"]
    assert (found["number"], found["resistance"], found["power"]) == (4, 6.0, 50.0)
    assert "ballast" not in notes(cart(tmp_path), AMBER, [], [(part, 0)])


# --- what hangs on the same fuse, the supply, pulses -----------------------------------------------------------------


def test_semaphores_and_trailers_only_where_the_file_names_them(tmp_path: Path) -> None:
    held = cart(tmp_path, turn='also_feeds = ["Semaphore arms", "trailer socket"]')
    found = notes(held, AMBER)
    arm, trailer = found["semaphore"], found["trailer"]
    assert arm["current"] == pytest.approx(3.0) and arm["band"] == named(Band.TO_FEEDS)
    assert trailer["adds"] == pytest.approx(25 / 13.5, abs=1e-3) and trailer["flasher"]
    assert trailer["side"] == pytest.approx(25 / 13.5 + 4 / 13.5, abs=2e-3)
    assert trailer["both"] == pytest.approx(2 * trailer["side"], abs=1e-6)
    found = notes(cart(tmp_path, turn='also_feeds = ["horn"]'), AMBER)
    assert not {"semaphore", "trailer"} & set(found)


@pytest.mark.parametrize(
    ("generator", "told"), [("third brush", True), ("unknown", True), ("alternator", False), ("magneto", False)]
)
def test_supply_range_beside_a_dynamo(tmp_path: Path, generator: str, told: bool) -> None:
    found = notes(cart(tmp_path, f'generator = "{generator}"'), AMBER)
    assert ("supply_range" in found) is told
    if told:
        asked = found["supply_range"]
        assert (asked["low"], asked["high"], asked["spikes"]) == (9.0, 32.0, (24.0, 30.0))
        assert asked["known"] is (generator != "unknown")


def test_pulses_are_told_of_dim_levels_only(tmp_path: Path) -> None:
    assert "pulsed" not in notes(cart(tmp_path), {**AMBER, "Tail": "red"})
    found = notes(cart(tmp_path), {"Tail": "dim red", "Stop": "red"})
    assert found["pulsed"]["sources"] == ("dim red",)


def test_nothing_is_told_where_nothing_is_changed(tmp_path: Path) -> None:
    assert set(notes(cart(tmp_path), {})) == {"hazards"}


# --- what it saves ------------------------------------------------------------------------------------------------


def test_standing_time_of_the_worked_case() -> None:
    """40 Ah at 3.17 A: 0.5 * 40 / 3.17 = 6.3 h."""
    assert float(standing_time(40, 3.17)) == pytest.approx(6.31, abs=0.01)
    with pytest.raises(InputError, match="current"):
        standing_time(40, 0)


def saved(held: Vehicle, fitted: dict[str, str]) -> dict[str, Mapping[str, Any]]:
    offers = {one.name: one for one in held.offers}
    chosen = {lamp.name: offers.get(fitted.get(lamp.name.rsplit(" ", 1)[0], "")) for lamp in held.lamps}
    states = stages.states(held, chosen)
    circuits = [stages.circuits_in(held, state) for state in states]
    return values_of(parts_to_fit.savings(held, chosen, circuits[0], circuits[-1]))


def test_savings_by_hand(tmp_path: Path) -> None:
    """R5W: 5 W at 13.5 V, at 12 V 0.37037 (12/13.5)^0.55 = 0.34714 A; LED 0.5 W at 13.5 V: 0.037037 A; two each."""
    found = saved(cart(tmp_path, 'battery_Ah = 60\ngenerator = "third brush"'), {"Tail": "red", "Stop": "red"})
    assert found["standing"]["current"] == (pytest.approx(0.69428, abs=1e-4), pytest.approx(0.074074, abs=1e-5))
    assert found["standing"]["hours"] == (pytest.approx(43.21, abs=0.01), pytest.approx(405.0, abs=0.1))
    assert not found["standing"]["assumed"]
    # Stop lamps as well: P21W 1.85185 (12/13.5)^0.55 = 1.73569 A, two; a dynamo at idle gives nothing.
    before, after = found["idle"]["balance"]
    assert (before, after) == (pytest.approx(-(0.69428 + 3.47138), abs=1e-3), pytest.approx(-4 * 0.037037, abs=1e-5))
    assert found["idle"]["assumed"] and found["idle"]["gives"] == 0.0
    assert found["heat"]["lamp"] == "Stop left" and found["heat"]["circuit"] == "tail"
    assert 20 < found["heat"]["in_lamp"][0] < 25 and found["heat"]["in_lamp"][1] == pytest.approx(0.5, abs=0.01)


def test_what_stays_dark_draws_nothing(tmp_path: Path) -> None:
    """LEDs that light with negative earth only, fitted while it is positive: none lit, nothing to save."""
    held = cart(tmp_path, 'earth = "positive"\nearth_after = "negative"')
    one_way = replace(next(one for one in held.offers if one.name == "red"), either_polarity=False)
    lamps = tuple(replace(lamp, fitted=one_way) if lamp.function == "tail" else lamp for lamp in held.lamps)
    dark = replace(held, lamps=lamps)
    chosen = {lamp.name: lamp.fitted for lamp in lamps}
    circuits = [stages.circuits_in(dark, state) for state in stages.states(dark, chosen)]
    found = values_of(parts_to_fit.savings(dark, chosen, circuits[0], circuits[-1]))
    assert "standing" not in found, "dark lamps empty no battery"


def test_what_is_not_known_is_not_saved(tmp_path: Path) -> None:
    found = saved(cart(tmp_path), {"Tail": "red"})
    assert found["standing"]["assumed"] and found["standing"]["capacity"] == 40.0
    assert "idle" not in found, "nobody knows what charges it"
    found = saved(cart(tmp_path, "idle_current_A = 6"), {"Tail": "red"})
    assert not found["idle"]["assumed"]
    assert found["idle"]["balance"][0] == pytest.approx(6 - 0.69428 - 3.47138, abs=1e-3)
    nothing = saved(cart(tmp_path, 'generator = "third brush"'), {})
    assert not nothing
