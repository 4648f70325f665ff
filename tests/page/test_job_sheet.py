"""The job sheet: it says what was computed, needs nothing from outside, and is written whole or not at all."""

import json
import os
import re
import shutil
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from worked_out import SMALL, VAN, basis_of, plan_of, sheet_of

from lampkit import __version__, conversion, numbers
from lampkit.circuits import tasks
from lampkit.circuits.fuses import FuseMark, FuseVerdict
from lampkit.circuits.tasks import Caution
from lampkit.conversion.assessment import Assessment, Result
from lampkit.conversion.suggestion import SURE, Verdict
from lampkit.errors import InputError
from lampkit.notebook import vehicle_panel
from lampkit.page import data, first_sheet, job_sheet, job_sheet_text, lamp_findings, sheet_tables, vehicle_findings
from lampkit.page.findings import Findings, findings_of
from lampkit.page.lamp_findings import AlikeFindings, candela_of
from lampkit.plan import choice, plan
from lampkit.plan.intensity import Against
from lampkit.plan.plan import Plan
from lampkit.rules import colours, functions
from lampkit.sources import filament_lamps
from lampkit.sources.light_source import DOUBTED, Claim
from lampkit.statements import named, say

UNIT = re.compile(r"_(1|lm|V|W|A|cd|m|s|lx|per_h|nm|bit)$")
VOID = {"meta", "br", "img", "link", "input", "hr"}


