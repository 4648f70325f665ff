"""Re-rating the shunt of a flasher that watches its lamps, so that a dead LED still shows."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from lampkit.circuits.flashers import Flasher, FlasherKind, least_current
from lampkit.circuits.loads import Load, total_current
from lampkit.errors import InputError

SUPPLY_SPAN = 0.9, 1.1
"""Voltage, over that with the engine running, between which a flasher must tell a dead lamp [1]. Source: an
assumption: a resting battery and the limit of the regulator."""


class ShuntRerating(NamedTuple):
    """A shunt re-rated for LEDs.

    `threshold_before` and `threshold_after` are the currents below which the flasher calls a lamp dead [A], `sound` the
    least that the sound lamps draw, `failed` the most that is left when one is dead [A]; `factor` is the new resistance
    over the old one.
    """

    threshold_before: float
    threshold_after: float
    sound: float
    failed: float
    factor: float

    @property
    def tells(self) -> bool:
        """Whether one threshold parts sound lamps from a dead one over the whole span of the supply."""
        return self.sound > self.failed


def rerate_shunt(unit: Flasher, lamps: Sequence[Load], watched: Sequence[Load], supply_voltage: float) -> ShuntRerating:
    """Work out the shunt with which a flasher made for filaments sees a dead LED among the watched ones.

    Source: the flasher acts at one voltage across its shunt, so that resistance and threshold are in inverse ratio;
    the threshold is put half-way, as a ratio, between sound and failed.
    """
    if unit.kind is not FlasherKind.ELECTRONIC:
        raise InputError(f"a {unit.kind.value} flasher watches no lamp by a shunt", key="unit", expected="'electronic'")
    if not watched:
        raise InputError("no lamp is watched", key="watched", expected="at least one of the lamps")
    low, high = (share * supply_voltage for share in SUPPLY_SPAN)
    sound = float(total_current(lamps, low))
    failed = float(total_current(lamps, high)) - min(float(total_current([one], high)) for one in watched)
    before = float(least_current(unit, supply_voltage))
    after = float(np.sqrt(sound * failed)) if failed > 0 else 0.5 * sound
    return ShuntRerating(before, after, sound, failed, before / after)
