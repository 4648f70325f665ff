"""A measured current beside what the lamps should draw, and what may be behind the difference."""

from collections.abc import Sequence
from enum import Enum
from typing import NamedTuple

import numpy as np

from lampkit.circuits.loads import Load, positive, total_current
from lampkit.statements import Statement, named, say

TOLERANCE = 0.12
"""Share by which lamps and a meter together may differ from the expected current [1]. Source: an assumption: watts of
filament lamps are good to 6 to 10 %, an ammeter to a few per cent."""


class CurrentSuspect(Enum):
    """What may be behind a current that is not as expected."""

    BRIGHT_FILAMENTS = "bright_filaments"
    OTHER_LOADS = "other_loads"
    WRONG_LAMPS = "wrong_lamps"
    LAMP_DEAD = "lamp_dead"
    BAD_EARTH = "bad_earth"
    METER_RANGE = "meter_range"


class MeasuredCurrent(NamedTuple):
    """A current as measured and as expected [A], with suspects, the most likely first, where it is not as expected."""

    circuit: str
    measured: float
    expected: float
    suspects: tuple[CurrentSuspect, ...]

    @property
    def said(self) -> Statement:
        """What was read, what was expected, and what to suspect, in sentences."""
        names = [named(one) for one in self.suspects]
        given = {"measured": self.measured, "expected": self.expected}
        return (
            say("measured_current.differs", names=names, **given) if names else say("measured_current.agrees", **given)
        )


def judge_current(
    circuit: str, measured: float, supply_voltage: float, lit: Sequence[Load], bright: Sequence[Load] = ()
) -> MeasuredCurrent:
    """Hold a measured current against what the lamps that were lit should draw, and rank what explains the difference.

    Source: Kirchhoff's laws with the laws of `loads`; the ranking is own reasoning.
    """
    read = float(positive(measured, "measured_current_A", "A"))
    expected = float(total_current(lit, supply_voltage))
    if abs(read / expected - 1.0) <= TOLERANCE:
        return MeasuredCurrent(circuit, read, expected, ())
    # How far each suspect, in its best size, stays from the reading, over the reading; what is rarer counts further.
    far: dict[CurrentSuspect, float] = {}
    if read > expected:
        if bright:
            each = float(total_current(bright, supply_voltage)) / len(bright)
            own = expected / len(lit)
            # The bright filament beside the dim one, or in its place, in any number of the lamps.
            totals = [expected + n * extra for extra in (each, each - own) for n in range(1, len(bright) + 1)]
            far[CurrentSuspect.BRIGHT_FILAMENTS] = min(abs(total - read) for total in totals) / read
        far[CurrentSuspect.OTHER_LOADS] = 0.06
        far[CurrentSuspect.WRONG_LAMPS] = 0.09 if read < 6.0 * expected else 1.0
    else:
        missing = [abs(expected * (1 - n / len(lit)) - read) for n in range(1, len(lit))]
        far[CurrentSuspect.LAMP_DEAD] = min(missing, default=np.inf) / read
        far[CurrentSuspect.BAD_EARTH] = 0.06
        far[CurrentSuspect.WRONG_LAMPS] = 0.12
    decades = abs(np.log10(read / expected))
    far[CurrentSuspect.METER_RANGE] = 0.0 if decades > 0.85 else 0.5
    return MeasuredCurrent(circuit, read, expected, tuple(sorted(far, key=lambda one: far[one])))
