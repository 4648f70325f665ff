"""The job sheet: it says what was computed, needs nothing from outside, and is written whole or not at all."""

import json
import os
import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from lampkit import __version__, conversion, numbers
from lampkit.conversion import Assessment, Claim, Result, Verdict
from lampkit.errors import InputError
from lampkit.page import after_fitting, job_sheet_basis, job_sheet_data, lamp_facts, report, vehicle_facts
from lampkit.plan import choice, plan
from lampkit.plan.plan import Plan
from lampkit.rules import colours
from lampkit.statements import say
from lampkit.vehicle import vehicle

VAN = Path(__file__).resolve().parents[2] / "data" / "library_van"
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
    return plan.make(vehicle.load(VAN), draws=400)


@pytest.fixture(scope="module")
def page(made: Plan) -> str:
    return report.job_sheet_html(made)


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
        assert chosen.chance >= max(r.chance for r in rivals) - 0.005 - 1e-9


def test_the_chance_of_both_is_no_greater_than_that_of_either(made: Plan) -> None:
    for assessment in made.assessments:
        for result in assessment.results:
            both = result.chance
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


def test_the_sheet_follows_the_choice_for_the_whole_vehicle(made: Plan, page: str) -> None:
    text = Page(page).text
    for lamp, assessment in zip(made.vehicle.lamps, made.assessments, strict=True):
        offer = made.choice.chosen[lamp.name]
        done = job_sheet_basis.decided(made, lamp, assessment)
        if offer is None:
            assert done.verdict is Verdict.KEEP and done.statement.values["why"] == made.choice.kept[lamp.name]
        else:
            assert done.verdict in (Verdict.FIT, Verdict.FIT_THEN_MEASURE)
            assert done.result is not None and done.result.source.name == offer.name
    for article in made.choice.shopping_list()["article"]:
        assert article in text
    assert f"{made.choice.cost:.2f}" in text
    assert job_sheet_data.plan_as_dict(made)["choice"]["price"] == pytest.approx(made.choice.cost)


# --- text ---------------------------------------------------------------------------------------------------------


def test_text_fits_100_columns_and_names_everything(made: Plan) -> None:
    text = report.report_text(made)
    assert max(map(len, text.splitlines())) <= 100
    for _, assessment in job_sheet_basis.alike(made):
        assert assessment.name in text
        for result in assessment.results:
            assert numbers.interval(result.ratio) in text
    assert f"seed {made.seed}" in text and "400 draws" in text and "licensed tester" in text


def test_lamps_that_are_alike_stand_together_and_none_is_lost(made: Plan) -> None:
    groups = job_sheet_basis.alike(made)
    assert len(groups) < len(made.vehicle.lamps)
    for lamp in made.vehicle.lamps:
        words = set(lamp.name.split())
        assert any(words <= set(a.name.replace(",", "").split()) for _, a in groups)
    for joint, assessment in groups:
        assert joint.lens is assessment.lens


# --- plain data ---------------------------------------------------------------------------------------------------


def number_leaves(held: object, path: str = "") -> list[tuple[str, object]]:
    if isinstance(held, dict):
        if set(held) == {"key", "values", "text"}:
            return []  # the values of a statement are named by its template
        return [found for key, value in held.items() for found in number_leaves(value, key)]
    if isinstance(held, list):
        intervals = held and all(isinstance(v, float | int) or v is None for v in held)
        return [(path, held)] if intervals else [found for value in held for found in number_leaves(value, path)]
    return [(path, held)] if isinstance(held, float) else []


