"""The choice of parts: held against trying everything, and its reasons on cases that a person can follow."""

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from lampkit import tables
from lampkit.circuits import flashers, loads, tell_tale
from lampkit.conversion.assessment import Assessment, Result
from lampkit.errors import InputError
from lampkit.lenses import coloured_lens
from lampkit.plan import choice, decisions, plan, selection, socket_voltages
from lampkit.plan.choice import Choice
from lampkit.plan.decisions import PART_TRIFLE, Solution
from lampkit.plan.selection import LIGHT_CAP
from lampkit.plan.suitability import Family
from lampkit.sources import filament_lamps, leds, light_source
from lampkit.sources.light_source import Claim
from lampkit.statements import say
from lampkit.uncertainty.sampling import Draws
from lampkit.vehicle import sharing, vehicle
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Circuit, CircuitPart, Offer

DRAWS = 400
VOLTS = 13.5
DIODES = CircuitPart("diodes", "pair of diodes", 1.1)
TIMER = CircuitPart("timer", "load-independent flasher", 9.3)
ASKED = (
    Family.LIGHT,
    Family.COLOUR,
    Family.STOP_OVER_TAIL,
    Family.ALIKE,
    Family.FLASHER,
    Family.TELL_TALE,
    Family.CIRCUIT_CURRENT,
    Family.BUDGET,
)
BALLAST = CircuitPart("ballast", "ballast resistor", 2.4, resistance=5.6, power=50.0)
WAY = 6 * 0.0195 + 0.05 + 0.05  # what is assumed of a circuit: 6 m of 1 mm2 by IEC 60228, contacts and earth [ohm]


def caps(vehicle: Vehicle) -> list[float]:
    """What light counts for: of a tail lamp beside its stop lamp, and of a tell-tale, no more than the filament's."""
    beside = {b for _, b, _ in sharing.outshining(vehicle.lamps, vehicle.held_to.name)}
    plain = [place in beside or one.function == "tell-tale" for place, one in enumerate(vehicle.lamps)]
    return [1.0 if one else LIGHT_CAP for one in plain]


def counted(ratio: float, cap: float) -> float:
    return float(np.log2(min(ratio, cap)))


@cache
def led(name: str, lumens: float = 100.0, watts: float | None = 2.0) -> light_source.LightSource:
    made = leds.white_led(4000, luminous_flux=lumens, electrical_power=watts, name=name)
    return replace(made, voltage=VOLTS)


@cache
def filament(designation: str, part: str | None = None) -> light_source.LightSource:
    return filament_lamps.filament(designation, VOLTS, part=part, rated_voltage=12)


@cache
def lens() -> coloured_lens.Lens:
    return coloured_lens.load("red")


def offer(name: str, price: float | None = 5.0, watts: float | None = 2.0, **more: object) -> Offer:
    return Offer(led(name, watts=watts), price=price, **{"either_polarity": True, **more})  # type: ignore[arg-type]


def lamp(name: str, function: str = "tail", candidates: Sequence[Offer] = (), **more: object) -> Lamp:
    given = {"filament": filament("P21W"), "lens": lens(), "road_rule": False, **more}
    return Lamp(name=name, function=function, candidates=tuple(candidates), **given)  # type: ignore[arg-type]


def assessed(
    one: Lamp, ratios: Sequence[float], spread: float = 0.1, shares: Sequence[float] = (), base: float = 100.0
) -> Assessment:
    """An assessment with light of our own making: the ratio of each candidate has a known median and spread."""
    steps = np.linspace(-2, 2, DRAWS)
    garage = Draws(values={}, weights=np.full(DRAWS, 1 / DRAWS), beliefs={}, seed=1)

    def result(source: light_source.LightSource, ratio: float, share: float, width: float) -> Result:
        draws = ratio * np.exp(width * steps)
        three = np.array([draws.min(), ratio, draws.max()])
        return Result(
            source=source,
            luminous_transmittance=three,
            flux_through=three,
            k=three,
            ratio=three,
            probability=float(np.mean(draws >= 1)),
            chance=float(np.mean(draws >= 1)),
            lumens_to_buy=100.0,
            chromaticity=np.array([0.7, 0.3]),
            colour=None,
            share_inside=share,
            why=say("why.clear"),
            claim=Claim.UNCHECKED,
            claim_statement=None,
            spectrum_before=source.spectrum,
            spectrum_through=source.spectrum,
            draws={"ratio": draws, "flux": base * draws, "box": np.full(DRAWS, source.luminous_flux)},
        )

    shares = shares or [float("nan")] * len(ratios)
    results = [result(o.source, r, s, spread) for o, r, s in zip(one.candidates, ratios, shares, strict=True)]
    old = result(one.filament, 1.0, float("nan"), 0.0)
    return Assessment(one.name, one.lens, None, None, None, old, tuple(results), garage)


