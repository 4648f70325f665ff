"""Amperes and volts read on made-up circuits of which it is known what is wrong, made by a solver of their own."""

from collections.abc import Sequence

import numpy as np
import pytest
from scipy.optimize import brentq

from lampkit.circuits.loads import filament_load, led_load
from lampkit.circuits.meter_readings import CurrentSuspect, VoltageSuspect, judge_current, judge_voltage
from lampkit.errors import InputError

DIM, BRIGHT, LED = filament_load(5.0, 13.5), filament_load(25.0, 13.5), led_load(1.0, 13.5, string_voltage=6.5)


def drawn(watts: float, volts: float, rated: float = 13.5) -> float:
    return watts / rated * (volts / rated) ** 0.55


def behind(ohms: float, watts: Sequence[float], supply: float) -> float:
    """The volts that rust leaves to lamps side by side, in plain numbers."""
    return float(brentq(lambda v: supply - ohms * sum(drawn(w, v) for w in watts) - v, 1e-9, supply))


@pytest.mark.parametrize(
    ("amperes", "suspect", "size"),
    [
        (4 * drawn(5, 12) + drawn(25, 12), CurrentSuspect.BRIGHT_BESIDE, 1),
        (4 * drawn(5, 12) + 2 * drawn(25, 12), CurrentSuspect.BRIGHT_BESIDE, 2),
        (4 * drawn(25, 12), CurrentSuspect.BRIGHT_IN_PLACE, 4),
        (2 * drawn(5, 12) + 2 * drawn(25, 12), CurrentSuspect.BRIGHT_IN_PLACE, 2),
        (4 * drawn(5, 12) + 0.9, CurrentSuspect.OTHER_LOADS, 0.9),
        (3 * drawn(5, 12), CurrentSuspect.LAMPS_DARK, 1),
        (2 * drawn(5, 12), CurrentSuspect.LAMPS_DARK, 2),
        (4 * drawn(5, behind(4.0, [5.0] * 4, 12.0)), CurrentSuspect.BAD_CONTACT, 4.0),
        (0.1 * 4 * drawn(5, 12), CurrentSuspect.METER_RANGE, 0.1),
        (10 * 4 * drawn(5, 12), CurrentSuspect.METER_RANGE, 10.0),
    ],
)
def test_the_true_reason_is_first_or_second_and_has_its_size(
    amperes: float, suspect: CurrentSuspect, size: float
) -> None:
    found = judge_current(amperes, 12.0, [DIM] * 4, bright=[BRIGHT] * 4)
    assert found.expected[1] == pytest.approx(4 * drawn(5, 12))
    place = [one.suspect for one in found.suspects].index(suspect)
    assert place < 2, [one.suspect.value for one in found.suspects]
    assert found.suspects[place].size == pytest.approx(size, rel=0.02)
    assert sum(one.chance for one in found.suspects) == pytest.approx(1.0)
    assert found.said.key == "measured_current.differs" and str(found.said).endswith(".")


def test_lamps_of_twice_the_watts_are_second_to_any_other_load() -> None:
    """Beside double filaments 4 x 10 W would be 4 x 5 W and one of 25 W in place of one of 5 W: no ammeter tells."""
    found = judge_current(4 * drawn(10, 12), 12.0, [DIM] * 4)
    assert [one.suspect for one in found.suspects][:2] == [CurrentSuspect.OTHER_LOADS, CurrentSuspect.WRONG_LAMPS]
    assert found.suspects[1].size == pytest.approx(10.0)
    tied = judge_current(4 * drawn(10, 12), 12.0, [DIM] * 4, bright=[BRIGHT] * 4)
    assert tied.suspects[0].suspect is CurrentSuspect.BRIGHT_IN_PLACE and tied.suspects[0].size == 1


def test_what_is_known_of_other_loads_moves_them_up_or_down() -> None:
    places = [
        [one.suspect for one in judge_current(2.3, 12.0, [DIM] * 4, others=others).suspects].index(
            CurrentSuspect.OTHER_LOADS
        )
        for others in (True, None, False)
    ]
    assert places == sorted(places) and places[0] < places[2]


def test_what_is_as_expected_has_no_suspects() -> None:
    found = judge_current(1.05 * 4 * drawn(5, 12), 12.0, [DIM] * 4)
    assert not found.suspects and found.said.key == "measured_current.agrees"
    leds = judge_current(1.2 * 4 * (1.0 / 13.5) * (12.0 - 6.5) / (13.5 - 6.5), 12.0, [LED] * 4)
    assert not leds.suspects  # watts on boxes are rough


def test_the_supply_and_the_wire_are_counted() -> None:
    """The same lamps draw more on 14 V and less behind wire."""
    low, high = (judge_current(1.0, volts, [BRIGHT] * 2).expected[1] for volts in (12.0, 14.0))
    assert high / low == pytest.approx((14 / 12) ** 0.55)
    wired = judge_current(1.0, 12.0, [BRIGHT] * 2, resistance=0.3).expected[1]
    assert wired == pytest.approx(2 * drawn(25, behind(0.3, [25.0] * 2, 12.0)), rel=1e-6)


