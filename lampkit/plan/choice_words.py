"""The choice of parts in plain words: why a filament stays, what a wish costs, what nearly won, what to look for."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from lampkit.circuits.loads import load_current, resistor_load
from lampkit.conversion import Assessment, Claim, Result
from lampkit.numbers import capital, listed, money, rounded_up, share
from lampkit.plan import circuit_needs, suitability
from lampkit.plan.selection import LIGHT_CAP, Solution
from lampkit.plan.suitability import Refusals
from lampkit.uncertainty import sampling
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import CircuitPart

SURE_LEVELS = 8.0
"""Bright over dim claimed lumens of an article to look for [1]. Source: own judgement, five with room for claims."""

CENT = 0.005
"""Half a cent: prices that differ by less are the same [currency]."""


@dataclass(frozen=True)
class Wishes:
    """What was asked of a choice.

    Parameters
    ----------
    aim : str
        'least cost' or 'most light'.
    assurance : float [1]
        Wanted probability.
    colour_share : float [1]
        Wanted share of lenses and emitters with the colour inside its limit.
    stop_over_tail : float [1]
        How many times the tail lamp's light the stop lamp is to give.
    budget : float or None [currency]
        The most that everything may cost.
    currency : str
        Currency of all prices.
    """

    aim: str
    assurance: float
    colour_share: float
    stop_over_tail: float
    budget: float | None
    currency: str


FAMILIES: Mapping[str, Callable[[Wishes], str]] = {
    "budget": lambda w: f"the budget of {money(w.budget or 0.0, w.currency)}",
    "light": lambda w: f"the wish for at least the filament's light with {share(w.assurance)} assurance",
    "colour": lambda w: f"the wish for a colour inside its limit for {share(w.colour_share)} of lenses and emitters",
    "intensity": lambda w: "the published minimum and maximum of the intensity",
    "stop over tail": lambda w: f"the wish for a stop light of {w.stop_over_tail:g} times the tail light",
    "alike": lambda w: "the wish that left and right be alike",
    "flasher": lambda w: "the need to keep the flasher going",
    "tell-tale": lambda w: "the need to keep the single tell-tale going",
    "circuit current": lambda w: "the limit of the current through switch and fuse",
}
"""What each family of requirements is called in a sentence."""

AGAINST: Mapping[str, Callable[[Wishes], str]] = {
    "budget": lambda w: f"not within the budget of {money(w.budget or 0.0, w.currency)}",
    "light": lambda w: "what it would need beside it is too weak to be sure of",
    "colour": lambda w: "what it would need beside it has too uncertain a colour",
    "intensity": lambda w: "what it would need beside it is past a published intensity",
    "stop over tail": lambda w: (
        f"the stop light would then not be {w.stop_over_tail:g} times the tail light with {share(w.assurance)} "
        "assurance"
    ),
    "alike": lambda w: "left and right would then not be alike",
    "flasher": lambda w: "the flasher would then not get the load that it needs, and nothing on offer cures that",
    "tell-tale": lambda w: (
        "the single tell-tale between the sides would then not work, and no pair of diodes is on offer"
    ),
    "circuit current": lambda w: "switch or fuse would then carry more than they may",
}
"""How each family of requirements keeps a filament that could go."""


def kept(lamp: Lamp, refused: Sequence[Refusals], family: str, instead: Sequence[str], wishes: Wishes) -> str:
    """Say why a lamp keeps its filament."""
    stays = "The filament lamp stays"
    if not lamp.candidates:
        return f"{stays}: nothing is on offer for this lamp."
    reasons = [
        f"{offer.name}: {next(iter(against.values()))}"
        for offer, against in zip(lamp.candidates, refused, strict=True)
        if against
    ]
    if len(reasons) == len(lamp.candidates):
        if len(reasons) == 1:
            return f"{stays}: the only light source on offer will not do. {capital(reasons[0])}."
        return f"{stays}: none of the {len(reasons)} light sources on offer will do. {capital('; '.join(reasons))}."
    could = listed([o.name for o, against in zip(lamp.candidates, refused, strict=True) if not against], "or")
    if family:
        return f"{stays}: {could} would do, but {AGAINST[family](wishes)}."
    if instead:
        return f"{stays}: {could} would do, but then {listed(instead)} could not be converted."
    return f"{stays}: {could} would do alone, but not together with the rest."


def fitted(vehicle: Vehicle, best: Solution) -> tuple[str, ...]:
    """Say where each of the other parts goes.

    Source: common practice, no source.
    """
    said = []
    across: dict[tuple[str, CircuitPart], dict[str, int]] = {}
    for (circuit, side, part), number in best.parts.items():
        if part.kind == "ballast resistor":
            across.setdefault((circuit, part), {})[side] = number
        elif part.kind == "pair of diodes":
            said.append(
                f"Circuit '{circuit}': {part.name}, one diode from each side to the tell-tale and its other lead to "
                "earth, so that nothing flows through the lamps of the far side."
            )
        else:
            earth = ", one made for positive earth" if vehicle.earth == "positive" else ""
            said.append(
                f"Circuit '{circuit}': {part.name} in place of the flasher that is fitted{earth}; "
                "LEDs draw too little for the old one."
            )
    for (circuit, part), numbers in across.items():
        heat = vehicle.running_voltage**2 / (part.resistance or np.inf)
        where = listed([f"{number} on the {side}" for side, number in numbers.items()])
        said.append(
            f"Circuit '{circuit}': {part.name} across converted lamps, {where}: {heat:.0f} W each while lit, "
            "screwed to metal, away from plastic and wood."
        )
    return tuple(said)


def binding(family: str, vehicle: Vehicle, wishes: Wishes, best: Solution, other: Solution) -> str:
    """Say what one family of requirements costs, or which lamps it keeps."""
    what = capital(FAMILIES[family](wishes))
    dearer = other.cost - best.cost
    price = ""
    if abs(dearer) > CENT:
        price = f", and all would cost {money(abs(dearer), wishes.currency)} {'more' if dearer > 0 else 'less'}"
    if other.kept < best.kept:
        freed = [
            lamp.name
            for lamp, now, then in zip(vehicle.lamps, best.picks, other.picks, strict=True)
            if now is None and then is not None
        ]
        return f"{what}: without it {listed(freed)} could be converted too{price}."
    if wishes.aim == "most light":
        gain = _average(vehicle, other.light - best.light)
        return (
            ""
            if gain < 1.005
            else f"{what}: without it the lamps would give {_per_cent(gain)} more light on average{price}."
        )
    if dearer < -CENT:
        return f"{what} costs {money(-dearer, wishes.currency)}: without it all would cost that much less."
    return ""


def _average(vehicle: Vehicle, light: float) -> float:
    return float(2.0 ** (light / max(len(vehicle.lamps), 1)))


def _per_cent(ratio: float) -> str:
    return f"{100 * (max(ratio, 1 / ratio) - 1):.0f} %"


def runner_up(vehicle: Vehicle, wishes: Wishes, best: Solution, second: Solution) -> str:
    """Say what nearly won."""
    changes: dict[tuple[str, str], list[str]] = {}
    for lamp, now, then in zip(vehicle.lamps, best.picks, second.picks, strict=True):
        if now != then:
            pair = tuple("the filament lamp" if p is None else lamp.candidates[p].name for p in (now, then))
            changes.setdefault((pair[0], pair[1]), []).append(lamp.name)
    said = listed([f"{then} instead of {now} in {listed(where)}" for (now, then), where in changes.items()])
    dearer = second.cost - best.cost
    price = "at the same price"
    if abs(dearer) > CENT:
        price = f"{money(abs(dearer), wishes.currency)} {'dearer' if dearer > 0 else 'cheaper'}"
    words = f"Nearly won: {said}, {price}"
    if wishes.aim == "most light":
        change = _average(vehicle, second.light - best.light)
        words += (
            ", with the same light"
            if abs(change - 1) < 0.005
            else (f", with {_per_cent(change)} {'more' if change > 1 else 'less'} light on average")
        )
    if second.kept > best.kept:
        more = second.kept - best.kept
        words += f"; but then {more} more {'lamp keeps its filament' if more == 1 else 'lamps keep their filaments'}"
    before, after = ({part.name for _, _, part in s.parts} for s in (best, second))
    if before - after:
        words += f"; {listed(sorted(before - after))} would not be needed"
    if after - before:
        words += f"; {listed(sorted(after - before))} would be needed as well"
    return f"{words}."


def look_for(vehicle: Vehicle, place: int, assessment: Assessment, wishes: Wishes) -> str:
    """Say what to look for where nothing on offer will do.

    Source: claimed lumens from the draws of the candidate with the surest colour; common practice, no source, for the
    layout.
    """
    lamp = vehicle.lamps[place]
    base = suitability.base_of(lamp, vehicle.supply_voltage)
    fittings = [f"base {base}" if base else "the base of the filament lamp"]
    for major, minor in suitability.holders(vehicle.lamps):
        if place in (major, minor):
            other = vehicle.lamps[minor if place == major else major].name
            fittings.append(
                f"two levels ({other} shares the holder), the bright one of {SURE_LEVELS:g} times the dim one's lumens"
            )
    if vehicle.earth == "positive":
        fittings.append("one that lights either way round, for the earth is positive")
    if lamp.function != "tell-tale":
        fittings.append("emitters on all sides, so that the reflector gets its light")
    if not assessment.results:
        return f"Look for: {'; '.join(fittings)}. Put what you find into the file to have it judged."

    def worth(result: Result) -> tuple[float, bool, float]:
        inside = 1.0 if np.isnan(result.share_inside) else result.share_inside
        return (min(inside, wishes.colour_share), result.claim is not Claim.IMPOSSIBLE, -result.lumens_to_buy)

    best = max(assessment.results, key=worth)
    needed = sampling.quantile(
        best.source.luminous_flux / best.draws["ratio"], wishes.assurance, assessment.garage.weights
    )
    kind = "light source" if best.source.kind == "measured spectrum" else best.source.kind
    words = (
        f"Look for: a {kind} of the colour of {best.source.name}; at least "
        f"{rounded_up(float(needed))} lm claimed, which give the filament's light with {share(wishes.assurance)} "
        f"assurance; {'; '.join(fittings)}."
    )
    if not np.isnan(best.share_inside) and best.share_inside < wishes.colour_share:
        words += f" Its colour must lie further inside the limit than that of {best.source.name} ({best.verdict})."
    return words


def notes(
    vehicle: Vehicle,
    assessments: Sequence[Assessment],
    wishes: Wishes,
    best: Solution,
    other_cure: Solution | None,
) -> tuple[str, ...]:
    """Say what else to know before buying."""
    said: list[str] = []
    if other_cure is not None and other_cure.picks == best.picks:
        said.append(_two_cures(best, other_cure, wishes.currency))
    if wishes.aim == "most light":
        said.append(f"Light beyond {LIGHT_CAP:g} times the filament's was not counted: it begins to dazzle.")
    doubted: dict[str, str] = {}
    no_base, no_watts = [], []
    for lamp, found, pick in zip(vehicle.lamps, assessments, best.picks, strict=True):
        if pick is None:
            continue
        offer, result = lamp.candidates[pick], found.results[pick]
        if result.claim is Claim.NOT_BELIEVABLE:
            doubted[offer.name] = str(result.claim_statement)
        if not offer.base:
            no_base.append(offer.name)
        if not offer.source.electrical_power:
            no_watts.append(offer.name)
    said += [f"{name}: {claim}" for name, claim in doubted.items()]
    if no_base:
        said.append(f"No base is given for {listed(no_base)}: compare it with the filament lamp before you buy.")
    if no_watts:
        said.append(
            f"No watts are given for {listed(no_watts)}: nothing was counted for the flasher, and the filament's "
            "current for switch and fuse."
        )
    for circuit in vehicle.circuits:
        said += _circuit_notes(vehicle, circuit.name)
    return tuple(said)


def _two_cures(best: Solution, other: Solution, currency: str) -> str:
    dearer = other.cost - best.cost
    price = "at the same price"
    if abs(dearer) > CENT:
        price = f"{money(abs(dearer), currency)} {'dearer' if dearer > 0 else 'cheaper'}"
    timers = listed([part.name for _, _, part in other.parts if part.kind == "load-independent flasher"])
    if timers:
        return (
            f"{timers} instead of ballast resistors is {price}, and the better cure: nothing runs hot and the wiring "
            "stays unloaded."
        )
    ballasts = [(part, number) for (_, _, part), number in other.parts.items() if part.kind == "ballast resistor"]
    names = listed([part.name for part, _ in ballasts])
    return (
        f"Ballast resistors ({names}, {sum(number for _, number in ballasts)} in all) instead of the load-independent "
        f"flasher are {price}, and the worse cure: they run hot."
    )


def _circuit_notes(vehicle: Vehicle, name: str) -> list[str]:
    circuit = next(c for c in vehicle.circuits if c.name == name)
    here = [lamp for lamp in vehicle.lamps if lamp.circuit is circuit]
    voltage, said = vehicle.running_voltage, []
    unit = circuit_needs.fitted_flasher(circuit, here, vehicle.supply_voltage) if here else None
    sides = {side: circuit_needs.lamps_of_side(here, side) for side in circuit_needs.SIDES}
    if unit is not None:
        poor = [
            s
            for s, lamps in sides.items()
            if lamps and not circuit_needs.need_of_flasher(unit, lamps, voltage).met_before
        ]
        if poor:
            said.append(
                f"Circuit '{name}': the filament lamps of the {listed(poor)} side do not make the flasher flash 60 to "
                "120 times a minute as it is; check the load that is printed on it."
            )
    most, which = circuit_needs.limit_of_current(circuit)
    groups = list(sides.values()) if circuit.flasher else [here]
    before = max(
        (sum(circuit_needs.current_of(lamp, None, voltage) for lamp in group) for group in groups), default=0.0
    )
    if before > most:
        said.append(
            f"Circuit '{name}': its filament lamps draw {before:.1f} A, more than the {most:.1f} A that its {which} "
            "should carry for long."
        )
    for part in vehicle.parts:
        if circuit.flasher and part.kind == "ballast resistor" and part.resistance and part.power:
            heat = float(load_current(resistor_load(part.resistance), voltage)) * voltage
            if heat > part.power:
                said.append(
                    f"{part.name} would turn {heat:.0f} W into heat while lit and is rated for {part.power:g} W: "
                    "it was not considered."
                )
    return said
