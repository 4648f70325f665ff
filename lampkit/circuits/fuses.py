"""The fuse of a circuit protects its wire: how large it may be, what flows now, and what is right and stays."""

from enum import Enum
from typing import NamedTuple

import numpy as np

from lampkit import tables
from lampkit.circuits.tasks import Caution
from lampkit.circuits.wiring import current_ratings
from lampkit.statements import Statement, say

FUSE_FACTOR = 1.25
"""The least rating of a fuse over the current that flows all the time [1]. Source: common practice, no source."""

SMALLEST = 3.0
"""Smallest fuse that is ever advised [A]. Source: common practice, no source: smaller ones blow of inrush."""

BLOWING_OVER_CONTINUOUS = 2.0
"""Current that blows a glass fuse over what it carries for good [1]. Source: trade lists, from memory."""


RUSH_TIME = 1.0
"""What filament lamps put through a fuse at switching on [A2s], over the square of the current that they then draw [s].
Source: the hot-wire model of `sources.warming`, 0.5 s for 4 W to 1.1 s for 21 W at 6 V."""

PULSE_SHARE = 1 / 3
"""Share of its melting integral that a fuse bears at every switching on without tiring [1]. Source: common practice, no
source."""


class FuseMark(Enum):
    """What the number on a fuse means, by the name that the vehicle file uses."""

    BLADE = "blade"
    CONTINUOUS = "glass, continuous current"
    BLOWING = "glass, blowing current"
    NONE = "none"
    UNKNOWN = "unknown"


class FuseVerdict(Enum):
    """What is to be said of the fuse of a circuit."""

    NOT_TOLD = "not_told"
    NONE_FITTED = "none_fitted"
    DOES_NOT_PROTECT = "does_not_protect"
    ASK_HOW_MARKED = "ask_how_marked"
    TOO_SMALL = "too_small"
    TIRES = "tires"
    WIRE_TOO_THIN = "wire_too_thin"
    LEAVE = "leave"


class FuseState(NamedTuple):
    """The fuse of a circuit, beside the wire that it must protect and the loads that it must carry.

    `carries` is what the fitted fuse carries for good, from low to high where its mark may mean two things [A]; `now`
    and `filaments` are what flows with the new and with the old lamps, all lit that can be lit together [A]; `rush` is
    what the old lamps draw at the first instant [A], and `pulse` what that puts through the fuse [A2s]; `least` is the
    smallest fuse that carries the old lamps too, infinite where none does, `careful` and `most` the largest for the
    wire [A].
    """

    verdict: FuseVerdict
    fitted: float | None
    mark: FuseMark
    carries: tuple[float, float]
    now: float
    filaments: float
    rush: tuple[float, float]
    pulse: float
    size: str
    wire_known: bool
    careful: float
    most: float
    least: float
    also_feeds: tuple[str, ...] | None

    @property
    def said(self) -> Statement:
        """What the wire bears, what flows, and what to do, in sentences."""
        low, high = self.careful, self.most
        if self.wire_known:
            wire = say("fuse.wire", size=self.size, careful=low, most=high)
        else:
            wire = say("fuse.wire_assumed", size=self.size, careful=low, most=high)
        rush = self.rush[1] if self.rush[1] > 2 * self.filaments else None
        load = say("fuse.load", now=self.now, filaments=self.filaments, rush=rush)
        return say("fuse.judged", wire=wire, load=load, verdict=self.judged, others=self.others)

    @property
    def judged(self) -> Statement:
        """What to do with what is fitted, in a sentence."""
        fitted, alone, least = self.fitted, self.also_feeds == (), self.least if np.isfinite(self.least) else None
        if self.verdict is FuseVerdict.NOT_TOLD:
            return say("fuse.not_told")
        if self.verdict is FuseVerdict.NONE_FITTED:
            too_thin = self.wire_known and self.least > self.most
            return say(
                "fuse.none_fitted", least=least, most=self.most, alone=alone, known=self.wire_known, too_thin=too_thin
            )
        if self.verdict is FuseVerdict.DOES_NOT_PROTECT:
            return say("fuse.does_not_protect", fitted=fitted, carries=self.carries[0], most=self.most, alone=alone)
        if self.verdict is FuseVerdict.ASK_HOW_MARKED:
            return say("fuse.ask_how_marked", fitted=fitted, half=self.carries[0])
        if self.verdict is FuseVerdict.TOO_SMALL:
            return say("fuse.too_small", fitted=fitted, filaments=self.filaments, least=least)
        if self.verdict is FuseVerdict.TIRES:
            return say("fuse.tires", fitted=fitted, pulse=self.pulse, least=least)
        if self.verdict is FuseVerdict.WIRE_TOO_THIN:
            return say("fuse.wire_too_thin", least=least)
        return say("fuse.leave", fitted=fitted, known=self.wire_known)

    @property
    def others(self) -> Statement | None:
        """What else hangs on it, in a sentence; None where nothing does."""
        if self.also_feeds is None:
            return say("fuse.others_on_top" if self.verdict is FuseVerdict.NONE_FITTED else "fuse.others_unknown")
        return say("fuse.others", others=self.also_feeds) if self.also_feeds else None

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """The cautions that belong beside this fuse."""
        found = [Caution.FUSE_SIZE, Caution.SPARE_FILAMENTS]
        if self.mark is FuseMark.NONE:
            found.append(Caution.NO_FUSE)
        if self.mark in (FuseMark.BLOWING, FuseMark.CONTINUOUS, FuseMark.UNKNOWN):
            found.append(Caution.GLASS_FUSE)
        return tuple(found)