def test_an_led_the_wrong_way_round_is_a_dark_lamp_among_filaments() -> None:
    found = judge_current(2 * drawn(5, 12), 12.0, [DIM, DIM, LED], resistance=0.0)
    assert not found.suspects or found.suspects[0].suspect is CurrentSuspect.LAMPS_DARK


def test_without_double_filaments_none_is_suspected() -> None:
    found = judge_current(3.0, 12.0, [DIM] * 4)
    assert not {one.suspect for one in found.suspects} & {CurrentSuspect.BRIGHT_BESIDE, CurrentSuspect.BRIGHT_IN_PLACE}


@pytest.mark.parametrize("rust", [0.5, 1.0, 3.0])
def test_volts_lost_to_rust_are_found_with_their_ohms(rust: float) -> None:
    volts = behind(0.1 + rust, [25.0, 25.0], 12.6)
    found = judge_voltage(volts, 12.6, [BRIGHT] * 2, resistance=0.1)
    assert found.expected == pytest.approx(behind(0.1, [25.0, 25.0], 12.6), abs=1e-6)
    assert found.suspects[:2] == (VoltageSuspect.BAD_EARTH, VoltageSuspect.BAD_CONTACT)
    # The lamps then draw less, so sound wiring would lose less too.
    assert found.lost == pytest.approx(found.expected - volts)
    assert found.resistance == pytest.approx(rust, rel=0.25)
    assert "earth post" in str(found.said)


@pytest.mark.parametrize(
    ("volts", "known", "amperes", "first"),
    [
        (0.0, True, None, VoltageSuspect.NO_FEED),
        (14.2, True, None, VoltageSuspect.SUPPLY_HIGHER),
        (12.55, True, None, VoltageSuspect.NOTHING_FLOWS),
        (10.0, True, 9.0, VoltageSuspect.OTHER_LOADS),
        (10.0, False, None, VoltageSuspect.BAD_EARTH),
    ],
)
def test_other_causes_of_wrong_volts(volts: float, known: bool, amperes: float | None, first: VoltageSuspect) -> None:
    found = judge_voltage(volts, 12.6, [BRIGHT] * 2, resistance=0.25, wire_known=known, current=amperes)
    assert found.suspects[0] is first
    assert (VoltageSuspect.THIN_WIRE in found.suspects) is (not known)
    assert str(found.said).endswith(".")


def test_sound_volts_have_no_suspects() -> None:
    found = judge_voltage(behind(0.2, [25.0, 25.0], 12.6), 12.6, [BRIGHT] * 2, resistance=0.15)
    assert not found.suspects and found.said.key == "measured_voltage.agrees"


@pytest.mark.parametrize("volts", [6.3, 25.2])
def test_other_supplies_have_their_own_tolerance(volts: float) -> None:
    lamp = filament_load(25.0, 1.125 * volts / 1.05)
    sound = judge_voltage(0.98 * volts, volts, [lamp], resistance=0.05 * volts / 12)
    poor = judge_voltage(0.8 * volts, volts, [lamp], resistance=0.05 * volts / 12)
    assert not sound.suspects and poor.suspects[0] is VoltageSuspect.BAD_EARTH


def test_nothing_that_flows_is_a_reading() -> None:
    found = judge_current(0.0, 12.0, [DIM] * 2)
    assert [one.suspect for one in found.suspects] == [CurrentSuspect.NO_FEED, CurrentSuspect.METER_FUSE]
    assert str(found.said).endswith("write them into the file.") and "0.00 A" in str(found.said)
    fed = judge_current(0.0, 12.0, [DIM] * 2, fed=True)
    assert [one.suspect for one in fed.suspects] == [CurrentSuspect.METER_FUSE, CurrentSuspect.LAMPS_DARK]


def test_what_no_fuse_carries_is_the_meter() -> None:
    """Two lamps of 5 W draw 0.8 A; 850 behind a fuse of 8 A were milliamperes, and no other load."""
    found = judge_current(850.0, 12.0, [DIM] * 2, fuse=8.0)
    assert [(one.suspect, one.size) for one in found.suspects] == [(CurrentSuspect.METER_RANGE, 1000.0)]
    assert "fuse of 8 A" in str(found.said)
    assert judge_current(6.0, 12.0, [DIM] * 2, fuse=8.0).suspects[0].suspect is CurrentSuspect.OTHER_LOADS


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="current_A"):
        judge_current(-1.0, 12.0, [DIM])
    with pytest.raises(InputError, match="lit"):
        judge_current(1.0, 12.0, [])
    with pytest.raises(InputError, match="socket_V"):
        judge_voltage(np.nan, 12.0, [DIM], resistance=0.1)
