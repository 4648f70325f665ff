"""Why a choice of parts is as it is: why a filament stays, what a wish costs, and what nearly won."""

from collections.abc import Sequence

from lampkit.plan.selection import Solution
from lampkit.plan.wishes import AGAINST, WISHED, Family, Refusals, Wishes
from lampkit.statements import Statement, say
from lampkit.vehicle.vehicle import Lamp, Vehicle

CENT = 0.005
"""Half a cent: prices that differ by less are the same [currency]."""

SAME_LIGHT = 0.005
"""Change of the light on average below which it is the same [1]."""


def kept(
    lamp: Lamp, refused: Sequence[Refusals], family: Family | None, instead: Sequence[str], wishes: Wishes
) -> Statement:
    """Say why a lamp keeps its filament."""
    if not lamp.candidates:
        return say("kept.nothing")
    reasons = [
        say("kept.reason", name=offer.name, reason=next(iter(against.values())))
        for offer, against in zip(lamp.candidates, refused, strict=True)
        if against
    ]
    if len(reasons) == len(lamp.candidates):
        return say("kept.none_will_do", reasons=reasons)
    could = [offer.name for offer, against in zip(lamp.candidates, refused, strict=True) if not against]
    if family is not None:
        return say("kept.family", could=could, against=AGAINST[family](wishes))
    if instead:
        return say("kept.instead", could=could, instead=list(instead))
    return say("kept.together", could=could)


def dearer(other: Solution, best: Solution) -> float:
    """Give how much more another solution costs; zero for less than a cent."""
    difference = other.cost - best.cost
    return difference if abs(difference) > CENT else 0.0


def binding(family: Family, vehicle: Vehicle, wishes: Wishes, best: Solution, other: Solution) -> Statement | None:
    """Say what one family of requirements costs, or which lamps it keeps; None for one that changes nothing."""
    wish, difference = WISHED[family](wishes), dearer(other, best)
    if other.kept < best.kept:
        freed = [
            lamp.name
            for lamp, now, then in zip(vehicle.lamps, best.picks, other.picks, strict=True)
            if now is None and then is not None
        ]
        return say("binding.keeps", wish=wish, lamps=freed, difference=difference, currency=wishes.currency)
    if wishes.aim == "most light":
        gain = _average(vehicle, other.light - best.light)
        if gain - 1 < SAME_LIGHT:
            return None
        return say("binding.dims", wish=wish, gain=gain - 1, difference=difference, currency=wishes.currency)
    if difference < 0:
        return say("binding.costs", wish=wish, price=-difference, currency=wishes.currency)
    return None


def _average(vehicle: Vehicle, light: float) -> float:
    return float(2.0 ** (light / max(len(vehicle.lamps), 1)))


def runner_up(vehicle: Vehicle, wishes: Wishes, best: Solution, second: Solution) -> Statement:
    """Say what nearly won."""
    changes: dict[tuple[str | None, str | None], list[str]] = {}
    for lamp, now, then in zip(vehicle.lamps, best.picks, second.picks, strict=True):
        if now != then:
            pair = tuple(None if pick is None else lamp.candidates[pick].name for pick in (now, then))
            changes.setdefault((pair[0], pair[1]), []).append(lamp.name)
    change = _average(vehicle, second.light - best.light)
    before, after = ({part.name for _, _, part in solution.parts} for solution in (best, second))
    return say(
        "runner_up.nearly",
        changes=[say("runner_up.change", now=now, then=then, lamps=lamps) for (now, then), lamps in changes.items()],
        difference=dearer(second, best),
        currency=wishes.currency,
        light=_light(change) if wishes.aim == "most light" else None,
        kept=max(second.kept - best.kept, 0),
        spared=sorted(before - after),
        needed=sorted(after - before),
    )


def _light(change: float) -> Statement:
    if abs(change - 1) < SAME_LIGHT:
        return say("runner_up.same_light")
    if change > 1:
        return say("runner_up.more_light", change=change - 1)
    return say("runner_up.less_light", change=1 / change - 1)
