"""What is shown of lamps: light, colour, candela, range and cautions of each, what to fit in it, and what to buy."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers
from lampkit.circuits.tasks import Caution
from lampkit.conversion.assessment import Assessment, Ground, Result
from lampkit.conversion.suggestion import SURE, Suggestion, Verdict
from lampkit.page.style import called, tagged
from lampkit.plan import circuit_needs, suitability
from lampkit.plan.choice import Article
from lampkit.plan.intensity import LampIntensity
from lampkit.plan.plan import Plan, short_name
from lampkit.plan.socket_voltages import EngineState, LightAtVoltages, SocketVoltage
from lampkit.plan.timing import LampTiming
from lampkit.rules import functions, rule_sets
from lampkit.rules.intensity_limits import Requirement
from lampkit.rules.limits import Limit
from lampkit.sources import leds
from lampkit.sources.claims import DOUBTED
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, named, say
from lampkit.vehicle.vehicle import Lamp, Vehicle
from lampkit.vehicle.vehicle_parts import Offer
from lampkit.visibility import brightness, sight

LETTERS = "abcdefgh"
"""What stands for each limit of a lamp in a table."""

FAIR_WEATHER = 1e4
"""Meteorological optical range for which that is told [m]. Source: IALA E-200-2, fair weather (from memory)."""

DAZZLE = 2.0
"""Light against the filament's from which a lamp is called bright [1]. Source: own judgement."""


class Told(NamedTuple):
    """Something said under a short heading of its own."""

    heading: Statement
    words: object


@dataclass(frozen=True, eq=False)
class SourceFindings:
    """One light source in a lamp: the filament (tag F) or a candidate with its offer."""

    tag: str
    result: Result
    offer: Offer | None
    brightness: Mapping[str, float]

    @property
    def is_filament(self) -> bool:
        """Tell the filament from the candidates."""
        return self.offer is None


@dataclass(frozen=True, eq=False)
class LampFindings:
    """What is decided for one lamp of the vehicle, and what is predicted of it with each light source."""

    lamp: Lamp
    assessment: Assessment
    decision: Suggestion
    sources: tuple[SourceFindings, ...]
    axis: LampIntensity | None
    seen: tuple[NDArray[np.float64], ...]
    timing: LampTiming | None
    replacement: tuple[Statement, ...]
    socket: SocketVoltage
    at_other_voltages: tuple[LightAtVoltages, ...]

    @property
    def place(self) -> int:
        """Say where the fitted light source stands: 0 for the filament, then the candidates."""
        if self.decision.verdict is Verdict.KEEP or self.decision.result is None:
            return 0
        return 1 + next(i for i, r in enumerate(self.assessment.results) if r is self.decision.result)

    @property
    def fitted(self) -> Result | None:
        """Give the result of what is fitted; None where the filament stays."""
        return self.sources[self.place].result if self.place else None

    @property
    def flashes(self) -> bool:
        """Tell whether the lamp flashes and its flash was worked out."""
        return self.timing is not None and bool(np.isfinite(self.timing.flash_share))


@dataclass(frozen=True, eq=False)
class AlikeFindings:
    """Lamps that have the same function, lens, filament, candidates and choice, such as left and right."""

    number: int
    name: str
    lamp: Lamp
    assessment: Assessment
    members: tuple[LampFindings, ...]
    axes: tuple[LampIntensity, ...]
    measured: tuple[Statement, ...]
    cautions: tuple[Told, ...]

    @property
    def first(self) -> LampFindings:
        """Give the first of them: what is said of it holds for all."""
        return self.members[0]

    @property
    def short(self) -> str:
        """Name them without left and right, for where their number stands before it."""
        return short_name([one.lamp.name for one in self.members]) or self.name


def is_flashed(lamp: Lamp) -> bool:
    """Tell whether a lamp works by a flasher; a tell-tale of semaphore arms does not."""
    does = functions.function(lamp.function)
    return does.flashes and not does.tell_tale


def sources(lamp: Lamp, assessment: Assessment) -> tuple[SourceFindings, ...]:
    """Find the filament and each candidate of a lamp."""
    offers = (None, *lamp.candidates)
    saturated = lamp.lens.colour == "red" and lamp.road_rule
    found = []
    for (tag, result), offer in zip(tagged(assessment), offers, strict=True):
        by_model = brightness.brightness_to_luminance(result.chromaticity) if saturated else {}
        found.append(
            SourceFindings(
                tag=tag,
                result=result,
                offer=offer,
                brightness={name: float(value) for name, value in by_model.items()},
            )
        )
    return tuple(found)


