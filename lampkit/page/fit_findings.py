"""What is shown of the answer: a line for each lamp, the list to take to a shop, what can go wrong."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from lampkit import numbers
from lampkit.circuits.tasks import Caution
from lampkit.conversion.assessment import Ground, Result
from lampkit.conversion.suggestion import SURE, Verdict
from lampkit.page.lamp_findings import Told
from lampkit.page.style import called
from lampkit.plan import suitability
from lampkit.plan.choice import Article
from lampkit.plan.plan import Plan
from lampkit.sources import leds
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, named, say
from lampkit.vehicle.vehicle_parts import Offer

if TYPE_CHECKING:
    from lampkit.page.findings import AlikeFindings

MOST_DANGERS, FEWEST_DANGERS = 5, 3
"""How many things that can go wrong stand on the first sheet [1]. Source: own judgement: what one remembers."""

DANGERS = (
    "page.watch.magneto",
    "page.watch.readings",
    "page.watch.tail",
    "page.watch.wrong_colour",
    "page.watch.glare",
    "page.watch.holders",
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

    group: "AlikeFindings"
    task: Statement
    shown: Result | None
    sure: Statement
    colour: Statement
    nearest: Statement | None


@dataclass(frozen=True, eq=False)
class ShopArticle:
    """An article to take home, or one to look for: for which lamps, and what must stand on its box."""

    article: object
    lamps: tuple[int, ...] = ()
    number: int | None = None
    price: float | None = None
    total: float | None = None
    base: str = ""
    colour: Statement | None = None
    lumens: tuple[float, ...] = ()
    way: Statement | None = None
    together: bool = False


# --- a line for each lamp -------------------------------------------------------------------------------------------


def fit(plan: Plan, group: "AlikeFindings") -> FitFindings:
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


def _task(group: "AlikeFindings") -> Statement:
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


def shopping(plan: Plan, groups: "Sequence[AlikeFindings]") -> tuple[ShopArticle, ...]:
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
        what = str([str(one.article), one.base, [numbers.rounded_up(lumens) for lumens in one.lumens], str(one.way)])
        other = found.get(what)
        if other is not None and other.number is not None and one.number is not None:
            one = replace(other, lamps=other.lamps + one.lamps, number=other.number + one.number)
        found[what] = one
    return found.values()


def _article(plan: Plan, groups: "Sequence[AlikeFindings]", offer: Offer | None, bought: Article) -> ShopArticle:
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


def _sought(plan: Plan, groups: "Sequence[AlikeFindings]") -> Iterable[ShopArticle]:
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
    usual = [told for told in USUAL if flashes or told.heading.key != "page.watch.flasher"]
    spare = usual[: max(FEWEST_DANGERS - len(found), 0)] if changed else []
    return tuple([*found, *spare][:MOST_DANGERS])