class Page(HTMLParser):
    """Tags with their attributes, the words outside style and drawings, and whether every tag is closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if not {"style", "svg"} & set(self.open):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())


@pytest.fixture(scope="module")
def made() -> Plan:
    return plan_of()


@pytest.fixture(scope="module")
def found(made: Plan) -> Findings:
    return findings_of(made)


@pytest.fixture(scope="module")
def sheet() -> str:
    return sheet_of().replace("\N{NO-BREAK SPACE}", " ")


@pytest.fixture(scope="module")
def rest() -> str:
    return basis_of().replace("\N{NO-BREAK SPACE}", " ")


@pytest.fixture(scope="module")
def page(sheet: str, rest: str) -> str:
    """Both pages, one after the other."""
    return sheet + rest


# --- what to fit --------------------------------------------------------------------------------------------------


def test_suggestions_keep_to_the_limit_and_to_what_is_possible(made: Plan) -> None:
    for assessment in made.assessments:
        chosen = conversion.suggest(assessment)
        if chosen.result is None:
            continue
        assert chosen.result.claim is not Claim.IMPOSSIBLE
        if assessment.colour_limit is not None:
            assert colours.inside(assessment.colour_limit, chosen.result.chromaticity)
        rivals = [
            r
            for r in assessment.results
            if r.claim is not Claim.IMPOSSIBLE
            and (assessment.colour_limit is None or colours.inside(assessment.colour_limit, r.chromaticity))
        ]
        # A source that has the lamp's own colour wins unless its chance is clearly less.
        gives_way = (
            conversion.suggestion.CLEARLY if conversion.suggestion.has_own_colour(assessment, chosen.result) else 0.0
        )
        assert chosen.chance >= max(r.chance for r in rivals) - gives_way - 0.005 - 1e-9


def test_the_chance_of_both_is_no_greater_than_that_of_either(made: Plan) -> None:
    for assessment in made.assessments:
        for result in assessment.results:
            both = result.chance
            if assessment.function == "tell-tale":  # half of the filament's light is enough there
                assert both == pytest.approx(np.mean(result.draws["ratio"] >= 0.5))
                continue
            assert both <= result.probability + 1e-9
            if assessment.colour_limit is None:
                assert both == pytest.approx(result.probability)
            else:
                assert both <= result.share_inside + 1e-9
                assert both >= result.probability + result.share_inside - 1 - 1e-9


def with_ratio(result: Result, factor: float) -> Result:
    ratio = np.linspace(0.9, 1.1, len(result.draws["ratio"])) * factor
    draws = {**result.draws, "ratio": ratio}
    return replace(
        result,
        ratio=factor * np.array([0.9, 1.0, 1.1]),
        draws=draws,
        chance=float(np.mean(ratio >= 1.0)),
        claim=Claim.UNCHECKED,
    )


@pytest.mark.parametrize(
    ("factors", "best", "verdict"),
    [
        ((0.5, 1.05, 3.0, 1.5), 3, Verdict.FIT),  # of two that are sure the dimmer one
        ((0.5, 1.0, 0.4, 0.3), 1, Verdict.FIT_THEN_MEASURE),
        ((0.5, 0.92, 0.4, 0.3), 1, Verdict.KEEP),
        ((0.5, 0.6, 0.4, 0.3), 1, Verdict.KEEP),  # where none has a chance the brightest comes nearest
    ],
)
def test_the_choice_follows_the_chances(made: Plan, factors: tuple[float, ...], best: int, verdict: Verdict) -> None:
    lamp = next(a for a in made.assessments if len(a.results) >= 4)
    results = tuple(with_ratio(r, f) for r, f in zip(lamp.results[:4], factors, strict=True))
    chosen = conversion.suggest(replace(lamp, results=results, colour_limit=None))
    assert chosen.result is results[best]
    assert chosen.verdict is verdict
    assert chosen.statement.values["name"] == results[best].source.name


def test_nothing_on_offer_keeps_the_filament(made: Plan) -> None:
    lamp = made.assessments[0]
    assert conversion.suggest(replace(lamp, results=())).statement.key == "suggestion.nothing"
    blue = replace(lamp, colour_limit=colours.colour_region("UN", "blue"))
    chosen = conversion.suggest(blue)
    assert chosen.result is None and chosen.verdict is Verdict.KEEP
    assert chosen.statement == say("suggestion.no_colour", limit="UN blue")
    boasting = replace(lamp, results=tuple(replace(r, claim=Claim.IMPOSSIBLE) for r in lamp.results))
    assert conversion.suggest(boasting).statement.key == "suggestion.no_claim"


@pytest.mark.parametrize(("chance", "words"), [(0.999, "above 99 %"), (0.004, "below 1 %"), (0.84, "84 %")])
def test_no_chance_is_called_certain(chance: float, words: str) -> None:
    assert numbers.chance(chance) == words


def test_the_sheet_follows_the_choice_for_the_whole_vehicle(made: Plan, found: Findings, page: str) -> None:
    text = Page(page).text
    for one in found.lamps:
        offer = made.choice.chosen[one.lamp.name]
        if offer is None:
            assert one.decision.verdict is Verdict.KEEP and one.fitted is None
            assert str(made.choice.kept[one.lamp.name]) in str(one.decision.statement)
        else:
            assert one.decision.verdict in (Verdict.FIT, Verdict.FIT_THEN_MEASURE)
            assert one.fitted is not None and one.fitted.source.name == offer.name
    for bought in found.shopping:
        assert str(bought.article) in text
    assert f"{made.choice.cost:.2f}" in text
    assert data.plan_as_dict(made)["choice"]["price"] == pytest.approx(made.choice.cost)


# --- text ---------------------------------------------------------------------------------------------------------


def test_text_fits_100_columns_and_names_everything(made: Plan, found: Findings) -> None:
    text = job_sheet_text.report_text(made, full=True)
    assert max(map(len, text.splitlines())) <= 100
    for group in found.groups:
        assert group.name in text
        for result in group.assessment.results:
            assert numbers.interval(result.ratio) in text
    assert f"seed {made.seed}" in text and "400 draws" in text and "licensed tester" in text


def test_the_first_answer_fits_one_screen(made: Plan, found: Findings) -> None:
    lines = job_sheet_text.report_text(made).splitlines()
    assert len(lines) <= 40 and max(map(len, lines)) <= 80
    text = " ".join(" ".join(lines).split())
    for line in found.fit:
        assert line.group.name in text and str(line.task) in text
    for one in found.shopping:
        assert one.together or str(one.article) in text
    assert "--all" in text and "licensed tester" in text


def test_nothing_is_said_twice_in_the_text(made: Plan) -> None:
    text = " ".join(job_sheet_text.report_text(made, full=True).split())
    (kept,) = {str(words.values["what"]) for words in made.choice.look_for.values()}
    assert text.count(kept) == 1, "what to look for stands once"
    for group in made.alike:
        assert str(made.decision(group.lamps[0].name).statement) not in text, "the row of its table tells it"
    # Two lamps may get the same volts; a sentence without a number is said once.
    sentences = [one for one in re.split(r"(?<=[.]) (?=[A-Z])", text) if len(one.split()) > 8]
    plain = [one for one in sentences if not re.search(r"\d", one)]
    assert len(plain) == len(set(plain)) > 15


def test_lamps_that_are_alike_stand_together_and_none_is_lost(made: Plan, found: Findings) -> None:
    assert len(found.groups) < len(made.vehicle.lamps)
    members = [one for group in found.groups for one in group.members]
    assert sorted(one.lamp.name for one in members) == sorted(lamp.name for lamp in made.vehicle.lamps)
    for group in found.groups:
        assert all(set(one.lamp.name.split()) <= set(group.name.replace(",", "").split()) for one in group.members)
        assert all(one.lamp.lens is group.lamp.lens is group.assessment.lens for one in group.members)


@pytest.mark.parametrize("asked", ["suggest", "suggest_fitting", "led_must_be"])
def test_every_fact_is_asked_once_for_all_pages(made: Plan, monkeypatch: pytest.MonkeyPatch, asked: str) -> None:
    holder = filament_lamps if asked == "led_must_be" else conversion.suggestion
    known, times = getattr(holder, asked), []
    monkeypatch.setattr(holder, asked, lambda *what, **how: (times.append(asked), known(*what, **how))[1])
    fresh = replace(made)
    for write in (job_sheet_text.report_text, data.plan_as_dict, findings_of):
        write(fresh)
    kept = sum(offer is None for offer in made.choice.chosen.values())
    ratings = [lamp.filament.rating for lamp in made.vehicle.lamps]
    designations = {rating["designation"] for rating in ratings if rating is not None}
    most = {"suggest": kept, "suggest_fitting": len(made.assessments), "led_must_be": len(designations)}
    assert 0 < len(times) <= most[asked]


# --- plain data ---------------------------------------------------------------------------------------------------


def units(held: object, path: str = "") -> list[tuple[str, object]]:
    if isinstance(held, dict):
        if set(held) == {"key", "values", "text"}:  # the text of a sentence says the units of its values
            return []
        return [found for key, value in held.items() for found in units(value, key)]
    if isinstance(held, list):
        intervals = held and all(isinstance(v, float | int) or v is None for v in held)
        return [(path, held)] if intervals else [found for value in held for found in units(value, path)]
    return [(path, held)] if isinstance(held, float) else []


def test_data_are_json_with_units_in_the_keys(made: Plan) -> None:
    held = json.loads(json.dumps(data.plan_as_dict(made), allow_nan=False))
    # Where quantities of many kinds stand in one list, each has its unit beside it.
    learnt = [known.pop("quantities") for known in held["readings"]["lenses"]]
    assert all(quantity["unit"] for quantities in learnt for quantity in quantities)
    for key, value in units({k: v for k, v in held.items() if k != "assumptions"}):
        assert UNIT.search(key) or key == "price", key
        if isinstance(value, list):
            assert len(value) == 3 and value == sorted(value), key
    for assumption in held["assumptions"]:
        low, middle, high = assumption["interval"]
        assert low <= middle <= high and assumption["source"] and assumption["unit"]
    assert [lamp["name"] for lamp in held["lamps"]] == [lamp.name for lamp in made.vehicle.lamps]
    assert held["seed"] == made.seed and held["draws"] == 400 and held["kit"]["version"] == __version__


def test_data_hold_what_was_computed(made: Plan) -> None:
    held = data.plan_as_dict(made)
    for lamp, assessment in zip(held["lamps"], made.assessments, strict=True):
        for candidate, result in zip(lamp["candidates"], assessment.results, strict=True):
            np.testing.assert_allclose(candidate["light_against_filament_1"], result.ratio, rtol=1e-5)
            np.testing.assert_allclose(candidate["flux_through_lens_lm"], result.flux_through, rtol=1e-5)
            assert candidate["light_source"] == result.source.name
        assert (lamp["colour_limit"] is None) == (assessment.colour_limit is None)


def test_what_has_no_bound_becomes_null() -> None:
    made = plan_of(SMALL)
    first = made.assessments[0]
    endless = replace(first.results[0], lumens_to_buy=float("inf"))
    odd = replace(made, assessments=(replace(first, results=(endless, *first.results[1:])), *made.assessments[1:]))
    assert data.plan_as_dict(odd)["lamps"][0]["candidates"][0]["lumens_to_buy_lm"] is None
    assert numbers.figure(float("inf")) in job_sheet.basis_html(odd)


# --- page ---------------------------------------------------------------------------------------------------------


def test_page_needs_nothing_from_outside(page: str) -> None:
    tags = Page(page).tags
    for tag, attributes in tags:
        assert tag not in ("script", "iframe", "link", "object", "embed")
        for key, value in attributes.items():
            if key in ("src", "href", "xlink:href", "srcset", "data"):
                beside = tag == "a" and value is not None and value.startswith(("van.html", "van_basis.html"))
                assert value is not None and (beside or value.startswith(("#", "data:image/"))), (tag, key, value)
    assert not re.search(r"url\((?!#)|@import", page)


def test_pages_are_well_formed_and_links_lead_somewhere(sheet: str, rest: str) -> None:
    names = {"": "", "van.html": sheet, "van_basis.html": rest}
    ids = {}
    for name, one in names.items():
        found = [a["id"] for tag, a in Page(one).tags if "id" in a and tag in ("section", "div", "figure", "nav", "h2")]
        assert len(found) == len(set(found))
        ids[name] = set(found)
    for own, one in (("van.html", sheet), ("van_basis.html", rest)):
        parsed = Page(one)
        assert not parsed.open
        targets = {a["href"] for tag, a in parsed.tags if tag == "a"}
        assert len(targets) > 5
        for target in targets:
            file, _, anchor = str(target).partition("#")
            assert not anchor or anchor in ids[file or own], target
            assert file in names


def test_a_sheet_alone_leads_nowhere_else(made: Plan) -> None:
    targets = {str(a["href"]) for tag, a in Page(job_sheet.job_sheet_html(made)).tags if tag == "a"}
    assert targets and all(target.startswith("#") for target in targets)


def test_there_is_a_box_for_everything_that_is_done(sheet: str, made: Plan, found: Findings) -> None:
    boxes = [a for tag, a in Page(sheet).tags if tag == "input"]
    assert all(box["type"] == "checkbox" and box["aria-label"] for box in boxes)
    named_ = [box["aria-label"] for box in boxes]
    assert found.work is not None and found.checks.light is not None
    for group in found.groups:
        assert f"{group.number} {group.name}" in named_
    for step in found.work.steps:
        assert str(step.what) in named_
        assert all(str(lamp.short) in named_ for lamp in step.lamps)
    assert all(str(told.heading) in named_ for told in found.dangers) and 3 <= len(found.dangers) <= 5
    bought = [one for one in found.shopping if not one.together]
    least = len(found.groups) + len(bought) + len(found.work.steps) + len(found.checks.light.readings)
    assert len(boxes) >= least + len(found.checks.circuits)


def test_the_number_of_a_lamp_is_one_everywhere(sheet: str, rest: str, found: Findings) -> None:
    for group in found.groups:
        words = f"{group.number} {group.name}"
        assert f">{words}</a>" in sheet and f"<h2>{words}</h2>" in rest
        assert f"{group.number} {group.name}, " in sheet or f"{group.number} {group.name}:" in sheet  # on the map


def test_every_picture_is_described(page: str) -> None:
    pictures = [(tag, a) for tag, a in Page(page).tags if tag in ("svg", "img")]
    assert len(pictures) > 10
    for tag, attributes in pictures:
        words = attributes.get("alt") if tag == "img" else attributes.get("aria-label")
        assert words and len(words) > 30
        assert tag == "img" or attributes.get("role") == "img"


def test_each_page_of_a_lamp_says_what_to_do_then_why(rest: str, found: Findings) -> None:
    for line in found.fit:
        decision = line.group.first.decision
        text = Page("<section" + lamp_part(rest, line.group.name).split("</section>")[0] + "</section>").text
        told = numbers.capital(line.task) if decision.verdict is Verdict.FIT else str(decision.statement)
        assert told in text
        if decision.result is not None:
            assert text.index(told) < text.index(str(decision.result.why))


def test_page_warns_where_the_hazard_is(page: str, found: Findings) -> None:
    text = Page(page).text
    assert str(say("page.approval")) in text
    assert len({told.heading.key for told in found.cautions}) == len(found.cautions) >= 9
    of_ballast = {Caution.HOT_BALLAST, Caution.BALLAST_WIRE, Caution.NO_FUSE, Caution.OUTAGE}
    of_the_earth = {Caution.DYNAMO_TOUCH, Caution.POLARITY_BOUND, Caution.MARK_BATTERY}  # told where it is changed
    for one in Caution:
        if one not in of_ballast | of_the_earth:
            assert str(named(one)) in text, one
    said = [
        told for group in found.groups for told in group.cautions if told.heading.key not in job_sheet.TOLD_ELSEWHERE
    ]
    assert said
    elsewhere = [told for told in found.cautions if told.heading.key in job_sheet.IN_THE_ORDER]
    assert elsewhere
    for heading, words in (*(told for told in found.cautions if told not in elsewhere), *said):
        assert f"{heading} {words}" in text
    wrong = {
        g.name
        for g in found.groups
        for s in g.first.sources[1:]
        if s.result.colour is not None and not s.result.colour.inside
    }
    warned = {g.name for g in found.groups for told in g.cautions if told.heading.key == "page.caution.wrong_colour"}
    assert wrong == warned != set()


def test_nothing_is_ever_called_legal(page: str, made: Plan) -> None:
    for words in (page, job_sheet_text.report_text(made, full=True), json.dumps(data.plan_as_dict(made))):
        assert not re.search(
            r"\b(il)?legal(ly)?\b|street[- ]legal|road[- ]legal|\bcompli(es|ant)\b", words, re.IGNORECASE
        )


def test_each_limit_says_how_it_is_known(page: str, rest: str, made: Plan, found: Findings) -> None:
    text = Page(page).text
    limits = {a.colour_limit.name: a.colour_limit for a in made.assessments if a.colour_limit is not None}
    boundaries = [b for limit in limits.values() for b in limit.boundaries]
    part = heading(rest, str(say("page.limits.heading")))
    remembered = [b for b in boundaries if b.known == "from memory"]
    clauses = [one for one in found.clauses if one.limit.known == "from memory"]
    # A sign behind each source: a colour has one, and candela of one source stand together.
    colours_ = {
        (limit.region.name, b.source) for limit in found.limits for b in limit.region.boundaries if b in remembered
    }
    sources = {one.limit.source for one in clauses}
    assert remembered and part.count("†") == len(colours_) + len(sources) + 1, "the sign, and what it means"
    for b in boundaries:
        assert b.inequality in text and lamp_findings.in_print(b.source) in part


def lamp_part(page: str, name: str) -> str:
    return next(part for part in page.split("<section")[1:] if re.search(rf"<h2>\d+ {re.escape(name)}</h2>", part))


def test_lamps_without_a_road_rule_get_no_comparison(page: str, found: Findings) -> None:
    free = [group for group in found.groups if not group.lamp.road_rule]
    assert free and {group.name for group in free} <= set(found.without_limit)
    for group in free:
        assert group.assessment.colour_limit is None and not group.axes
        assert all(source.result.colour is None for source in group.first.sources)
        assert f'<th scope="col">{say("page.column.inside")}</th>' not in lamp_part(page, group.name)


def test_every_assumption_of_what_is_used_stands_there_with_its_range(rest: str, made: Plan, found: Findings) -> None:
    text = heading(rest, str(say("page.assumption.heading")))
    fitted = {offer.name for offer in made.choice.chosen.values() if offer is not None}
    left = {offer.name for offer in made.vehicle.offers} - fitted
    told = {owner for one in found.assumptions for owner in one.owners}
    used = {owner for owner, _ in found.beliefs if not any(owner.startswith(name) for name in left)}
    assert used <= told and not told & left and fitted & told
    sources: dict[str, str] = {}
    for one in found.assumptions:
        assert one.belief.name in text and all(owner in text for owner in one.owners)
        sources.setdefault(one.belief.name, " ".join(one.belief.source.split()))
    assert all(source in text for source in sources.values())
    held = {(one["owner"], one["quantity"]) for one in data.plan_as_dict(made)["assumptions"]}
    assert left & {owner for owner, _ in held}, "the plain data hold all of them"


def test_footer_says_seed_draws_version_and_what_is_invented(page: str, made: Plan) -> None:
    footer = page.split("<footer>")[1]
    for words in (f"seed {made.seed}", "400 draws", __version__, "invented"):
        assert words in footer
    plain = replace(made, vehicle=replace(made.vehicle, invented=False))
    assert "invented" not in job_sheet.job_sheet_html(plain).split("<footer>")[1]


def test_names_cannot_break_the_page(made: Plan) -> None:
    name = 'Van <script>alert("x")</script> & sons'
    first = made.assessments[0]
    lamp = replace(made.vehicle.lamps[0], name="<i>Stop</i>")
    changed = replace(
        made,
        vehicle=replace(made.vehicle, name=name, lamps=(lamp,)),
        assessments=(replace(first, name="<i>Stop</i>"),),
    )
    page = job_sheet.job_sheet_html(changed)
    assert "<script" not in page and "<i>" not in page
    assert not Page(page).open


def test_a_vehicle_without_candidates_still_has_a_sheet(made: Plan) -> None:
    lamps = tuple(replace(lamp, candidates=()) for lamp in made.vehicle.lamps[:1])
    bare: tuple[Assessment, ...] = (replace(made.assessments[0], results=()),)
    vehicle_alone = replace(made.vehicle, lamps=lamps)
    empty = replace(made, vehicle=vehicle_alone, assessments=bare, choice=choice.choose(vehicle_alone, bare))
    (stays,) = findings_of(empty).lamps
    assert stays.fitted is None and stays.decision.verdict is Verdict.KEEP
    assert str(stays.decision.statement) in Page(job_sheet.basis_html(empty)).text
    task = str(findings_of(empty).fit[0].task)
    assert task in Page(job_sheet.job_sheet_html(empty)).text
    assert task in " ".join(job_sheet_text.report_text(empty).split())


def test_page_is_small(page: str) -> None:
    assert len(page.encode()) < 3e6


@pytest.mark.parametrize(("what", "most"), [("sheet", 1200), ("rest", 6000)])
def test_the_van_is_told_in_few_words(what: str, most: int, request: pytest.FixtureRequest) -> None:
    """As `tests/benchmarks/pages.py` counts them: without what stands in pictures and in the list of contents."""
    body = request.getfixturevalue(what).split("<body", 1)[1].split(">", 1)[1]
    bare = re.sub(r"<(svg|style|nav)\b.*?</\1>|<[^>]+>", " ", body, flags=re.DOTALL)
    assert len(bare.split()) <= most


def test_what_is_noted_in_the_file_stands_where_the_thing_is_told(tmp_path: Path) -> None:
    van = Path(shutil.copytree(VAN, tmp_path / "van"))
    text = re.sub(r"^note = .*\n", "", (van / "vehicle.toml").read_text(), flags=re.MULTILINE)
    kinds = ("vehicle", "light_source", "lens", "circuit", "part", "meter_reading", "lamp")
    for kind in kinds:
        head = "[vehicle]" if kind == "vehicle" else f"[[{kind}]]"
        text = text.replace(head, f'{head}\nnote = "Pinned to the {kind}."')
    (van / "vehicle.toml").write_text(text)
    told = " ".join(Page(basis_of(van)).words)
    for kind in kinds:
        assert f"Pinned to the {kind}." in told, kind
    assert "Pinned" not in re.sub(r"Pinned to the (lamp|vehicle)", "", " ".join(Page(sheet_of(van)).words))


# --- the whole vehicle ----------------------------------------------------------------------------------------------


UNITS = r"(%|°C|V|m?A|W|K|[nm]?m|ms|lm|cd|lx|km/h|lm/W|ohm|kilohm|deg)"


def test_no_line_parts_a_number_from_its_unit(made: Plan) -> None:
    """SI Brochure 9, 5.4.3, from memory: a space stands between the two; here a line cannot end at it."""
    for written in (sheet_of(), basis_of()):
        said = " ".join(Page(written).words)
        assert re.search(r"\d\xa0(V|%)", said)
        assert not re.findall(rf"\d +{UNITS}(?![\w/])", said)
    text = job_sheet_text.report_text(made, full=True)
    assert "\xa0" not in text and re.search(r"\d V\b", text)
    assert not re.findall(rf"\d\n *{UNITS}(?![\w/])", text)


def test_words_of_the_list_to_buy_stand_left_and_its_numbers_right(sheet: str, found: Findings) -> None:
    shop = sheet_tables.what_to_buy(found)
    table = next(one for one in sheet.split("<table")[1:] if "buy" in one.split(">")[0]).split("</table>")[0]
    for place, column in enumerate(shop.columns):
        cells = [row.cells[place] for row in shop.rows if row.cells[place] != ""]
        counts = all(re.fullmatch(r"[\d./ ]+", str(cell)) for cell in cells)
        assert column.number == counts, str(column.heading)
        assert (f'<th scope="col" class="number">{column.heading}</th>' in table) == counts
    assert re.search(r"\.number \{ text-align: right; \}", sheet)


def test_a_sum_that_leaves_something_out_says_so(made: Plan) -> None:
    def told(found: Findings) -> tuple[str, str]:
        return str(next(one.article for one in found.shopping if one.together)), job_sheet_text.written(found)

    partly = str(say("page.buy.total", partly=True))
    assert partly not in "".join(told(findings_of(made)))
    changed = {id(one): one if one.name == "white LED E" else replace(one, price=None) for one in made.vehicle.offers}
    lamps = tuple(
        replace(lamp, candidates=tuple(changed[id(one)] for one in lamp.candidates)) for lamp in made.vehicle.lamps
    )
    vehicle = replace(made.vehicle, offers=tuple(changed.values()), lamps=lamps)
    again = plan.make(vehicle, draws=400, assessed=made.predicted)
    article, text = told(findings_of(again))
    assert article == partly and partly in " ".join(text.split())
    left_out = again.choice.unpriced()
    assert "white LED E" not in left_out and len(left_out) > 2 and not made.choice.unpriced()
    assert all(name in vehicle_panel.head(again, False) for name in left_out)
    assert again.choice.shopping_list()["article"].iloc[-1] != made.choice.shopping_list()["article"].iloc[-1]


def test_the_edge_told_of_a_lens_that_was_learnt_is_the_learnt_one(made: Plan) -> None:
    assert made.readings is not None
    (known,) = made.readings.lenses
    edge = known.garage.of(known.lens.name)["edge wavelength"]
    before = next(one.typical for one in known.lens.beliefs if one.name == "edge wavelength")
    for name in (known.lamp, "Tail lamp left"):
        where = next(one for one in made.assessments if one.name == name).results[0].why.values["where"]
        # An edge of 7 nm is crossed at half of the plateau within a nanometre of its own wavelength.
        assert abs(where.values["edge"] - np.median(edge)) < 1.0 < abs(where.values["edge"] - before)


def test_each_step_in_text_tells_its_cautions(made: Plan, found: Findings) -> None:
    assert found.work is not None
    text = " ".join(job_sheet_text.report_text(made, full=True).split())
    for step, after in zip(found.work.steps, [*(str(one.what) for one in found.work.steps[1:]), None], strict=True):
        told = text.split(str(step.what), 1)[1]
        told = told if after is None else told.split(after, 1)[0]
        assert all(str(caution) in told for caution in step.cautions)
    assert any(step.cautions for step in found.work.steps)
    turned = replace(made, vehicle=replace(made.vehicle, earth="positive", earth_after="negative"))
    earth_told, text = findings_of(turned).earth, "".join(job_sheet_text.report_text(turned, full=True).split())
    assert earth_told is not None and any(step.cautions for step in earth_told.steps)
    for number, turn in enumerate(earth_told.steps, start=1):
        told = [f"{number}. {turn.what}", *map(str, turn.cautions)]
        assert all("".join(words.split()) in text for words in told)


def heading(page: str, words: str) -> str:
    """The text of the section with a heading."""
    found = next(part for part in page.split("<section")[1:] if f">{words}</h" in part)
    return Page(f"<section{found.split('</section>')[0]}</section>").text


def test_the_first_page_says_what_to_fit_what_to_buy_and_what_goes_wrong(
    sheet: str, made: Plan, found: Findings
) -> None:
    first = sheet.split("</section>")[0]
    for words in (say("page.fit.heading"), say("page.buy.heading"), say("page.wrong.heading")):
        assert f">{words}</h2>" in first
    text = Page(f"{first}</section>".split("<main>")[1]).text
    kept = [line for line in found.fit if made.choice.chosen[line.group.lamp.name] is None]
    assert kept
    for line in found.fit:
        row = first.split(f"{line.group.name}</a>")[1].split("</tr>")[0]
        assert (
            str(line.task.values.get("fitted", line.task)) in row and str(line.sure) in row and str(line.colour) in row
        )
        assert (line.nearest is not None) == (line in kept)
        if line.nearest is not None:
            assert str(line.nearest) in row
    for one in found.shopping:
        assert str(one.article) in text
    for told in found.dangers:
        assert f"{told.heading} {told.words}" in text
    counts = found.summary.values
    assert counts["kinds"] == counts["fit"] + counts["measure"] + counts["keep"] == len(found.groups)


def test_what_decides_stands_in_the_row(made: Plan, found: Findings) -> None:
    """A chance stands alone: what is asked is told once, unless somebody asked for another one."""
    for line in found.fit:
        decision = line.group.first.decision
        assert line.shown is decision.result
        values = line.sure.values
        enough = round(decision.chance, 2) >= SURE
        assert values["chance"] == decision.chance and values["asked"] is None, "what is asked stands once"
        if decision.verdict is Verdict.FIT and not values["read"]:
            assert enough
        if decision.verdict is Verdict.KEEP and enough:
            assert line.nearest is not None and line.nearest.values["but"] is not None


def test_another_chance_that_was_asked_for_stands_in_the_row(made: Plan, found: Findings) -> None:
    asked = replace(made, choice=replace(made.choice, wishes=replace(made.choice.wishes, assurance=0.8)))
    kept = next(line.group for line in found.fit if line.nearest is not None)
    assert first_sheet.fit(asked, kept).sure.values["asked"] == 0.8


def test_what_stands_on_the_list_serves_its_lamps(made: Plan, found: Findings) -> None:
    by_name = {offer.name: offer for offer in made.vehicle.offers}
    for one in found.shopping:
        if str(one.article) not in by_name:
            continue
        offer = by_name[str(one.article)]
        assert one.base == offer.base and one.way is not None and one.lamps
        served = [group for group in found.groups if group.number in one.lamps]
        fitted = [made.choice.chosen[m.lamp.name] for group in served for m in group.members]
        assert all(f is not None and offer.name in (f.name, f.dim_level_of) for f in fitted)
        results = [group.first.fitted for group in served]
        needed = [r.lumens_to_buy for r in results if r is not None and r.source.name == offer.name]
        assert max(one.lumens) == max(needed)


def test_what_is_wrong_or_doubtful_is_to_be_watched(made: Plan, found: Findings) -> None:
    said = {told.heading.key: str(told.words) for told in found.watch}
    for group in found.groups:
        for source in group.first.sources[1:]:
            if source.result.colour is not None and not source.result.colour.inside:
                assert source.result.source.name in said["page.watch.wrong_colour"]
            # What only may run too warm is told of where it is fitted.
            if source.result.claim in DOUBTED and (
                source.result is group.first.fitted or source.result.claim is not Claim.TOO_WARM
            ):
                assert source.result.source.name in said["page.watch.claims"]
    assert all(o.name in said["page.watch.earth"] for o in made.vehicle.offers if o.either_polarity is False)


def test_circuits_stand_as_the_plan_has_them(rest: str, made: Plan, found: Findings) -> None:
    text = heading(rest, str(say("page.circuits.heading")))
    held = {c["name"]: c for c in data.plan_as_dict(made)["circuits"]}
    for c in made.circuits:
        assert c.change is not None
        assert f"{c.change.current[0]:.2f} → {c.change.current[1]:.2f}" in text
        assert f"{c.change.voltage[0]:.2f} → {c.change.voltage[1]:.2f}" in text
        assert held[c.circuit.name]["change"]["current_after_A"] == pytest.approx(c.change.current[1], rel=1e-5)
        told = [words for words in c.words[2:] if words.key != "fuse.judged"]
        for words in (*told, *c.cures):
            assert str(words) in text
        judged = next(words for words in c.words if words.key == "fuse.judged")
        right = c.change.fuse_state.verdict is FuseVerdict.LEAVE
        assert found.fuses is not None
        assert (str(judged) in text) is not right and (c.circuit.name in found.fuses.values["circuits"]) is right


def test_times_stand_as_the_plan_has_them(page: str, made: Plan) -> None:
    text = heading(page, str(say("page.timing.heading")))
    by_lamp = {lamp["name"]: lamp["timing"] for lamp in data.plan_as_dict(made)["lamps"]}
    for name, timing in made.timings.items():
        assert f"{1000 * timing.rise[1]:.0f} ({1000 * timing.rise[0]:.0f} to {1000 * timing.rise[2]:.0f})" in text
        np.testing.assert_allclose(by_lamp[name]["filament_rise_s"], timing.rise, rtol=1e-5)
        assert [d["speed_km_per_h"] for d in by_lamp[name]["distance"]] == [50.0, 90.0]
        if np.isfinite(timing.flash_share):
            assert f"{timing.flash_share:.2f} → {timing.led_flash_share:.2f}" in text


def test_ballast_says_watts_and_heat(made: Plan) -> None:
    part = next(p for p in made.vehicle.parts if p.kind == "ballast resistor")
    fitted = replace(made, choice=replace(made.choice, parts=((part, 4),)))
    (words,) = vehicle_findings.ballast(fitted)
    lit = made.vehicle.running_voltage**2 / part.resistance  # P = U2/R
    assert (words.values["lit"], words.values["flashing"]) == pytest.approx((lit, lit / 2))
    assert str(words) in Page(job_sheet.basis_html(fitted)).text
    assert not vehicle_findings.ballast(made)


def test_earth_is_told_where_it_is_positive_or_changes(rest: str, made: Plan) -> None:
    told = vehicle_findings.change_of_earth(made)
    assert told is not None
    title = str(say("page.earth.heading", now=told.now, after=told.after))
    text = heading(rest, title)
    assert "earth_after" in text and "contact breaker" in text and data.plan_as_dict(made)["earth"]
    small = plan_of(SMALL)
    for earth, is_told in (("positive", True), ("negative", False)):
        turned = replace(small, vehicle=replace(small.vehicle, earth=earth, earth_after=earth))
        assert (f"<h2>{title}</h2>" in job_sheet.basis_html(turned)) is is_told
    other = replace(made, vehicle=replace(made.vehicle, earth="negative", earth_after="negative"))
    assert data.plan_as_dict(other)["earth"] is None
    assert title not in job_sheet_text.report_text(other, full=True)


@pytest.mark.parametrize(("now", "after"), [("positive", "negative"), ("negative", "positive")])
def test_order_of_the_told_generator_and_each_of_its_cautions_once(made: Plan, now: str, after: str) -> None:
    vehicle = replace(made.vehicle, earth=now, earth_after=after, generator="field earthed inside")
    turned = replace(made, vehicle=vehicle)
    told = vehicle_findings.change_of_earth(replace(made, vehicle=vehicle))
    assert told is not None
    order = tasks.order_of_work("field earthed inside")
    cautions = {caution for step in order for caution in step.cautions}
    text = heading(job_sheet.job_sheet_html(turned), str(say("page.work.heading")))
    assert all(text.count(str(named(caution))) == 1 for caution in cautions)
    assert [step.what for step in told.steps] == [step.what for step in order]
    on = [step.battery_on for step, task in zip(told.steps, order, strict=True) if task.task.name == "TOUCH_FIELD"]
    assert on == [True]


def test_checks_cover_lamps_ratio_rate_amperes_and_voltage(sheet: str, made: Plan, found: Findings) -> None:
    text = heading(sheet, str(say("page.check.heading")))
    checks = found.checks
    assert checks.light is not None and checks.tail is not None and checks.flasher is not None
    by_name = {str(one.name): one for one in checks.light.readings}
    for group in found.groups:
        lit = not functions.function(group.lamp.function).tell_tale
        assert (group.name in by_name) == (lit and made.choice.chosen[group.lamp.name] is not None)
    for check in (checks.light, checks.tail, checks.flasher):
        assert str(check.what) in text and all(str(one.expect) in text for one in check.readings)
    held = data.plan_as_dict(made)["after_fitting"]
    assert [one["subject"]["key"] for one in held] == [check.subject.key for check in checks.all]
    assert {"page.check.stop", "page.check.flasher", "page.check.voltage"} <= {c.subject.key for c in checks.all}
    assert str(checks.tail.published) in str(checks.tail.expect) and "UN R148" in str(checks.tail.expect)
    for circuit in checks.circuits:
        assert f"{circuit.after:.2f}" in text and f"{circuit.voltage:.1f}" in text


def test_what_is_expected_of_a_reading_can_fail(found: Findings) -> None:
    """The span is the light against the old lamp's own reading: that of the ratio, of a lamp that burns steadily."""
    assert found.checks.light is not None
    for one in found.checks.light.readings:
        group = next(group for group in found.groups if group.name == one.name)
        result = group.first.fitted
        assert result is not None
        low, high = one.expect.values["low"], one.expect.values["high"]
        steady = result.draws["read over used"]
        assert result.ratio[0] * steady.min() * 0.99 <= low < high <= result.ratio[2] * steady.max() * 1.01
        assert high / low < 6.0


