"""What the first sheet answers: what to fit in each lamp, what to buy, and what can go wrong."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from lampkit import numbers
from lampkit.circuits.flashers import FlasherKind
from lampkit.circuits.tasks import Caution
from lampkit.conversion.assessment import Ground, Result
from lampkit.conversion.suggestion import SURE, TELL_TALE_MOST, Verdict
from lampkit.measurement.shortfall import AgreementVerdict
from lampkit.page.lamp_findings import AlikeFindings, LampFindings, Told
from lampkit.page.style import called
from lampkit.plan import suitability
from lampkit.plan.agreement import Finding
from lampkit.plan.choice import Article
from lampkit.plan.plan import Plan, joint_name
from lampkit.plan.suitability import OverTail
from lampkit.rules import functions
from lampkit.sources import leds
from lampkit.sources.light_source import DOUBTED, Claim, LightSource, SourceKind
from lampkit.statements import Statement, named, say
from lampkit.vehicle import sharing
from lampkit.vehicle.lamps import Lamp
from lampkit.vehicle.vehicle_parts import Offer

MOST_DANGERS, FEWEST_DANGERS = 5, 3
"""How many things that can go wrong stand on the first sheet [1]. Source: own judgement: what one remembers."""

UNREAD = "page.watch.unread"
"""What stands first: readings that could not be used."""

DANGERS = (
    UNREAD,
    "page.watch.magneto",
    "page.watch.readings",
    "page.watch.tail",
    "page.watch.wrong_colour",
    "page.watch.glare",
    "page.watch.holders",
    "page.watch.flasher",
    "page.watch.tell_tale",
    "page.watch.towed",
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
    decision, now = group.first.decision, {one.lamp.name: one.lamp.fitted for one in group.members}
    there = [lamp for lamp, offer in now.items() if offer is not None]
    where = there if len(there) < len(now) else []
    if decision.verdict is Verdict.KEEP or decision.result is None:
        return say("page.fit.put_back" if there else "page.fit.keep_it", name=called(group.lamp.filament), lamps=where)
    name, said = called(decision.result.source), decision.statement
    if all(offer is not None and offer.name == decision.result.source.name for offer in now.values()):
        return say("page.fit.keep_it", name=name)
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


def _asks_for_load(lamp: Lamp, cured: Collection[str]) -> bool:
    """Tell whether the flasher of a lamp may stop with an LED there: it asks for load or is unknown, with no cure."""
    does, wired = functions.function(lamp.function), lamp.circuit
    if wired is not None and (wired.flasher == FlasherKind.LOAD_INDEPENDENT.value or wired.name in cured):
        return False
    return does.flashes and not does.tell_tale


def _sought(plan: Plan, groups: Sequence[AlikeFindings]) -> Iterable[ShopArticle]:
    cured = {words.values["circuit"] for words in plan.choice.fitted}
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
        positive, beside = plan.vehicle.earth_after == "positive", asked.get("beside")
        limited = beside is not None and beside.key == "look_for.at_most"
        yield ShopArticle(
            article=say(
                "page.buy.sought",
                what=words.values["what"],
                bulb=words.values["bulb"],
                beside=None if limited else beside,
                flasher=_asks_for_load(group.lamp, cured),
            ),
            lamps=(group.number,),
            number=number,
            base=suitability.base_of(group.lamp),
            lumens=tuple(levels),
            most=beside.values["most"] if limited else asked.get("most"),
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


def summary(groups: Sequence[AlikeFindings]) -> Statement:
    """Say in a sentence how many lamps are converted."""
    verdicts = [group.first.decision.verdict for group in groups]
    fit, measure, keep = (verdicts.count(v) for v in Verdict)
    return say("page.summary", kinds=len(verdicts), fit=fit, measure=measure, keep=keep)


def _may_dazzle(group: AlikeFindings) -> bool:
    """Tell whether a tell-tale gets so much light that its driver should look at it by night."""
    result = group.first.decision.result
    tell_tale = functions.function(group.lamp.function).tell_tale
    return tell_tale and result is not None and float(result.ratio[1]) > TELL_TALE_MOST


def _was_read_wrong(words: Statement) -> bool:
    """Tell whether a statement says that a meter reading is not as it should be."""
    return words.key == "meter_reading.told" and words.values["words"].key.endswith(".differs")


def _one_way_tell_tale(words: Statement) -> bool:
    """Tell whether a statement says that a tell-tale between the sides works one way only."""
    return words.key == "tell_tale.one_way_only"


def _is_far_off(found: Finding) -> bool:
    """Tell whether a light ratio was read that what was assumed cannot explain, as after a slip by a factor of ten."""
    return found.agreement.verdict is AgreementVerdict.DIFFERS


GLARE = 4.0
"""Light against the filament's from which the first sheet warns of it [1]. Source: own judgement."""


def _may_glare(group: AlikeFindings) -> bool:
    """Tell whether a lamp that is no tell-tale gets so much light that it cannot go unsaid."""
    fitted = group.first.fitted
    return (
        fitted is not None and float(fitted.ratio[1]) >= GLARE and not functions.function(group.lamp.function).tell_tale
    )


