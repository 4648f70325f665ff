"""How much of a ratio the colour response of the meter may have made up, and how far to trust it then."""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike

from lampkit.statements import Statement, say


class Trust(Enum):
    """How far a ratio may be trusted, as the meter's colour response goes."""

    MATTERS_LITTLE = "matters_little"
    MAY_HAVE_SHIFTED = "may_have_shifted"
    NOT_AS_READ = "not_as_read"


LITTLE_SHIFT, MUCH_SHIFT, MUCH_LEAK = 0.08, 0.25, 0.05
"""Half-width of the interval of the mismatch correction, in its logarithm, up to which it matters little, and up to
which it can be lived with; share of a leak from which it is told of [1]. Source: an assumption."""


@dataclass(frozen=True)
class ColourResponse:
    """How much of a ratio the meter's colour response may have made up."""

    trust: Trust
    shift: float
    leak_share: float

    @property
    def advice(self) -> Statement:
        """How far to trust the ratio, and what to do."""
        leak = say("meter.leak", share=self.leak_share) if self.leak_share > MUCH_LEAK else ""
        if self.trust is Trust.MATTERS_LITTLE:
            return say("meter.matters_little", shift=self.shift, leak=leak)
        if self.trust is Trust.MAY_HAVE_SHIFTED:
            return say("meter.may_have_shifted", shift=self.shift, leak=leak)
        return say("meter.not_as_read", shift=self.shift, leak=leak)


def judge(log_mismatch: ArrayLike, *, leak_share: float = 0.0) -> ColourResponse:
    """Judge how much of a ratio the meter's colour response may have made up.

    Source: common practice, no source; the limits of 8 % and 25 % are an assumption.
    """
    low, high = np.quantile(np.asarray(log_mismatch, dtype=float), [0.025, 0.975])
    half = float(0.5 * (high - low))
    trust = Trust.NOT_AS_READ if half > MUCH_SHIFT else Trust.MAY_HAVE_SHIFTED
    return ColourResponse(Trust.MATTERS_LITTLE if half <= LITTLE_SHIFT else trust, float(np.expm1(half)), leak_share)