def test_candela_stand_against_each_limit_with_its_source(page: str, made: Plan, found: Findings) -> None:
    by_name = {lamp["name"]: lamp for lamp in data.plan_as_dict(made)["lamps"]}
    for group in found.groups:
        name = group.lamp.name
        text = Page("<section" + lamp_part(page, group.name).split("</section>")[0] + "</section>").text
        if name not in made.intensities:
            assert str(say("page.column.on_axis")) not in text and by_name[name]["intensity"] is None
            continue
        predicted = made.intensities[name]
        for interval in (predicted.filament, *predicted.intervals):
            assert (numbers.figures(interval) in text) is bool(predicted.measured or predicted.twin)
        told = candela_of(group)
        assert told and all(str(words.values["asked"]) in text for words in told)
        low, high = predicted.requirement.minimum.low, predicted.requirement.maxima[0].high
        assert re.search(rf"{low:g} to {high:g}(\u2020|\\*)? cd", str(told[0]))
        clause = next(c for c in found.clauses if group.name in c.lamps and c.limit.low == low)
        assert clause.limit.source == predicted.requirement.minimum.source
        held = by_name[name]["intensity"]
        assert all(limit["known"] and limit["source"] and limit["edition"] for limit in held["limits"])
        for row, interval in zip(held["on_axis"], (predicted.filament, *predicted.intervals), strict=True):
            np.testing.assert_allclose(row["intensity_cd"], interval, rtol=1e-5)