def colour_words(source: SourceFindings) -> Statement:
    """Say in few words where a colour lies against its limit."""
    place = source.result.colour
    if place is None:
        return say("page.colour.none")
    return say("page.colour.inside", margin=place.margin) if place.inside else place.statement


def candela_words(axis: LampIntensity, place: int, name: str | None) -> Statement:
    """Say in one line what a lamp needs and, where its old candela are known, what it gives and will give."""
    own = _span_on_axis(axis.requirement)
    needed, of_functions = _strictest([axis.requirement, *axis.also])
    today = None
    if axis.today is not None:
        span = _span_on_axis(axis.today)
        today = say("page.text.axis_today", **span) if span != own else None
    known = axis.limits[0][0].known
    read = bool(axis.measured or axis.twin)
    binds = rule_sets.rule_set(axis.requirement.rules).binds
    asked = say("page.text.axis_asked", binds=binds, of=of_functions, today=today, known=known, **needed)
    if not read:
        return say("page.text.axis_unread", asked=asked)
    old, new = float(axis.every[0][1]), axis.every[place]
    return say("page.text.axis_read", lamp=axis.lamp, asked=asked, old=old, new=new, name=name if place else None)


class ClauseFindings(NamedTuple):
    """What is published of candela on the axis of lamps, and where: the clause and how it is known."""

    lamps: tuple[str, ...]
    span: Statement
    limit: Limit


def clauses(listed: Sequence[tuple[str, Sequence[LampIntensity]]]) -> tuple[ClauseFindings, ...]:
    """List what is published of candela on the axis, each once with the lamps that are held against it."""
    found: dict[tuple[str, str], tuple[list[str], Statement, Limit]] = {}
    for name, axes in listed:
        for requirement in (one for axis in axes[:1] if axis.limits for one in (axis.requirement, *axis.also)):
            limit = next((limit for limit in requirement.on_axis if np.isfinite(limit.low)), None)
            if limit is not None:
                span = say("page.limit.candela", function=requirement.function, **_span_on_axis(requirement))
                names, _, _ = found.setdefault((str(span), limit.source), ([], span, limit))
                names.append(name)
    return tuple(ClauseFindings(tuple(dict.fromkeys(names)), span, limit) for names, span, limit in found.values())


def _strictest(requirements: Sequence[Requirement]) -> tuple[dict[str, float | None], list[str]]:
    """Give the strictest span of several functions of one light source, with their names where they are several."""
    spans = [_span_on_axis(one) for one in requirements]
    lows = [span["low"] for span in spans if span["low"] is not None]
    highs = [span["high"] for span in spans if span["high"] is not None]
    of = [one.function for one in requirements] if len(requirements) > 1 else []
    return {"low": max(lows), "high": min(highs) if highs else None}, of


def _span_on_axis(requirement: Requirement) -> dict[str, float | None]:
    listed = requirement.on_axis
    highs = [limit.high for limit in listed if np.isfinite(limit.high)]
    return {
        "low": next(limit.low for limit in listed if np.isfinite(limit.low)),
        "high": max(highs) if highs else None,
    }


RULES_IN_PRINT = {"un-r": "UN R", "fmvss-": "FMVSS "}
"""How the rules are called in print, by the beginning of their key in the bibliography."""


def in_print(source: str) -> str:
    """Name the rules of a source as in print."""
    return re.sub(r"\b(un-r|fmvss-)(?=\d)", lambda key: RULES_IN_PRINT[key[1]], source)


def citation(limit: Limit) -> Statement:
    """Write where a limit is printed and how it is known, with the rules named as in print."""
    return replace(limit, source=in_print(limit.source)).citation


def seen_from(interval: NDArray[np.float64], share: float = 1.0) -> NDArray[np.float64]:
    """Give from how far a lamp is seen by day and by night, shortest and longest [m].

    Source: Allard's law, IALA E-200-2, with the thresholds of data/visibility/thresholds.csv.
    """
    ranges = sight.day_and_night_range(share * interval[[0, 2]], FAIR_WEATHER)
    return np.stack([ranges[0, :, 0], ranges[1, :, 1]], axis=-1)