def test_data_are_json_with_units_in_the_keys(made: Plan) -> None:
    data = json.loads(json.dumps(job_sheet_data.plan_as_dict(made), allow_nan=False))
    # Where quantities of many kinds stand in one list, each has its unit beside it.
    learnt = [known.pop("quantities") for known in data["readings"]["lenses"]]
    assert all(quantity["unit"] for quantities in learnt for quantity in quantities)
    for key, value in number_leaves({k: v for k, v in data.items() if k != "assumptions"}):
        assert UNIT.search(key) or key == "price", key
        if isinstance(value, list):
            assert len(value) == 3 and value == sorted(value), key
    for assumption in data["assumptions"]:
        low, middle, high = assumption["interval"]
        assert low <= middle <= high and assumption["source"] and assumption["unit"]
    assert [lamp["name"] for lamp in data["lamps"]] == [lamp.name for lamp in made.vehicle.lamps]
    assert data["seed"] == made.seed and data["draws"] == 400 and data["kit"]["version"] == __version__


def test_data_hold_what_was_computed(made: Plan) -> None:
    data = job_sheet_data.plan_as_dict(made)
    for lamp, assessment in zip(data["lamps"], made.assessments, strict=True):
        for candidate, result in zip(lamp["candidates"], assessment.results, strict=True):
            np.testing.assert_allclose(candidate["light_against_filament_1"], result.ratio, rtol=1e-5)
            np.testing.assert_allclose(candidate["flux_through_lens_lm"], result.flux_through, rtol=1e-5)
            assert candidate["light_source"] == result.source.name
        assert (lamp["colour_limit"] is None) == (assessment.colour_limit is None)


def test_what_has_no_bound_becomes_null(made: Plan) -> None:
    first = made.assessments[0]
    endless = replace(first.results[0], lumens_to_buy=float("inf"))
    odd = replace(made, assessments=(replace(first, results=(endless, *first.results[1:])), *made.assessments[1:]))
    assert job_sheet_data.plan_as_dict(odd)["lamps"][0]["candidates"][0]["lumens_to_buy_lm"] is None
    assert "unbounded" in report.job_sheet_html(odd)


# --- page ---------------------------------------------------------------------------------------------------------


def test_page_needs_nothing_from_outside(page: str) -> None:
    tags = Page(page).tags
    for tag, attributes in tags:
        assert tag not in ("script", "iframe", "link", "object", "embed")
        for key, value in attributes.items():
            if key in ("src", "href", "xlink:href", "srcset", "data"):
                assert value is not None and value.startswith(("#", "data:image/")), (tag, key, value)
    assert not re.search(r"url\((?!#)|@import", page)


def test_page_is_well_formed_and_links_lead_somewhere(page: str) -> None:
    parsed = Page(page)
    assert not parsed.open
    ids = [a["id"] for tag, a in parsed.tags if "id" in a and tag in ("section", "div", "figure")]
    assert len(ids) == len(set(ids))
    targets = {a["href"] for tag, a in parsed.tags if tag == "a"}
    assert targets and {t[1:] for t in targets if t} <= set(ids)


def test_every_picture_is_described(page: str) -> None:
    pictures = [(tag, a) for tag, a in Page(page).tags if tag in ("svg", "img")]
    assert len(pictures) > 10
    for tag, attributes in pictures:
        words = attributes.get("alt") if tag == "img" else attributes.get("aria-label")
        assert words and len(words) > 30
        assert tag == "img" or attributes.get("role") == "img"


def test_page_says_first_what_to_fit_then_why(page: str, made: Plan) -> None:
    text = Page(page).text
    for lamp, assessment in job_sheet_basis.alike(made):
        chosen = job_sheet_basis.decided(made, lamp, assessment)
        assert str(chosen.statement) in text
        if chosen.result is not None:
            start = text.index(str(chosen.statement))
            assert start < text.index(str(chosen.result.why), start)


def test_page_warns_where_the_hazard_is(page: str) -> None:
    text = Page(page).text
    for word in ("approval", "licensed tester", "dazzle", "LED or along the axis", "burns skin", "alternators",
                 "disconnect the battery", "never on a road", "Do not fit"):  # fmt: skip
        assert word in text, word


def test_nothing_is_ever_called_legal(page: str, made: Plan) -> None:
    for words in (page, report.report_text(made), json.dumps(job_sheet_data.plan_as_dict(made))):
        assert not re.search(
            r"\b(il)?legal(ly)?\b|street[- ]legal|road[- ]legal|\bcompli(es|ant)\b", words, re.IGNORECASE
        )