def test_every_published_number_stands_beside_how_it_is_known(rest: str, found: Findings) -> None:
    # Behind the number a sign; the signs are explained, and the clauses told, once.
    text = Page(rest).text
    told = list(re.finditer(r"Yardstick: [\d.]+ to [\d.]+(.?) cd", text))
    assert len(told) >= 6 and all(match[1] in ("\u2020", "*") for match in told)
    limits = heading(rest, str(say("page.limits.heading")))
    assert str(say("page.limits.explained")) in limits
    for clause in found.clauses:
        low, high = (clause.span.values[key] for key in ("low", "high"))
        assert f"{low:g} to {high:g} cd" in limits
        assert str(lamp_findings.citation(clause.limit).values["source"]) in limits


@pytest.mark.parametrize(
    ("interval", "low", "high", "against"),
    [
        ([61, 70, 80], 60, np.inf, Against.INSIDE),
        ([50, 70, 80], 60, np.inf, Against.NOT_SETTLED),
        ([10, 20, 30], 60, np.inf, Against.BELOW),
        ([200, 300, 400], -np.inf, 185, Against.ABOVE),
        ([100, 120, 185], -np.inf, 185, Against.INSIDE),
    ],
)
def test_an_interval_is_settled_only_when_all_of_it_is(
    made: Plan, interval: list[float], low: float, high: float, against: Against
) -> None:
    predicted = made.intensities["Stop lamp left"]
    limit = replace(predicted.requirement.limits[0], low=low, high=high, v_from=-np.inf, v_to=np.inf)
    changed = replace(
        predicted, requirement=replace(predicted.requirement, limits=(limit,)), filament=np.array(interval, dtype=float)
    )
    assert changed.against[0] == (against,)