def seen(lamp: Lamp, axis: LampIntensity | None, timing: LampTiming | None) -> tuple[NDArray[np.float64], ...]:
    """Give from how far a lamp is seen with each light source; nothing where that is not told of its function."""
    if axis is None or not functions.function(lamp.function).seen:
        return ()
    flashes = timing is not None and np.isfinite(timing.flash_share)
    found = []
    for i, interval in enumerate(axis.every):
        share = 1.0
        if flashes and timing is not None:
            share = timing.led_flash_share if i else timing.flash_share
        found.append(seen_from(interval, share))
    return tuple(found)


def voltage_words(found: LampFindings) -> Statement | None:
    """Say what the socket gets, and what part of the light of what is fitted, or else of the best, is the wiring's."""
    told = {one.light_source: one for one in found.at_other_voltages}
    shown = found.fitted or found.decision.result
    if shown is None:
        shown = max(found.assessment.results, key=lambda r: r.chance, default=None)
    if shown is None or shown.source.name not in told:
        return None
    other, at = told[shown.source.name], found.socket
    return say(
        "page.lamp.voltage",
        name=called(shown.source),
        measured=at.measured,
        running=float(at.before[EngineState.RUNNING]),
        idling=float(at.before[EngineState.IDLING]),
        at_idle=other.idling,
        sound=other.sound_wiring,
    )


def cautions(found: LampFindings, vehicle: Vehicle) -> tuple[Told, ...]:
    """List the cautions that one lamp calls for.

    Source: common practice, no source.
    """
    lamp, said = found.lamp, []
    if lamp.road_rule:
        said.append(Told(say("page.caution.approval"), say("page.caution.approval_words")))
    if past := [
        s.result.source.name for s in found.sources[1:] if s.result.colour is not None and not s.result.colour.inside
    ]:
        said.append(Told(say("page.caution.wrong_colour"), say("page.caution.wrong_colour_words", names=past)))
    chosen = found.decision.result
    if chosen is not None and chosen.ratio[1] >= DAZZLE and not functions.function(lamp.function).tell_tale:
        words = say("page.caution.much_light_road" if lamp.road_rule else "page.caution.much_light_words")
        said.append(Told(say("page.caution.much_light"), words))
    area = suitability.least_lit_area(lamp, vehicle.held_to.name, wide=vehicle.wide)
    if area is not None and (chosen is not None or lamp.fitted is not None):
        words = say("page.caution.lit_area_words", least=area.low, lit=lamp.lit_area, citation=citation(area))
        said.append(Told(say("page.caution.lit_area"), words))
    if functions.function(lamp.function).flashes:
        said.append(Told(say("page.caution.flasher"), say("page.caution.flasher_words")))
    if circuit_needs.excites(lamp):
        said.append(Told(say("page.caution.charging"), named(Caution.CHARGE_LAMP)))
    for result in found.assessment.results:
        if result.claim in DOUBTED:
            words = say("page.caution.claim_words", name=result.source.name, claim=result.claim_statement)
            said.append(Told(say("page.caution.claim"), words))
    bound = [offer.name for offer in lamp.candidates if offer.either_polarity is False]
    if vehicle.earth_after == "positive" and bound:
        said.append(Told(say("page.caution.polarity"), say("page.caution.polarity_words", names=bound)))
    return tuple(said)


MOST_DANGERS, FEWEST_DANGERS = 5, 3
"""How many things that can go wrong stand on the first sheet [1]. Source: own judgement: what one remembers."""

DANGERS = (
    "page.watch.magneto",
    "page.watch.readings",
    "page.watch.tail",
    "page.watch.wrong_colour",
    "page.watch.glare",
    "page.watch.holders",
    "page.watch.flasher",
    "page.watch.earth",
    "page.watch.claims",
)
"""What to watch for, the worst first. Source: own judgement. What a circuit needs stands in the list to buy."""

USUAL = (
    Told(say("page.watch.fuse"), named(Caution.FUSE_SIZE)),
    Told(say("page.watch.flasher"), named(Caution.HAZARDS)),
    Told(say("page.watch.spares"), named(Caution.SPARE_FILAMENTS)),
    Told(say("page.cautions.eyes"), say("page.cautions.eyes_words")),
)
"""What can go wrong on every vehicle; with the flasher, only where there is one."""