def van(lamps: Sequence[Lamp], parts: Sequence[CircuitPart] = (), **more: object) -> Vehicle:
    offers = {o.name: o for one in lamps for o in one.candidates}
    circuits = {one.circuit.name: one.circuit for one in lamps if one.circuit is not None}
    given = {"supply_voltage": 12.0, "running_voltage": VOLTS, "file": Path("vehicle.toml"), "currency": "EUR", **more}
    return Vehicle(
        name="test van",
        lamps=tuple(lamps),
        offers=tuple(offers.values()),
        circuits=tuple(circuits.values()),
        parts=tuple(parts),
        **given,  # type: ignore[arg-type]
    )


def names(made: Choice) -> list[str | None]:
    return [None if o is None else o.name for o in made.chosen.values()]


# --- trying everything --------------------------------------------------------------------------------------------


class Way(NamedTuple):
    """One way to fit out a vehicle, whatever is asked: what is left and paid, and which families it breaks."""

    picks: tuple[int | None, ...]
    cost: float
    light: float
    weighed: float  # cost, with what is assumed for unknown prices and what a part counts besides its own
    broken: frozenset[Family]

    def order(self, aim: str) -> tuple[float, float, float]:
        aims = (self.weighed, -self.light) if aim == "least cost" else (-self.light, self.weighed)
        return (self.picks.count(None), *aims)