def test_each_limit_says_how_it_is_known(page: str, made: Plan) -> None:
    text = Page(page).text
    limits = {a.colour_limit.name: a.colour_limit for a in made.assessments if a.colour_limit is not None}
    boundaries = [b for limit in limits.values() for b in limit.boundaries]
    part = text.split("Published limits of colour that were used")[1].split("Assumptions")[0]
    remembered = [b for b in boundaries if b.known == "from memory"]
    assert remembered and part.count("from memory, check before you rely on it") == len(remembered)
    for b in boundaries:
        assert b.inequality in text and b.source in text


def lamp_part(page: str, name: str) -> str:
    return next(part for part in page.split("<section")[1:] if f"<h2>{name}</h2>" in part)


def test_lamps_without_a_road_rule_get_no_comparison(page: str, made: Plan) -> None:
    free = [a for lamp, a in job_sheet_basis.alike(made) if not lamp.road_rule]
    assert free
    for assessment in free:
        part = lamp_part(page, assessment.name)
        assert "no published limit was applied" in part
        assert "against the limit" not in part and "inside by" not in part and "past the" not in part


def test_every_assumption_stands_there_with_its_source(page: str, made: Plan) -> None:
    part = page.split("<h2>Assumptions</h2>")[1]
    text = " ".join(unescape(re.sub(r"<[^>]+>", " ", part)).split())
    for assessment in made.assessments:
        for (owner, name), belief in assessment.garage.beliefs.items():
            assert owner in text and name in text
            assert " ".join(belief.source.split()) in text


def test_footer_says_seed_draws_version_and_what_is_invented(page: str, made: Plan) -> None:
    footer = page.split("<footer>")[1]
    for words in (f"seed {made.seed}", "400 draws", __version__, "invented"):
        assert words in footer
    plain = replace(made, vehicle=replace(made.vehicle, note="Ours."))
    assert "invented, as its file says" not in report.job_sheet_html(plain).split("<footer>")[1]


def test_names_cannot_break_the_page(made: Plan) -> None:
    name = 'Van <script>alert("x")</script> & sons'
    first = made.assessments[0]
    lamp = replace(made.vehicle.lamps[0], name="<i>Stop</i>")
    changed = replace(
        made,
        vehicle=replace(made.vehicle, name=name, lamps=(lamp,)),
        assessments=(replace(first, name="<i>Stop</i>"),),
    )
    page = report.job_sheet_html(changed)
    assert "<script" not in page and "<i>" not in page
    assert not Page(page).open


def test_a_vehicle_without_candidates_still_has_a_sheet(made: Plan) -> None:
    lamps = tuple(replace(lamp, candidates=()) for lamp in made.vehicle.lamps[:1])
    bare: tuple[Assessment, ...] = (replace(made.assessments[0], results=()),)
    vehicle_alone = replace(made.vehicle, lamps=lamps)
    empty = replace(made, vehicle=vehicle_alone, assessments=bare, choice=choice.choose(vehicle_alone, bare))
    stays = job_sheet_basis.decided(empty, lamps[0], bare[0])
    assert stays.result is None and stays.verdict is Verdict.KEEP
    assert str(stays.statement) in Page(report.job_sheet_html(empty)).text
    assert str(stays.statement) in " ".join(report.report_text(empty).split())


def test_page_is_small(page: str) -> None:
    assert len(page.encode()) < 3e6


# --- the whole vehicle ----------------------------------------------------------------------------------------------


def heading(page: str, words: str) -> str:
    """The text of the section with a heading."""
    found = next(part for part in page.split("<section")[1:] if f">{words}</h" in part)
    return Page(f"<section{found.split('</section>')[0]}</section>").text