def watch(
    plan: Plan, groups: Sequence[AlikeFindings], lamps: Sequence[LampFindings], over_tail: Sequence[OverTail]
) -> Iterable[Told]:
    """List what must not be overlooked, in few words.

    Source: common practice, no source, for the dual holder.
    """
    if plan.unread:
        first = replace(plan.unread[0], file=None if plan.unread[0].file is None else Path(plan.unread[0].file).name)
        yield Told(
            say("page.watch.unread"), say("page.watch.unread_words", first=str(first), more=len(plan.unread) - 1)
        )
    stay = [group.name for group in groups if group.first.decision.verdict is Verdict.KEEP]
    if stay:
        yield Told(say("page.watch.stays"), say("page.watch.stays_words", names=stay))
    bare = plan.vehicle.without_battery
    if (bare or plan.vehicle.generator == "magneto") and any(group.first.fitted is not None for group in groups):
        yield Told(say("page.watch.magneto", bare=bare), say("page.watch.magneto_words", bare=bare))
    wrong_there = [report.circuit.name for report in plan.circuits if any(map(_was_read_wrong, report.words))]
    far = [] if plan.readings is None else [f for f in plan.readings.findings if _is_far_off(f)]
    if wrong_there or far:
        typical = [(f.ratio, {"ratio": f.ratio.ratio[1], "expected": f.predicted[1]}) for f in far]
        read = [say("page.watch.readings_of", lamp=one.lamp, name=one.new, **values) for one, values in typical]
        yield Told(say("page.watch.readings"), say("page.watch.readings_words", circuits=wrong_there, lamps=read))
    bright: dict[str, list[OverTail]] = {}
    for one in over_tail:
        if one.too_bright:
            bright.setdefault(numbers.interval(one.ratio), []).append(one)
    for alike in bright.values():
        stops, tails = joint_name([one.stop for one in alike]), joint_name([one.tail for one in alike])
        values = {"ratio": alike[0].ratio.tolist(), "wanted": alike[0].wanted, "chance": alike[0].chance}
        yield Told(say("page.watch.tail"), say("page.watch.tail_words", stop=stops, tail=tails, **values))
    tried = [group for group in groups if group.first.decision.verdict is Verdict.FIT_THEN_MEASURE]
    dazzling = [group.name for group in tried if _may_dazzle(group)]
    unsure = [group.name for group in tried if group.name not in dazzling]
    if dazzling:
        yield Told(say("page.watch.dazzling"), say("page.watch.dazzling_words", names=dazzling))
    glaring = [group for group in groups if _may_glare(group)]
    if glaring:
        held = {one.tail for one in over_tail}
        tail = any(group.lamp.function == "tail" and group.lamp.name not in held for group in glaring)
        names = [group.short for group in glaring]
        yield Told(say("page.watch.glare"), say("page.watch.glare_words", names=names, tail=tail))
    if unsure:
        yield Told(say("page.watch.measure"), say("page.watch.measure_words", names=unsure))
    for words in plan.choice.notes:
        if words.key == "notes.flasher_unknown":
            yield Told(say("page.watch.flasher"), words)
        if words.key == "notes.towed":
            yield Told(say("page.watch.towed"), words)
    one_way = {str(words): words for report in plan.circuits for words in report.words if _one_way_tell_tale(words)}
    for words in one_way.values():
        yield Told(say("page.watch.tell_tale"), words)
    if plan.choice.fitted:
        yield Told(say("page.watch.circuits"), say("page.watch.circuits_words", sentences=plan.choice.fitted))
    if plan.vehicle.earth_after == "positive":
        bound = [offer.name for offer in plan.vehicle.offers if offer.either_polarity is False]
        yield Told(say("page.watch.earth"), say("page.watch.earth_words", names=bound))
    wrong: dict[str, list[str]] = {}
    for group in groups:
        for source in group.first.sources[1:]:
            if source.result.colour is not None and not source.result.colour.inside:
                wrong.setdefault(source.result.source.name, []).append(group.short)
    if wrong:
        said = [say("page.watch.wrong_in", name=name, lamps=where) for name, where in wrong.items()]
        yield Told(say("page.watch.wrong_colour"), say("page.watch.wrong_colour_words", names=said))
    claims = _doubted_claims(groups)
    if claims is not None:
        yield Told(say("page.watch.claims"), claims)
    if any(lamps[i].fitted is not None for i, _ in sharing.holders(plan.vehicle.lamps)):
        yield Told(say("page.watch.holders"), say("page.watch.holders_words"))


def _doubted_claims(groups: Sequence[AlikeFindings]) -> Statement | None:
    """Say which claims are doubted: of what is fitted with what decides, of the rest what is past belief."""
    results = {s.result.source.name: s.result for group in groups for s in group.first.sources[1:]}
    fitted = {group.first.fitted.source.name for group in groups if group.first.fitted is not None}
    warm = [name for name in results if name in fitted and results[name].claim is Claim.TOO_WARM]
    past = [name for name, result in results.items() if result.claim in DOUBTED and result.claim is not Claim.TOO_WARM]
    others = [say("page.watch.claim_of", name=n, verdict=named(results[n].claim)) for n in past if n not in fitted]
    if not (warm or past):
        return None
    return say("page.watch.claims_words", warm=warm, fitted=[n for n in past if n in fitted], others=others)