@dataclass(frozen=True, eq=False)
class FitFindings:
    """The line of one lamp, or of lamps that are alike: what to do, how it compares, how sure, which colour.

    Where a filament stays, `shown` is the best on offer, and `nearest` names it with what still speaks against it.
    """

    group: AlikeFindings
    task: Statement
    shown: Result | None
    sure: Statement
    colour: Statement
    nearest: Statement | None


@dataclass(frozen=True, eq=False)
class ShopArticle:
    """An article to take home, or one to look for: for which lamps, and what must stand on its box.

    With `most` lumens at its dim level the bright one is still told from it.
    """

    article: object
    lamps: tuple[int, ...] = ()
    number: int | None = None
    price: float | None = None
    total: float | None = None
    base: str = ""
    colour: Statement | None = None
    lumens: tuple[float, ...] = ()
    most: float | None = None
    way: Statement | None = None
    together: bool = False


# --- a line for each lamp -------------------------------------------------------------------------------------------


def fit(plan: Plan, group: AlikeFindings) -> FitFindings:
    """Fill the line of lamps that are alike, with the verdict that decides."""
    decision = group.first.decision
    kept, result = decision.verdict is Verdict.KEEP, decision.result
    asked = plan.choice.wishes.assurance if kept else SURE
    read = result is not None and result.ground is Ground.READ
    if result is None:
        return FitFindings(group, _task(group), None, say("page.fit.nothing"), _colour(None), None)
    lacks = round(result.chance, 2) < asked and asked != SURE and not read
    sure = say("page.fit.sure", chance=result.chance, asked=asked if lacks else None, read=read)
    but = _what_keeps(plan, group.first.lamp.name, result) if kept else None
    nearest = say("page.fit.nearest", name=called(result.source), but=but) if kept else None
    return FitFindings(group, _task(group), result, sure, _colour(result), nearest)


IN_THE_ROW = ("refused.light", "refused.half", "refused.colour")
"""Reasons against a light source of which the line of its lamp tells the number already."""


def _what_keeps(plan: Plan, lamp: str, result: Result) -> Statement | None:
    """Say what keeps a filament though the best on offer is bright enough and of the right colour."""
    against = plan.choice.refused.get(lamp, {}).get(result.source.name, {})
    told = [reason for reason in against.values() if reason.key not in IN_THE_ROW]
    if told or against:
        return told[0] if told else None
    why = plan.choice.kept.get(lamp)
    return None if why is None else why.values.get("against", why)


def _task(group: AlikeFindings) -> Statement:
    """Say in a few words what to do with a lamp."""
    decision = group.first.decision
    if decision.verdict is Verdict.KEEP or decision.result is None:
        return say("page.fit.keep_it", name=called(group.lamp.filament))
    name, said = called(decision.result.source), decision.statement
    while "rest" in said.values:
        said = said.values["rest"]
    look, measure = (bool(said.values.get(key)) for key in ("look", "measure"))
    night = said.key == "suggestion.bright_tell_tale"
    return say("page.fit.fit_it", fitted=say("page.fit.fitted", name=name, look=look, measure=measure, night=night))


def _colour(result: Result | None) -> Statement:
    if result is None:
        return say("page.fit.nothing")
    if result.colour is None:
        return say("page.fit.colour_free")
    inside = result.share_inside if np.isfinite(result.share_inside) else 1.0
    return say("page.fit.colour", inside=result.colour.inside, share=inside, sure=inside >= SURE)


# --- the list to take to a shop -------------------------------------------------------------------------------------


def shopping(plan: Plan, groups: Sequence[AlikeFindings]) -> tuple[ShopArticle, ...]:
    """List what to buy, then what to look for where nothing on offer will do, then the total."""
    bought = plan.choice.articles()
    offers = {offer.name: offer for offer in plan.vehicle.offers}
    rows = [_article(plan, groups, offers.get(one.name), one) for one in bought]
    if rows:
        number, unpriced = sum(one.number for one in bought), len(plan.choice.unpriced())
        cost = None if unpriced == len(bought) else _known(plan.choice.cost)
        total = say("page.buy.total", partly=cost is not None and unpriced > 0)
        rows.append(ShopArticle(total, number=number, total=cost, together=True))
    return (*rows, *_alike_together(_sought(plan, groups)))