def test_the_first_page_says_what_to_fit_what_to_buy_and_what_to_watch(page: str, made: Plan) -> None:
    first = page.split("</section>")[0]
    for words in ("What to fit", "What to buy", "What to watch"):
        assert f"<h2>{words}</h2>" in first
    text = heading(page, "What to fit")
    kept = [a for lamp, a in job_sheet_basis.alike(made) if made.choice.chosen[lamp.name] is None]
    assert kept
    for assessment in kept:
        row = first.split(f">{assessment.name}</a>")[1].split("</tr>")[0]
        assert ">keep<" in row and f"filament {assessment.old.source.name}" in row
        assert not any(r.source.name in row for r in assessment.results), "the best on offer is not what is fitted"
        assert f"{assessment.name} keeps its filament" in text
    for sentence in made.choice.fitted:
        assert str(sentence) in text
    counts = [int(n) for n in re.findall(r"\d+", vehicle_facts.summary(made))]
    assert counts[0] == sum(counts[1:]) == len(job_sheet_basis.alike(made))


def test_what_is_wrong_or_doubtful_is_to_be_watched(made: Plan) -> None:
    said = " ".join(words for _, words in vehicle_facts.to_watch(made))
    for _, assessment in job_sheet_basis.alike(made):
        for result in assessment.results:
            if (result.colour is not None and not result.colour.inside) or result.claim is Claim.IMPOSSIBLE:
                assert result.source.name in said
    assert all(offer.name in said for offer in made.vehicle.offers if not offer.either_polarity)


def test_circuits_stand_as_the_plan_has_them(page: str, made: Plan) -> None:
    text = heading(page, "Circuits before and after")
    data = {c["name"]: c for c in job_sheet_data.plan_as_dict(made)["circuits"]}
    for c in made.circuits:
        assert c.change is not None
        assert f"{c.change.current[0]:.2f} → {c.change.current[1]:.2f}" in text
        assert f"{c.change.voltage[0]:.2f} → {c.change.voltage[1]:.2f}" in text
        assert data[c.circuit.name]["change"]["current_after_A"] == pytest.approx(c.change.current[1], rel=1e-5)
        for words in (*c.words[2:], *c.cures):
            assert str(words) in text
    flashing = next(c for c in made.circuits if c.circuit.flasher is not None)
    assert any("With the filaments" in str(words) for words in flashing.words)


def test_times_stand_as_the_plan_has_them(page: str, made: Plan) -> None:
    text = heading(page, "How quickly it lights")
    by_lamp = {lamp["name"]: lamp["timing"] for lamp in job_sheet_data.plan_as_dict(made)["lamps"]}
    for name, timing in made.timings.items():
        assert f"{1000 * timing.rise[1]:.0f} ({1000 * timing.rise[0]:.0f} to {1000 * timing.rise[2]:.0f})" in text
        np.testing.assert_allclose(by_lamp[name]["filament_rise_s"], timing.rise, rtol=1e-5)
        assert [d["speed_km_per_h"] for d in by_lamp[name]["distance"]] == [50.0, 90.0]
        if np.isfinite(timing.flash_share):
            assert f"{timing.flash_share:.2f} → {timing.led_flash_share:.2f}" in text


def test_ballast_says_watts_and_heat(made: Plan) -> None:
    part = next(p for p in made.vehicle.parts if p.kind == "ballast resistor")
    fitted = replace(made, choice=replace(made.choice, parts=((part, 4),)))
    (words,) = vehicle_facts.ballast_words(fitted)
    lit = made.vehicle.running_voltage**2 / part.resistance  # P = U2/R
    assert f"{lit:.0f} W while lit, {lit / 2:.0f} W on average" in words and "Screw it to metal" in words
    assert words in Page(report.job_sheet_html(fitted)).text
    assert not vehicle_facts.ballast_words(made)


def test_positive_earth_is_told_only_where_it_applies(page: str, made: Plan) -> None:
    text = heading(page, "Positive earth")
    assert "dynamo" in text and "earth lead" in text and job_sheet_data.plan_as_dict(made)["positive_earth"]
    other = replace(made, vehicle=replace(made.vehicle, earth="negative"))
    assert "Positive earth" not in Page(report.job_sheet_html(other)).text
    assert job_sheet_data.plan_as_dict(other)["positive_earth"] is None
    assert "Positive earth" not in report.report_text(other)