def everything(
    car: Vehicle, found: Sequence[Assessment], budget: float | None, circuit: Circuit | None
) -> Iterator[Way]:
    """Every way that can be fitted at all."""
    lamps = car.lamps
    by_name = {o.name: o for o in car.offers}
    cap = caps(car)
    dearest = max((o.price for o in car.offers if o.price is not None), default=0.0)

    @cache
    def load(i: int, pick: int | None) -> loads.Load:
        if pick is None:
            return loads.filament_load(lamps[i].filament.electrical_power, VOLTS)
        o = lamps[i].candidates[pick]
        return loads.led_load(o.source.electrical_power, VOLTS, bridge=o.either_polarity)

    @cache
    def outshines(i: int, j: int, pick: int | None, other: int | None) -> bool:
        bright, dim = (
            (f.old if p is None else f.results[p]).draws["flux"] for f, p in ((found[i], pick), (found[j], other))
        )
        return float(np.mean(bright >= 5 * dim)) >= 0.9

    @cache
    def flashes(side: tuple[tuple[int, int | None], ...], ballasts: int) -> bool:
        there = [load(*pair) for pair in side] + [ballast] * ballasts
        unit = flashers.flasher(circuit.flasher, pairs=circuit.flasher_rated_load / 42)
        rate = float(flashers.flash(unit, there, VOLTS, resistance=WAY).rate)
        return 60 <= rate <= 120 or all(pick is None for _, pick in side)

    @cache
    def tell_tale_works(side: tuple[tuple[int, int | None], ...], ballasts: int, own: tuple[int, int | None]) -> bool:
        if all(pick is None for _, pick in side):
            return True
        there = [load(*pair) for pair in side] + [ballast] * ballasts
        return float(tell_tale.feedback(VOLTS, load(*own), there).far_voltage) <= 0.1 * VOLTS * (1 + 1e-9)

    @cache
    def bears(side: tuple[tuple[int, int | None], ...], ballasts: int, own: tuple[tuple[int, int | None], ...]) -> bool:
        drawn = sum(float(loads.load_current(load(*pair), VOLTS)) for pair in side + own)
        drawn += ballasts * float(loads.load_current(ballast, VOLTS))
        before = sum(float(loads.load_current(load(i, None), VOLTS)) for i, _ in side + own)
        return drawn <= max(circuit.switch_rating, before) * (1 + 1e-9)

    turning = [i for i, one in enumerate(lamps) if one.circuit is circuit is not None and one.function != "tell-tale"]
    own = next((i for i, one in enumerate(lamps) if one.circuit is circuit and one.function == "tell-tale"), None)
    kinds = {part.kind: part for part in car.parts} if circuit is not None else {}
    ballast = loads.resistor_load(kinds.get("ballast resistor", BALLAST).resistance)
    most = {
        "load-independent flasher": (0, 1) if "load-independent flasher" in kinds else (0,),
        "pair of diodes": (0, 1) if "pair of diodes" in kinds else (0,),
        "ballast resistor": range(len(turning) // 2 + 1) if "ballast resistor" in kinds else (0,),
    }
    for picks in itertools.product(*[[None, *range(len(one.candidates))] for one in lamps]):
        cost, assumed, light, fits, broken = 0.0, 0.0, 0.0, True, set()
        for i, (one, pick) in enumerate(zip(lamps, picks, strict=True)):
            if pick is None:
                continue
            o, r = one.candidates[pick], found[i].results[pick]
            broken |= {Family.LIGHT} if r.probability < 0.9 else set()
            broken |= {Family.COLOUR} if r.share_inside < 0.9 else set()
            price = by_name[o.dim_level_of].price if o.dim_level_of else o.price
            if not (o.dim_level_of and one.holder):
                # A price that is not known counts as the dearest in the choice, and as nothing in the total.
                cost += one.quantity * (price or 0)
                assumed += one.quantity * dearest if price is None else 0.0
            light += counted(float(r.ratio[1]), cap[i])
        for i, j in itertools.combinations(range(len(lamps)), 2):
            a, b = lamps[i], lamps[j]
            one, two = (None if p is None else x.candidates[p].name for x, p in ((a, picks[i]), (b, picks[j])))
            if a.function == b.function and a.position != b.position and a.position[:4] == b.position[:4]:
                broken |= {Family.ALIKE} if one != two else set()
            if a.holder and a.holder == b.holder:
                fits &= (one is None) == (two is None)
                fits &= two is None or by_name[two].dim_level_of == one
            if (a.function, b.function) == ("stop", "tail") and a.position == b.position and (one or two):
                broken |= set() if outshines(i, j, picks[i], picks[j]) else {Family.STOP_OVER_TAIL}
        if not fits:
            continue
        sides = [tuple((i, picks[i]) for i in turning if side in lamps[i].position) for side in ("left", "right")]
        on_dash = () if own is None else ((own, picks[own]),)
        one_way = own is not None and picks[own] is not None and not lamps[own].candidates[picks[own]].either_polarity
        for timer, diodes, *ballasts in itertools.product(
            most["load-independent flasher"], most["pair of diodes"], *[most["ballast resistor"]] * 2
        ):
            bought = dict(zip(most, (timer, diodes, sum(ballasts)), strict=True))
            total = cost + sum(number * kinds[kind].price for kind, number in bought.items() if number)
            wrong = broken | ({Family.BUDGET} if budget is not None and total > budget + 1e-9 else set())
            if circuit is not None:
                if any(n > sum(pick is not None for _, pick in side) for side, n in zip(sides, ballasts, strict=True)):
                    continue
                for side, n in zip(sides, ballasts, strict=True):
                    wrong |= set() if timer or flashes(side, n) else {Family.FLASHER}
                    wrong |= set() if bears(side, n, on_dash) else {Family.CIRCUIT_CURRENT}
                    if not diodes and on_dash and (one_way or not tell_tale_works(side, n, *on_dash)):
                        wrong |= {Family.TELL_TALE}
            weighed = total + assumed + PART_TRIFLE * sum(bought.values())
            yield Way(picks, round(total, 6), round(light, 6), round(weighed, 6), frozenset(wrong))


def random_ratios(rng: np.random.Generator, n: int) -> list[float]:
    return list(rng.choice([0.8, 1.05, 1.3, 1.7, 2.6], n))


def random_offers(rng: np.random.Generator, n: int, prefix: str) -> list[Offer]:
    prices = rng.integers(2, 20, n) / 2
    watts = rng.choice([0.5, 2.0, 8.0], n)
    return [offer(f"{prefix}{i}", float(p), float(w)) for i, (p, w) in enumerate(zip(prices, watts, strict=True))]


def holds(made: Solution | None, ways: Sequence[Way], aim: str) -> None:
    """What was found is one of the ways, and none of them is better."""
    assert (made is None) == (not ways)
    if made is not None:
        best = min(way.order(aim) for way in ways)
        # Ways that are equally good may differ in their lamps, and in what of their cost is known.
        assert any(
            way.picks == made.picks
            and (way.cost, way.light) == pytest.approx((made.cost, made.light), abs=1e-5)
            and way.order(aim) == pytest.approx(best, abs=2e-6)
            for way in ways
        ), (made, best)


def agree(
    car: Vehicle, found: Sequence[Assessment], budget: float | None, seed: int, circuit: Circuit | None = None
) -> None:
    """What is chosen, what nearly was, what would be without a requirement and where a decision is ruled out."""
    ways, seen = list(everything(car, found, budget, circuit)), []
    with pytest.MonkeyPatch.context() as patch:
        built = selection.problem
        patch.setattr(selection, "problem", lambda *given: seen.append(built(*given)) or seen[-1])
        made = choice.choose(car, found, aim="least cost", budget=budget)
    (problem,) = seen
    assert set(made.kept) == {name for name, o in made.chosen.items() if o is None}
    told = made.shopping_list()
    assert told.iloc[-1, -1] == pytest.approx(told.iloc[:-1, -1].sum())  # of those known
    rng = np.random.default_rng(seed)
    for aim in choice.AIMS:
        for without in (frozenset(), frozenset([ASKED[seed % len(ASKED)]]), frozenset(rng.choice(ASKED, 3).tolist())):
            allowed = [way for way in ways if way.broken <= without]
            best = decisions.solve(problem, aim, without=without)
            holds(best, allowed, aim)
            if aim == "least cost" and not without:
                assert (
                    best.cost,
                    [None if p is None else one.candidates[p] for one, p in zip(car.lamps, best.picks, strict=True)],
                ) == (made.cost, list(made.chosen.values()))
                assert (made.runner_up is None) == (decisions.solve(problem, aim, other_than=best) is None)
            near = [way for way in allowed if way.picks != best.picks and way.picks.count(None) <= best.kept]
            holds(decisions.solve(problem, aim, without=without, other_than=best), near, aim)
            # A filament that must go, and one light source that is not to be had.
            i, j = (int(place) for place in rng.integers(len(car.lamps), size=2))
            c = int(rng.integers(len(car.lamps[j].candidates)))
            never = [problem.keep[i], problem.candidates[j][c]]
            rest = [way for way in allowed if way.picks[i] is not None and way.picks[j] != c]
            holds(decisions.solve(problem, aim, without=without, never=never), rest, aim)
            holds(
                decisions.solve(problem, aim, without=without, never=never[1:]),
                [way for way in allowed if way.picks[j] != c],
                aim,
            )


@pytest.mark.parametrize("seed", range(14))
def test_stop_and_tail_in_one_holder_as_by_trying_everything(seed: int) -> None:
    rng = np.random.default_rng(seed)
    bright = random_offers(rng, 3, "bright ")
    dim = [replace(offer(f"dim of {o.name}", None), dim_level_of=o.name) for o in bright]
    lamps, found = [], []
    light = {"stop": random_ratios(rng, 3), "tail": random_ratios(rng, 3)}
    for side in ("left", "right"):
        for function, part, articles, base in (("stop", "major", bright, 440.0), ("tail", "minor", dim, 45.0)):
            one = lamp(
                f"{function} {side}",
                function,
                articles,
                filament=filament("P21/5W", part),
                holder=side,
                position=f"rear {side}",
            )
            lamps.append(one)
            found.append(assessed(one, light[function], spread=0.12, base=base))
    agree(van(lamps), found, [None, 9.0, 14.0][seed % 3], seed)


@pytest.mark.parametrize("seed", range(14))
def test_separate_lamps_as_by_trying_everything(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    articles = random_offers(rng, 4, "LED ")
    articles[3] = replace(articles[3], price=None)
    lamps, found = [], []
    for function, position, base in (
        ("stop", "rear left", 440.0),
        ("stop", "rear right", 440.0),
        ("tail", "rear left", 60.0),
        ("tail", "rear right", 60.0),
        ("reversing", "rear", 400.0),
    ):
        offered = [articles[i] for i in sorted(rng.choice(4, 2 + seed % 2, replace=False))]
        one = lamp(f"{function} {position}", function, offered, position=position, quantity=int(rng.integers(1, 3)))
        lamps.append(one)
        shares = rng.choice([np.nan, 0.5, 0.95, 1.0], len(offered))
        found.append(assessed(one, random_ratios(rng, len(offered)), 0.12, list(shares), base))
    agree(van(lamps), found, [None, 12.0, 30.0][seed % 3], seed)


@pytest.mark.parametrize("seed", range(16))
def test_flasher_and_tell_tale_as_by_trying_everything(seed: int) -> None:
    rng = np.random.default_rng(200 + seed)
    kind = ["thermal series", "electronic", "hot wire"][seed % 3]
    circuit = Circuit(
        "turn",
        flasher=kind,
        flasher_rated_load=42,
        tell_tale="single between sides",
        switch_rating=float(rng.choice([4.5, 6, 9])),
    )
    lamps, found = [], []
    for function, place in (("rear turn", "rear"), ("front turn", "front")):
        offered = random_offers(rng, 2 - (function == "front turn"), f"{place} ")
        ratios = random_ratios(rng, len(offered))
        for side in ("left", "right"):
            one = lamp(f"{function} {side}", function, offered, position=f"{place} {side}", circuit=circuit)
            lamps.append(one)
            found.append(assessed(one, ratios))
    small = [replace(o, either_polarity=bool(rng.integers(2))) for o in random_offers(rng, 1, "small ")]
    one = lamp("tell-tale", "tell-tale", small, position="dashboard", circuit=circuit, filament=filament("T4W"))
    lamps.append(one)
    found.append(assessed(one, [1.5]))
    parts = [
        p
        for p in (
            TIMER,
            DIODES,
            replace(BALLAST, price=float(rng.choice([1.0, 2.4])), resistance=float(rng.choice([5.6, 11.0]))),
        )
        if rng.random() < 0.7
    ]
    agree(van(lamps, parts), found, [None, 15.0, 40.0][seed % 3], seed, circuit)


# --- reasons ------------------------------------------------------------------------------------------------------


def one_lamp(candidate: Offer | None, ratio: float = 1.5, share: float = float("nan"), **more: object) -> Choice:
    car_keys = {key: more.pop(key) for key in ("earth", "budget", "rules") if key in more}
    car_keys |= {"earth_after": car_keys["earth"]} if "earth" in car_keys else {}
    wishes = {key: more.pop(key) for key in ("intensities", "assurance") if key in more}
    one = lamp("Fog lamp", "rear fog", [] if candidate is None else [candidate], **more)
    found = assessed(one, [] if candidate is None else [ratio], shares=[] if candidate is None else [share])
    return choice.choose(van([one], **car_keys), [found], **wishes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("made", "key", "numbers"),
    [
        (lambda: one_lamp(None), "kept.nothing", {}),
        (lambda: one_lamp(offer("LED"), ratio=0.7), "kept.nearest", {"ratio": 0.7, "assurance": 0.9}),
        (lambda: one_lamp(offer("LED"), ratio=1.02), "kept.nearest", {"ratio": 1.02, "assurance": 0.9}),
        (lambda: one_lamp(offer("LED"), share=0.6), "refused.colour", {"share": 0.6, "wanted": 0.9}),
        (lambda: one_lamp(offer("LED", base="BA9s")), "refused.base", {"base": "BA9s", "wanted": "BA15s"}),
        (
            lambda: one_lamp(offer("LED", either_polarity=False), earth="positive"),
            "refused.polarity",
            {},
        ),
        (lambda: one_lamp(offer("LED"), budget=4.99), "against.budget", {"budget": 4.99, "currency": "EUR"}),
        (
            lambda: one_lamp(
                offer("LED"), road_rule=True, intensity=280.0, intensities={"Fog lamp": [np.full(DRAWS, 420.0)]}
            ),
            "refused.intensity",
            {"intensity": 420.0},
        ),
    ],
)
def test_a_filament_that_stays_has_its_reason(made: object, key: str, numbers: dict[str, object]) -> None:
    made = made()  # type: ignore[operator]
    assert made.chosen == {"Fog lamp": None}
    assert made.cost == 0
    reason = made.kept["Fog lamp"]
    if reason.key == "kept.none_will_do":
        assert reason.values["reasons"] == [], "there is no other"
        reason = reason.values["nearest"]
        if reason.values["reasons"]:
            (reason,) = reason.values["reasons"]
    elif reason.key == "kept.family":
        reason = reason.values["against"]
    assert reason.key == key
    assert {name: reason.values[name] for name in numbers} == numbers


@pytest.mark.parametrize(
    "keys",
    [
        {"earth": "negative", "candidate": offer("LED", either_polarity=False)},
        {"candidate": offer("LED", base="ba15S")},
        {"candidate": offer("LED"), "budget": 5.0},
        {"candidate": offer("LED", price=None)},
        {"candidate": offer("LED", price=None), "budget": 0.5},
    ],
)
def test_what_fits_is_fitted(keys: dict[str, object]) -> None:
    assert names(one_lamp(**keys)) == ["LED"]  # type: ignore[arg-type]


def test_an_impossible_claim_is_refused() -> None:
    one = lamp("Fog lamp", "rear fog", [offer("box")])
    found = assessed(one, [3.0])
    found = replace(found, results=(replace(found.results[0], claim=Claim.IMPOSSIBLE),))
    assert [*choice.choose(van([one]), [found]).refused["Fog lamp"]["box"]] == [Family.CLAIM]


def test_both_sides_keep_the_filament_when_one_must() -> None:
    article = offer("LED")
    pair = [lamp(f"Tail {side}", candidates=[article], position=f"rear {side}") for side in ("left", "right")]
    made = choice.choose(van(pair), [assessed(pair[0], [2.0]), assessed(pair[1], [0.5])])
    assert names(made) == [None, None]
    (reason,) = made.refused["Tail left"]["LED"].items()
    assert reason[0] is Family.ALIKE and reason[1].values["lamp"] == "Tail right"
    assert reason[1].values["reason"] == made.refused["Tail right"]["LED"][Family.LIGHT]
    keeps = [said for said in made.binding if said.values["wish"].key == "wish.alike"]
    assert [(said.key, said.values["lamps"]) for said in keeps] == [("binding.keeps", ["Tail left"])]


def test_a_lone_level_and_a_tail_too_bright_are_refused_in_a_holder() -> None:
    bright, lone = offer("two levels", 3.0), offer("one level", 2.0)
    dim = replace(offer("two levels dim", None), dim_level_of="two levels")
    stop = lamp("Stop", "stop", [bright, lone], filament=filament("P21/5W", "major"), holder="h")
    tail = lamp("Tail", "tail", [dim], filament=filament("P21/5W", "minor"), holder="h")
    good = choice.choose(van([stop, tail]), [assessed(stop, [2, 3], base=440), assessed(tail, [1.3], base=40)])
    assert names(good) == ["two levels", "two levels dim"]
    assert good.cost == 3.0
    assert good.refused["Stop"]["one level"][Family.HOLDER] == say("refused.no_dim_level", lamp="Tail")
    near = choice.choose(van([stop, tail]), [assessed(stop, [1.3, 3], base=440), assessed(tail, [3], base=40)])
    assert names(near) == [None, None]
    level = near.refused["Tail"]["two levels dim"][Family.STOP_OVER_TAIL]
    assert level.values["times"] == 5.0 and level.values["chance"] < 0.01
    assert near.refused["Stop"]["two levels"][Family.HOLDER].values["reason"] == level
    levels = near.look_for["Stop"].values["lumens"]
    assert (levels.key, levels.values["bright_lamp"], levels.values["dim_lamp"]) == ("look_for.levels", "Stop", "Tail")
    assert levels.values["bright"] >= 5 * levels.values["most"] > levels.values["dim"]
    assert near.look_for["Tail"] == say("look_for.same_article", lamp="Stop")


def turning(
    parts: Sequence[CircuitPart], *, switch: float | None = None, watts: float = 4.0, told: float = 2.0
) -> Choice:
    circuit = Circuit(
        "turn",
        flasher="thermal series",
        flasher_rated_load=42,
        tell_tale="single between sides",
        tell_tale_power=told,
        switch_rating=switch,
    )
    article = offer("amber", 4.0, watts)
    lamps = [
        lamp(f"{place} turn {side}", f"{place} turn", [article], position=f"{place} {side}", circuit=circuit)
        for place in ("rear", "front")
        for side in ("left", "right")
    ]
    return choice.choose(van(lamps, parts), [assessed(one, [1.5]) for one in lamps])


def test_a_flasher_without_a_cure_keeps_the_filaments() -> None:
    made = turning([DIODES])
    assert names(made) == [None] * 4
    for said in made.kept.values():
        why = {"family": Family.FLASHER, "could": ["amber"], "against": say("against.flasher")}
        assert said == say("kept.family", back=False, **why)
    assert say("wish.flasher") in [said.values["wish"] for said in made.binding if said.key == "binding.keeps"]


def test_a_tell_tale_without_a_cure_keeps_the_filaments_of_a_place() -> None:
    # One filament of 21 W is earth enough for a tell-tale of 2 W: two of the four lamps may go.
    made = turning([TIMER])
    assert names(made).count(None) == 2
    for said in made.kept.values():
        assert said.key == "kept.instead" or said.values["against"] == say("against.tell_tale")


def test_flasher_and_tell_tale_are_cured_and_priced() -> None:
    made = turning([TIMER, DIODES])
    assert names(made) == ["amber"] * 4
    assert dict(made.parts) == {TIMER: 1, DIODES: 1}
    assert made.cost == pytest.approx(4 * 4.0 + TIMER.price + DIODES.price)
    costs = {said.values["wish"].key: said.values["price"] for said in made.binding if said.key == "binding.costs"}
    assert costs["wish.flasher"] == pytest.approx(TIMER.price)
    assert costs["wish.tell_tale"] == pytest.approx(DIODES.price)


def test_ballasts_earth_the_tell_tale_too_and_the_better_cure_is_named() -> None:
    six_ohm = replace(BALLAST, resistance=5.6, price=1.0)
    made = turning([TIMER, DIODES, six_ohm], watts=8.0)
    assert dict(made.parts) == {six_ohm: 2}
    (better,) = (said for said in made.notes if said.key == "notes.flasher_instead")
    # One timer and one pair of diodes against two resistors: 9.3 + 1.1 - 2 x 1.0.
    assert better.values["names"] == ["timer"] and better.values["difference"] == pytest.approx(8.4)
    (across,) = (said for said in made.fitted if said.key == "fitting.ballast")
    assert [(s.values["number"], s.values["side"]) for s in across.values["sides"]] == [(1, "left"), (1, "right")]


@pytest.mark.parametrize(("told", "earthed"), [(6.5, True), (7.3, False)])
def test_a_tell_tale_is_earthed_by_ballasts_up_to_what_its_own_current_is(told: float, earthed: bool) -> None:
    """Two resistors of 5.6 ohm carry a tell-tale of 6.9 W at a tenth of the supply: by nodal analysis, and by hand
    2 x 1.35 V / 5.6 ohm x 13.5 V, over 0.9^0.55."""
    far = [loads.resistor_load(5.6)] * 2 + [loads.led_load(8.0, VOLTS, bridge=True)] * 2
    found = tell_tale.feedback(VOLTS, loads.filament_load(told, VOLTS), far)
    assert (float(found.far_voltage) <= 0.1 * VOLTS) is earthed
    made = turning([TIMER, replace(BALLAST, price=0.1)], watts=8.0, told=told)
    assert (None not in names(made)) is earthed


def test_a_level_without_its_holder_is_bought_as_its_article() -> None:
    dim = replace(offer("two levels dim", None), dim_level_of="two levels")
    bright, one = lamp("Stop", "stop", [offer("two levels", None)]), lamp("Fog", "rear fog", [dim])
    made = choice.choose(van([bright, one]), [assessed(bright, [1.5], base=440), assessed(one, [1.5])])
    assert names(made) == ["two levels", "two levels dim"]
    assert made.unpriced() == ["two levels"]
    (told,) = (said for said in made.notes if said.key == "notes.no_price")
    assert told.values["names"] == ["two levels"]


def test_there_are_no_more_ballasts_than_converted_lamps() -> None:
    # Two resistors of 20 ohm a side would do for the flasher, but only one lamp a side can be converted.
    circuit = Circuit("turn", flasher="thermal series", flasher_rated_load=42)
    article = offer("amber", 4.0, 0.5)
    lamps = [
        lamp(f"{place} turn {side}", f"{place} turn", [article], position=f"{place} {side}", circuit=circuit)
        for place in ("rear", "front")
        for side in ("left", "right")
    ]
    small = replace(BALLAST, resistance=20.0, price=0.5)
    made = choice.choose(van(lamps, [TIMER, small]), [assessed(o, [0.5 if "rear" in o.name else 1.5]) for o in lamps])
    assert names(made) == [None, None, "amber", "amber"]
    assert dict(made.parts) == {TIMER: 1}


def test_a_ballast_must_bear_its_heat_and_the_switch_its_current() -> None:
    weak = replace(BALLAST, power=10.0)
    made = turning([DIODES, weak], watts=8.0)
    assert None in names(made)
    (hot,) = (said.values for said in made.notes if said.key == "notes.too_hot")
    assert hot["heat"] == pytest.approx(VOLTS**2 / 5.6) and hot["power"] == 10.0


def test_a_switch_that_bears_too_little() -> None:
    circuit = Circuit("stop", switch_rating=2.0)
    heavy = offer("heavy", 3.0, 40.0)
    one = lamp("Stop", "stop", [heavy], circuit=circuit)
    made = choice.choose(van([one]), [assessed(one, [1.5])])
    assert made.kept["Stop"].values["against"] == say("against.circuit_current")
    light = replace(one, candidates=(offer("light", 3.0, 20.0),))
    assert names(choice.choose(van([light]), [assessed(light, [1.5])])) == ["light"]


def test_the_aims_differ_and_the_runner_up_is_named() -> None:
    one = lamp("Reversing lamp", "reversing", [offer("cheap", 5.0), offer("bright", 7.0)])
    found = [assessed(one, [1.3, 1.9])]
    assert names(choice.choose(van([one]), found)) == ["cheap"]
    assert names(choice.choose(van([one]), found, aim="most light")) == ["bright"]
    assert names(choice.choose(van([one]), found, aim="most light", budget=6.0)) == ["cheap"]
    nearly = choice.choose(van([one]), found).runner_up
    assert nearly is not None and nearly.values["light"] is None
    assert nearly.values["changes"] == [say("runner_up.change", now="cheap", then="bright", lamps=["Reversing lamp"])]
    assert nearly.values["difference"] == pytest.approx(2.0)
    nearly = choice.choose(van([one]), found, aim="most light").runner_up
    assert nearly is not None and nearly.values["difference"] == pytest.approx(-2.0)
    assert nearly.values["light"].key == "runner_up.less_light"
    assert nearly.values["light"].values["change"] == pytest.approx(1.9 / 1.3 - 1)


def test_a_sum_without_a_price_is_told_as_a_part() -> None:
    made = one_lamp(offer("a"))
    assert str(made).splitlines()[0].endswith("5.00 in all")
    made = one_lamp(offer("a", price=None))
    assert None not in made.chosen.values()
    assert str(made).splitlines()[0].endswith("0.00 in all for what has a price")


def test_a_filament_kept_is_no_runner_up() -> None:
    one = lamp("Reversing lamp", "reversing", [offer("only", 5.0)])
    assert choice.choose(van([one]), [assessed(one, [1.3])]).runner_up is None


def test_light_beyond_the_cap_counts_for_nothing() -> None:
    one = lamp("Reversing lamp", "reversing", [offer("plain", 5.0), offer("glaring", 5.5)])
    assert names(choice.choose(van([one]), [assessed(one, [2.1, 4.0])], aim="most light")) == ["plain"]


def test_what_to_look_for_names_lumens_base_and_polarity() -> None:
    made = one_lamp(offer("LED"), ratio=0.5, earth="positive")
    # 100 lm at half the filament's light, and the draw that nine in ten exceed: exp(-0.16) of the middle one.
    wanted = 100 / (0.5 * np.exp(0.1 * np.quantile(np.linspace(-2, 2, DRAWS), 0.1)))
    said = made.look_for["Fog lamp"]
    assert said.values["lumens"].values["lumens"] == pytest.approx(wanted, rel=0.01)
    assert say("look_for.base", base="BA15s") in said.values["features"]
    assert say("look_for.either_way") in said.values["features"]


# --- the library van ----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo() -> tuple[Vehicle, tuple[Assessment, ...]]:
    read = vehicle.load(tables.folder() / "library_van")
    return read, plan.make(read, draws=1000).assessments


def test_the_library_van(demo: tuple[Vehicle, tuple[Assessment, ...]]) -> None:
    made = choice.choose(*demo)
    read = demo[0]
    assert made.cost <= read.budget
    for side in ("left", "right"):
        stop, tail = made.chosen[f"Stop lamp {side}"], made.chosen[f"Tail lamp {side}"]
        assert tail.dim_level_of == stop.name
    assert sum(o is not None for o in made.chosen.values()) > len(read.lamps) / 2
    assert {part.kind for part, _ in made.parts} == {"load-independent flasher", "pair of diodes"}
    assert set(made.kept) == {name for name, o in made.chosen.items() if o is None}
    assert str(choice.choose(*demo)) == str(made)


@pytest.mark.parametrize("wishes", [{}, {"aim": "most light"}, {"budget": 40.0}, {"assurance": 0.5}, {"budget": 0.0}])
def test_plain_words(demo: tuple[Vehicle, tuple[Assessment, ...]], wishes: dict[str, object]) -> None:
    made = choice.choose(*demo, **wishes)  # type: ignore[arg-type]
    said = [*made.kept.values(), *made.fitted, *made.binding, *made.look_for.values(), *made.notes]
    said += [made.runner_up] if made.runner_up else []
    for sentence in map(str, said):
        assert sentence.endswith(".") and sentence[0].isupper(), sentence
        assert "  " not in sentence and ".." not in sentence and "nan" not in sentence.split(), sentence
        for word in ("legal", "milp", "solver", "constraint", "objective", "infeasible", "binary", "lexicograph"):
            assert word not in sentence.casefold(), sentence
    assert "<table" in made._repr_html_()


def test_more_money_never_leaves_more_filaments(demo: tuple[Vehicle, tuple[Assessment, ...]]) -> None:
    left = [len(choice.choose(*demo, budget=money).kept) for money in (0.0, 10.0, 30.0, 60.0, 200.0)]
    assert left == sorted(left, reverse=True)
    assert left[0] == len(demo[0].lamps)


# --- what a flasher needs -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("ohms", [0.0, 0.3])
@pytest.mark.parametrize("kind", ["thermal series", "hot wire"])
def test_the_need_of_a_flasher_is_where_its_rate_becomes_allowed(kind: str, ohms: float) -> None:
    unit = flashers.flasher(kind)
    side = [lamp("a", "rear turn"), lamp("b", "front turn")]
    need = flashers.need(unit, [socket_voltages.load_of(one, None) for one in side], VOLTS, resistance=ohms)
    for share, allowed in ((1.01, True), (0.99, False)):
        # A resistor that takes just as much at the voltage of the need stands for the lamps.
        resistor = loads.resistor_load(need.voltage / (share * need.current))
        rate = float(flashers.flash(unit, [resistor], VOLTS, resistance=ohms).rate)
        assert (rate >= 60) is allowed


# --- bad input ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wishes", "told"),
    [
        ({"aim": "cheapest"}, "aim: the aim 'cheapest' is unknown; expected one of 'least cost', 'most light'"),
        ({"assurance": 90}, "assurance: 90 is no probability"),
        ({"colour_share": -0.1}, "colour_share: -0.1 is no probability"),
        ({"stop_over_tail": 0}, "stop_over_tail"),
        ({"budget": -1.0}, "budget"),
        ({"budget": float("nan")}, "budget"),
        ({"intensities": {"Fog lmp": []}}, "there is no lamp 'Fog lmp'"),
        ({"intensities": {"Fog lamp": [np.ones(3)]}}, "do not fit its candidates and draws"),
    ],
)
def test_bad_wishes_are_told(wishes: dict[str, object], told: str) -> None:
    one = lamp("Fog lamp", "rear fog", [offer("LED")])
    with pytest.raises(InputError) as caught:
        choice.choose(van([one]), [assessed(one, [1.5])], **wishes)  # type: ignore[arg-type]
    assert told in str(caught.value)


def test_assessments_of_other_lamps_are_refused() -> None:
    one, other = lamp("A", candidates=[offer("LED")]), lamp("B", candidates=[offer("other")])
    with pytest.raises(InputError, match="not one of the candidates of A"):
        choice.choose(van([one]), [assessed(other, [1.5])])
    with pytest.raises(InputError, match="2 assessments for 1 lamps"):
        choice.choose(van([one]), [assessed(one, [1.5])] * 2)