def _alike_together(sought: Iterable[ShopArticle]) -> Iterable[ShopArticle]:
    """Put articles that are asked for alike into one line, with the lamps and the number of all."""
    found: dict[str, ShopArticle] = {}
    for one in sought:
        what = str(
            [str(one.article), one.base, [numbers.rounded_up(lumens) for lumens in one.lumens], one.most, str(one.way)]
        )
        other = found.get(what)
        if other is not None and other.number is not None and one.number is not None:
            one = replace(other, lamps=other.lamps + one.lamps, number=other.number + one.number)
        found[what] = one
    return found.values()


def _article(plan: Plan, groups: Sequence[AlikeFindings], offer: Offer | None, bought: Article) -> ShopArticle:
    name, number = bought.name, bought.number
    cost, sum_of = _known(bought.price), _known(bought.total)
    if offer is None:
        kind = next(part.kind for part, _ in plan.choice.parts if part.name == name)
        where = [words.values["circuit"] for words in plan.choice.fitted if words.values.get("part") == name]
        positive = kind == "load-independent flasher" and plan.vehicle.earth_after == "positive"
        words = say("page.buy.part", name=name, kind=kind, circuits=where, positive=positive)
        return ShopArticle(words, (), number, cost, sum_of)
    bright: list[float] = []
    dim: list[float] = []
    lamps = []
    for group in groups:
        result, level = group.first.fitted, plan.choice.chosen.get(group.first.lamp.name)
        if result is None or level is None or offer.name not in (level.name, level.dim_level_of):
            continue
        lamps.append(group.number)
        needed = float(result.lumens_to_buy)
        if np.isfinite(needed):
            (dim if level.dim_level_of else bright).append(needed)
    return ShopArticle(
        article=offer.name,
        lamps=tuple(lamps),
        number=number,
        price=suitability.article_price(offer, plan.vehicle.offers) if cost is not None else None,
        total=sum_of,
        base=offer.base or "",
        colour=colour_of(offer.source),
        lumens=tuple(max(levels) for levels in (bright, dim) if levels),
        way=say("page.buy.way", either=offer.either_polarity, earth=plan.vehicle.earth_after),
    )


def _known(price: float) -> float | None:
    return None if np.isnan(price) else float(price)


def _sought(plan: Plan, groups: Sequence[AlikeFindings]) -> Iterable[ShopArticle]:
    for group in groups:
        words = plan.choice.look_for.get(group.first.lamp.name)
        if words is None or group.first.fitted is not None:
            continue
        number = sum(one.lamp.quantity for one in group.members)
        if words.key != "look_for.article":
            yield ShopArticle(words)
            continue
        asked = words.values["lumens"].values
        levels = [asked[key] for key in ("lumens", "bright", "dim") if key in asked]
        positive = plan.vehicle.earth_after == "positive"
        yield ShopArticle(
            article=say("page.buy.sought", what=words.values["what"], bulb=words.values["bulb"]),
            lamps=(group.number,),
            number=number,
            base=suitability.base_of(group.lamp),
            lumens=tuple(levels),
            most=asked.get("most"),
            way=say("page.buy.way_sought", positive=positive),
        )


def colour_of(source: LightSource) -> Statement:
    """Name the colour of a light source as a box names it.

    Source: data/leds/coloured.csv for the names of the colours, by the nearest peak.
    """
    typical = {belief.name: belief.typical for belief in source.beliefs}
    if source.kind is SourceKind.WHITE_LED and "correlated colour temperature" in typical:
        return say("page.buy.white", cct=typical["correlated colour temperature"])
    if source.kind is SourceKind.COLOURED_LED and "peak wavelength" in typical:
        peak = typical["peak wavelength"]
        return say(
            "page.buy.coloured", name=min(leds.families().values(), key=lambda f: abs(f["peak_nm"] - peak))["colour"]
        )
    return say("page.buy.as_measured")


# --- what can go wrong ----------------------------------------------------------------------------------------------


def dangers(watch: Sequence[Told], changed: bool, flashes: bool) -> tuple[Told, ...]:
    """List the few things that can go wrong, the worst first; where they are few, with what can on every vehicle."""
    found = [told for told in watch if told.heading.key in DANGERS]
    found.sort(key=lambda told: DANGERS.index(told.heading.key))
    there = {told.heading.key for told in found} | (set() if flashes else {"page.watch.flasher"})
    usual = [told for told in USUAL if told.heading.key not in there]
    spare = usual[: max(FEWEST_DANGERS - len(found), 0)] if changed else []
    return tuple([*found, *spare][:MOST_DANGERS])