def test_ranges_follow_allard_and_widen_with_the_interval(made: Plan) -> None:
    day, night = lamp_findings.seen_from(np.array([4.3, 20.0, 94.0]))
    # Allard's law E = I 0.05^(d/V)/d^2 by hand, in air of 10 km, at the thresholds that the table names.
    for distance, intensity, threshold in (
        (night[1], 94.0, 2e-7),
        (night[0], 4.3, 2e-5),
        (day[1], 94.0, 2e-4),
        (day[0], 4.3, 1e-3),
    ):
        assert intensity * 0.05 ** (distance / 1e4) / distance**2 == pytest.approx(threshold, rel=1e-6)
    flashing = lamp_findings.seen_from(np.array([4.3, 20.0, 94.0]), share=0.5)
    assert np.all(flashing < np.stack([day, night]))
    wide = lamp_findings.seen_from(np.array([1.0, 20.0, 300.0]))
    assert wide[0][0] < day[0] and wide[1][1] > night[1]


def test_the_replacement_is_described(page: str, found: Findings) -> None:
    text = Page(page).text
    for one in found.lamps:
        assert one.lamp.filament.rating is not None
        for words in filament_lamps.led_must_be(one.lamp.filament.rating, earth="positive"):
            assert str(words) in text
    assert any(words in found.lamps[0].replacement for words in found.common_replacement)


