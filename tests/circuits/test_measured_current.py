"""A measured current on made-up circuits of which it is known what is wrong."""

import pytest

from lampkit.circuits import measured_current
from lampkit.circuits.loads import filament_load, led_load
from lampkit.circuits.measured_current import CurrentSuspect
from lampkit.errors import InputError

DIM, BRIGHT, LED = filament_load(5.0, 13.5), filament_load(25.0, 13.5), led_load(1.0, 13.5)


def drawn(watts: float, volts: float, rated: float = 13.5) -> float:
    return watts / rated * (volts / rated) ** 0.55


@pytest.mark.parametrize(
    ("amperes", "suspect"),
    [
        (4 * drawn(5, 12) + 2 * drawn(25, 12), CurrentSuspect.BRIGHT_FILAMENTS),
        (4 * drawn(25, 12), CurrentSuspect.BRIGHT_FILAMENTS),
        (4 * drawn(5, 12) + 0.9, CurrentSuspect.OTHER_LOADS),
        (4 * drawn(10, 12), CurrentSuspect.WRONG_LAMPS),
        (3 * drawn(5, 12), CurrentSuspect.LAMP_DEAD),
        (0.6 * 4 * drawn(5, 12), CurrentSuspect.BAD_EARTH),
        (0.1 * 4 * drawn(5, 12), CurrentSuspect.METER_RANGE),
    ],
)
def test_the_true_reason_is_among_the_first_two(amperes: float, suspect: CurrentSuspect) -> None:
    found = measured_current.judge_current("side lamps", amperes, 12.0, [DIM] * 4, [BRIGHT] * 4)
    assert found.expected == pytest.approx(4 * drawn(5, 12))
    assert suspect in found.suspects[:3] and found.suspects.index(suspect) <= (
        2 if suspect.name == "WRONG_LAMPS" else 1
    )
    assert found.said.key == "measured_current.differs"


def test_what_is_as_expected_has_no_suspects() -> None:
    found = measured_current.judge_current("side lamps", 1.05 * 4 * drawn(5, 12), 12.0, [DIM] * 4)
    assert not found.suspects and found.said.key == "measured_current.agrees"


def test_without_double_filaments_none_is_suspected() -> None:
    found = measured_current.judge_current("side lamps", 3.0, 12.0, [DIM] * 4)
    assert CurrentSuspect.BRIGHT_FILAMENTS not in found.suspects


def test_a_current_that_cannot_be_is_refused() -> None:
    with pytest.raises(InputError, match="measured_current_A"):
        measured_current.judge_current("side lamps", -1.0, 12.0, [DIM])