def test_checklist_covers_lamps_ratio_rate_and_voltage(page: str, made: Plan) -> None:
    text = heading(page, "What to measure after fitting")
    checks = after_fitting.checklist(made)
    assert [c._asdict() for c in checks] == job_sheet_data.plan_as_dict(made)["after_fitting"]
    for lamp, assessment in job_sheet_basis.alike(made):
        told = any(assessment.name in check.expect for check in checks)
        assert told == (made.choice.chosen[lamp.name] is not None)
    for check in checks:
        assert check.what in text and check.expect in text
    assert "Stop against tail" in text and "Count the flashes" in text and "Voltage at the holders" in text


def test_candela_stand_against_each_limit_with_its_source(page: str, made: Plan) -> None:
    by_name = {lamp["name"]: lamp for lamp in job_sheet_data.plan_as_dict(made)["lamps"]}
    for lamp, assessment in job_sheet_basis.alike(made):
        text = Page("<section" + lamp_part(page, assessment.name).split("</section>")[0] + "</section>").text
        if lamp.name not in made.intensities:
            assert "on the axis [cd]" not in text and by_name[lamp.name]["intensity"] is None
            continue
        found = made.intensities[lamp.name]
        for interval in (found.filament, *found.intervals):
            assert lamp_facts.candela(interval) in text
        for limit in found.requirement.limits:
            if limit.v_from <= 0 < limit.v_to:
                assert lamp_facts.limit_size(limit) in text and lamp_facts.citation(limit) in text
        data = by_name[lamp.name]["intensity"]
        assert all(limit["known"] and limit["source"] and limit["edition"] for limit in data["limits"])
        for row, interval in zip(data["on_axis"], (found.filament, *found.intervals), strict=True):
            np.testing.assert_allclose(row["intensity_cd"], interval, rtol=1e-5)


def test_every_published_number_stands_beside_how_it_is_known(page: str, made: Plan) -> None:
    # After "at least 60 cd (...)", the bracket with source and status closes before the next sentence begins.
    text = Page(page).text
    numbers_told = list(re.finditer(r"at (least|most) [\d.]+ (cd|times) \(", text))
    assert len(numbers_told) > 20
    for match in numbers_told:
        bracket = re.search(r"\[([^\]]+)\]", text[match.start() : match.start() + 500])
        assert bracket and re.search("from memory|read in a secondary text|published", bracket[1]), match[0]


@pytest.mark.parametrize(
    ("interval", "low", "high", "words"),
    [
        ([61, 70, 80], 60, np.inf, "inside"),
        ([50, 70, 80], 60, np.inf, "not settled"),
        ([10, 20, 30], 60, np.inf, "below"),
        ([200, 300, 400], -np.inf, 185, "above"),
        ([100, 120, 185], -np.inf, 185, "inside"),
    ],
)
def test_an_interval_is_settled_only_when_all_of_it_is(
    made: Plan, interval: list[float], low: float, high: float, words: str
) -> None:
    found = made.intensities["Stop lamp left"]
    limit = replace(found.requirement.limits[0], low=low, high=high, v_from=-np.inf, v_to=np.inf)
    changed = replace(
        found, requirement=replace(found.requirement, limits=(limit,)), filament=np.array(interval, dtype=float)
    )
    assert lamp_facts.on_axis(changed).verdicts[0] == (words,)