def test_the_flasher_is_a_danger_only_where_there_is_one() -> None:
    for flashes in (True, False):
        told = [one.heading.key for one in first_sheet.dangers((), True, flashes)]
        assert ("page.watch.flasher" in told) is flashes and len(told) == first_sheet.FEWEST_DANGERS


def group_of(found: Findings, lamp: str) -> AlikeFindings:
    return next(group for group in found.groups if lamp in [one.lamp.name for one in group.members])


def test_readings_stand_beside_the_prediction(page: str, made: Plan, found: Findings) -> None:
    assert made.readings is not None
    for finding in made.readings.findings:
        name = group_of(found, finding.ratio.lamp).name
        text = Page("<section" + lamp_part(page, name).split("</section>")[0] + "</section>").text
        assert numbers.interval(finding.ratio.ratio) in text and finding.ratio.new in text
        read = heading(page, str(say("page.readings.heading")))
        assert str(finding.ratio.light) in read and numbers.interval(finding.predicted) in read
    assert 'id="readings"' in page and "ratios" in data.plan_as_dict(made)["readings"]
    assert plan_of(SMALL).readings is None and 'id="readings"' not in basis_of(SMALL)
    assert data.plan_as_dict(replace(made, readings=None))["readings"] is None


def test_the_whole_text_says_what_to_measure(made: Plan, found: Findings) -> None:
    text = " ".join(job_sheet_text.report_text(made, full=True).split())
    for words in (say("page.text.circuits"), say("page.work.heading"), say("page.timing.heading")):
        assert str(words) in text
    for check in (found.checks.light, found.checks.tail, found.checks.flasher):
        assert check is not None and str(check.what) in text and str(check.expect).casefold() in text.casefold()