def melting_integrals() -> dict[float, float]:
    """List what melts each size of blade fuse [A2s].

    Source: data/circuit/fuses.csv, from memory.
    """
    table = tables.load("circuit", "fuses")
    return dict(zip(table["rating_A"].tolist(), table["melting_A2s"].tolist(), strict=True))


def judge_fuse(
    now: float,
    size: str,
    fitted: float | None = None,
    *,
    filaments: float | None = None,
    mark: FuseMark = FuseMark.UNKNOWN,
    wire_known: bool = True,
    also_feeds: tuple[str, ...] | None = None,
    rush: tuple[float, float] = (0.0, 0.0),
    switched: float = 0.0,
) -> FuseState:
    """Judge the fuse of a circuit by the wire that it must protect; `switched` is what cold filaments lit at once take.

    Source: 1.25 times the current, next size up, large enough for the rush of filament lamps, never above the wire,
    never below 3 A: common practice, no source; melting integrals of data/circuit/fuses.csv.
    """
    before = now if filaments is None else filaments
    lowest, highest = (float(i) for i in current_ratings(size))
    careful, most = (max(rating for rating in melting_integrals() if rating <= i) for i in (lowest, highest))
    needed = max(FUSE_FACTOR * max(now, before), SMALLEST)
    pulse = RUSH_TIME * switched**2
    bears = {size: PULSE_SHARE * melting for size, melting in melting_integrals().items()}
    least = float(min((size for size in bears if size >= needed and bears[size] >= pulse), default=np.inf))
    carries = (np.nan, np.nan)
    if fitted is not None:
        half = fitted / BLOWING_OVER_CONTINUOUS
        low = half if mark in (FuseMark.BLOWING, FuseMark.UNKNOWN) else fitted
        carries = (low, half if mark is FuseMark.BLOWING else fitted)
    # What is assumed of the wire is no ground to call a fuse wrong.
    if fitted is None:
        verdict = FuseVerdict.NONE_FITTED if mark is FuseMark.NONE else FuseVerdict.NOT_TOLD
    elif wire_known and carries[0] > highest:
        verdict = FuseVerdict.DOES_NOT_PROTECT
    elif wire_known and carries[1] > highest:
        verdict = FuseVerdict.ASK_HOW_MARKED
    elif carries[1] < max(now, before):
        verdict = FuseVerdict.TOO_SMALL
    elif mark is FuseMark.BLADE and least <= highest and bears.get(fitted, np.inf) < pulse:
        verdict = FuseVerdict.TIRES
    elif wire_known and FUSE_FACTOR * max(now, before) > highest:
        verdict = FuseVerdict.WIRE_TOO_THIN
    else:
        verdict = FuseVerdict.LEAVE
    return FuseState(
        verdict, fitted, mark, carries, now, before, rush, pulse, size, wire_known, careful, most, least,
        also_feeds,
    )  # fmt: skip