def test_ranges_follow_allard_and_widen_with_the_interval(made: Plan) -> None:
    day, night = lamp_facts.seen_from(np.array([4.3, 20.0, 94.0]))
    # Allard's law E = I 0.05^(d/V)/d^2 by hand, in air of 10 km, at the thresholds that the table names.
    for distance, intensity, threshold in (
        (night[1], 94.0, 2e-7),
        (night[0], 4.3, 2e-5),
        (day[1], 94.0, 2e-4),
        (day[0], 4.3, 1e-3),
    ):
        assert intensity * 0.05 ** (distance / 1e4) / distance**2 == pytest.approx(threshold, rel=1e-6)
    flashing = lamp_facts.seen_from(np.array([4.3, 20.0, 94.0]), share=0.5)
    assert np.all(flashing < np.stack([day, night]))
    wide = lamp_facts.seen_from(np.array([1.0, 20.0, 300.0]))
    assert wide[0][0] < day[0] and wide[1][1] > night[1]


def test_brightness_of_red_is_a_range_with_its_models_named(page: str, made: Plan) -> None:
    from lampkit.visibility import brightness

    text = Page(page).text
    assert "times as bright as its luminance says" in text
    for lamp, result in ((lamp, a.old) for lamp, a in zip(made.vehicle.lamps, made.assessments, strict=True)):
        words = lamp_facts.brightness_words(lamp, result)
        assert bool(words) == (lamp.lens.colour == "red" and lamp.road_rule)
        if words:
            low, high = brightness.brightness_range(result.chromaticity)
            assert f"{low:.1f} to {high:.1f} times" in words and all(name in words for name in brightness.MODELS)


def test_the_replacement_is_described(page: str, made: Plan) -> None:
    from lampkit.sources import filament_lamps

    text = Page(page).text
    for lamp in made.vehicle.lamps:
        assert lamp.filament.rating is not None
        for said in filament_lamps.led_must_be(lamp.filament.rating, earth="positive"):
            assert str(said) in text
    common = made.must_all_be
    assert common and all(said in made.must_be(made.vehicle.lamps[0].name) for said in common)


def test_readings_stand_beside_the_prediction(page: str, made: Plan) -> None:
    assert made.readings is not None
    for finding in made.readings.findings:
        name = next(a.name for lamp, a in job_sheet_basis.alike(made)
                    if finding.ratio.lamp in [one.name for one in lamp_facts.members(made, lamp)])  # fmt: skip
        text = Page("<section" + lamp_part(page, name).split("</section>")[0] + "</section>").text
        assert str(finding.agreement.sentence) in text
    assert 'id="readings"' in page and "ratios" in job_sheet_data.plan_as_dict(made)["readings"]
    without = replace(made, readings=None)
    assert (
        'id="readings"' not in report.job_sheet_html(without)
        and job_sheet_data.plan_as_dict(without)["readings"] is None
    )


def test_text_says_what_to_watch_and_to_measure(made: Plan) -> None:
    text = " ".join(report.report_text(made).split())
    for words in ("What to watch", "Circuits before and after", "How quickly it lights", "cd on the axis"):
        assert words in text
    for check in after_fitting.checklist(made):
        assert " ".join(check.what.split()) in text


def test_approval_is_spoken_of_only_as_a_caution(page: str, made: Plan) -> None:
    for words in (Page(page).text, " ".join(report.report_text(made).split())):
        for sentence in re.findall(r"[^.:]*\bapprov[^.]*", words):
            assert re.search(r"can end|is approved together|This sheet approves nothing|Approval", sentence), sentence


# --- file ---------------------------------------------------------------------------------------------------------


def test_save_writes_the_page_and_replaces_an_older_one(made: Plan, page: str, tmp_path: Path) -> None:
    target = tmp_path / "van.html"
    target.write_text("old")
    report.save_job_sheet(made, target)
    assert target.read_text(encoding="utf-8") == page
    assert [p.name for p in tmp_path.iterdir()] == ["van.html"]


def test_save_refuses_what_it_cannot_write(made: Plan, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no folder"):
        report.save_job_sheet(made, tmp_path / "missing" / "van.html")
    with pytest.raises(InputError, match="this is a folder"):
        report.save_job_sheet(made, tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_write_that_fails_leaves_the_older_file_alone(
    made: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "van.html"
    target.write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(InputError, match="No space left on device"):
        report.save_job_sheet(made, target)
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["van.html"]