def test_approval_is_spoken_of_only_as_a_caution(page: str, made: Plan) -> None:
    for words in (Page(page).text, " ".join(job_sheet_text.report_text(made, full=True).split())):
        for sentence in re.findall(r"[^.:]*\bapprov[^.]*", words):
            assert re.search(r"can end|is approved together|This sheet approves nothing|Approval", sentence), sentence


# --- file ---------------------------------------------------------------------------------------------------------


def test_save_writes_both_pages_and_replaces_older_ones(tmp_path: Path) -> None:
    target = tmp_path / "van.html"
    target.write_text("old")
    job_sheet.save_job_sheet(plan_of(SMALL), target)
    assert target.read_text(encoding="utf-8") == sheet_of(SMALL)
    assert job_sheet.basis_beside(target).read_text(encoding="utf-8") == basis_of(SMALL)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["van.html", "van_basis.html"]


def test_save_refuses_what_it_cannot_write(made: Plan, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="folder does not exist"):
        job_sheet.save_job_sheet(made, tmp_path / "missing" / "van.html")
    with pytest.raises(InputError, match="this is a folder"):
        job_sheet.save_job_sheet(made, tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_write_that_fails_leaves_the_older_file_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "van.html"
    target.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(InputError, match="No space left on device"):
        job_sheet.save_job_sheet(plan_of(SMALL), target)
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["van.html"]


def test_every_caution_is_told_where_its_hazard_is(made: Plan) -> None:
    """A vehicle with every hazard tells all of them; one without a hazard does not tell its caution."""
    ballast = next(p for p in made.vehicle.parts if p.kind == "ballast resistor")
    timer = next(p for p in made.vehicle.parts if p.kind == "load-independent flasher")
    hazardous = replace(made, choice=replace(made.choice, parts=((ballast, 4), (timer, 1))))
    told = set()
    for report in made.circuits:
        wired = replace(report.circuit, flasher="hot wire", fuse=None, fuse_mark="none")
        state = report.change.fuse_state._replace(mark=FuseMark.NONE) if report.change else None
        assert report.change is not None and state is not None
        shown = replace(report, circuit=wired, change=report.change._replace(fuse_state=state))
        told |= set(vehicle_findings.hazards_of(hazardous, shown))
    as_it_is = replace(made.choice, chosen={lamp.name: lamp.fitted for lamp in made.vehicle.lamps}, fitted=())
    assert vehicle_findings.flashing_changes(made)
    assert not vehicle_findings.flashing_changes(replace(made, choice=as_it_is)), "no turn lamp changes"
    wanted = {Caution.HOT_BALLAST, Caution.BALLAST_WIRE, Caution.NO_FUSE, Caution.OUTAGE, Caution.HAZARDS}
    assert wanted | {Caution.FUSE_SIZE, Caution.SPARE_FILAMENTS} <= told
    plain = replace(made, choice=replace(made.choice, parts=()))
    quiet = {c for report in made.circuits for c in vehicle_findings.hazards_of(plain, report)}
    assert not quiet & {Caution.HOT_BALLAST, Caution.BALLAST_WIRE}
