"""The job sheet: it says what was computed, needs nothing from outside, and is written whole or not at all."""

import json
import os
import re
import time
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from lampkit import __version__, choice, job_sheet_basis, plan, report, signals, suggestion, vehicle
from lampkit.conversion import Assessment, Result, with_interval
from lampkit.errors import InputError
from lampkit.plan import Plan

VAN = Path(__file__).resolve().parent.parent / "data" / "library_van"
UNIT = re.compile(r"_(1|lm|V|W)$")
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
    return report.html(made)


# --- what to fit --------------------------------------------------------------------------------------------------


def test_suggestions_keep_to_the_limit_and_to_what_is_possible(made: Plan) -> None:
    for assessment in made.assessments:
        chosen = suggestion.suggest(assessment)
        if chosen.result is None:
            continue
        assert chosen.result.claim_verdict != "impossible"
        if assessment.colour_limit is not None:
            assert signals.inside(assessment.colour_limit, chosen.result.chromaticity)
        rivals = [
            r
            for r in assessment.results
            if r.claim_verdict != "impossible"
            and (assessment.colour_limit is None or signals.inside(assessment.colour_limit, r.chromaticity))
        ]
        assert chosen.chance >= max(suggestion.chance(assessment, r) for r in rivals) - 0.005 - 1e-9


def test_the_chance_of_both_is_no_greater_than_that_of_either(made: Plan) -> None:
    for assessment in made.assessments:
        for result in assessment.results:
            both = suggestion.chance(assessment, result)
            assert both <= result.probability + 1e-9
            if assessment.colour_limit is None:
                assert both == pytest.approx(result.probability)
            else:
                assert both <= result.share_inside + 1e-9
                assert both >= result.probability + result.share_inside - 1 - 1e-9


def with_ratio(result: Result, factor: float) -> Result:
    ratio = np.linspace(0.9, 1.1, len(result.draws["ratio"])) * factor
    return replace(result, ratio=factor * np.array([0.9, 1.0, 1.1]), draws={**result.draws, "ratio": ratio}, claim="", claim_verdict="")


@pytest.mark.parametrize(
    ("factors", "best", "verdict"),
    [
        ((0.5, 1.05, 3.0, 1.5), 3, "fit"),  # of two that are sure the dimmer one
        ((0.5, 1.0, 0.4, 0.3), 1, "fit, then measure"),
        ((0.5, 0.92, 0.4, 0.3), 1, "keep the filament"),
        ((0.5, 0.6, 0.4, 0.3), 1, "keep the filament"),  # where none has a chance the brightest comes nearest
    ],
)
def test_the_choice_follows_the_chances(made: Plan, factors: tuple[float, ...], best: int, verdict: str) -> None:
    lamp = next(a for a in made.assessments if len(a.results) >= 4)
    results = tuple(with_ratio(r, f) for r, f in zip(lamp.results[:4], factors, strict=True))
    chosen = suggestion.suggest(replace(lamp, results=results, colour_limit=None))
    assert chosen.result is results[best]
    assert chosen.verdict == verdict
    assert results[best].source.name in chosen.sentence


def test_nothing_on_offer_keeps_the_filament(made: Plan) -> None:
    lamp = made.assessments[0]
    assert "nothing is on offer" in suggestion.suggest(replace(lamp, results=())).sentence
    blue = replace(lamp, colour_limit=signals.region("UN", "blue"))
    chosen = suggestion.suggest(blue)
    assert chosen.result is None and chosen.verdict == "keep the filament" and "inside UN blue" in chosen.sentence
    boasting = replace(lamp, results=tuple(replace(r, claim_verdict="impossible") for r in lamp.results))
    assert "claim that is possible" in suggestion.suggest(boasting).sentence


@pytest.mark.parametrize(("chance", "words"), [(0.999, "above 99 %"), (0.004, "below 1 %"), (0.84, "84 %")])
def test_no_chance_is_called_certain(chance: float, words: str) -> None:
    assert suggestion.odds(chance) == words


def test_the_sheet_follows_the_choice_for_the_whole_vehicle(made: Plan, page: str) -> None:
    text = Page(page).text
    for lamp, assessment in zip(made.vehicle.lamps, made.assessments, strict=True):
        offer = made.choice.chosen[lamp.name]
        done = job_sheet_basis.decided(made, lamp, assessment)
        if offer is None:
            assert done.verdict == "keep the filament" and made.choice.kept[lamp.name] in done.sentence
        else:
            assert done.verdict in ("fit", "fit, then measure")
            assert done.result is not None and done.result.source.name == offer.name
    for article in made.choice.shopping_list()["article"]:
        assert article in text
    assert f"{made.choice.cost:.2f}" in text
    assert report.as_dict(made)["choice"]["price"] == pytest.approx(made.choice.cost)


# --- text ---------------------------------------------------------------------------------------------------------


def test_text_fits_100_columns_and_names_everything(made: Plan) -> None:
    text = report.text(made)
    assert max(map(len, text.splitlines())) <= 100
    for _, assessment in job_sheet_basis.alike(made):
        assert assessment.name in text
        for result in assessment.results:
            assert with_interval(result.ratio) in text
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


def numbers(held: object, path: str = "") -> list[tuple[str, object]]:
    if isinstance(held, dict):
        return [found for key, value in held.items() for found in numbers(value, key)]
    if isinstance(held, list):
        intervals = held and all(isinstance(v, float | int) or v is None for v in held)
        return [(path, held)] if intervals else [found for value in held for found in numbers(value, path)]
    return [(path, held)] if isinstance(held, float) else []


def test_data_are_json_with_units_in_the_keys(made: Plan) -> None:
    data = json.loads(json.dumps(report.as_dict(made), allow_nan=False))
    for key, value in numbers({k: v for k, v in data.items() if k != "assumptions"}):
        assert UNIT.search(key) or key == "price", key
        if isinstance(value, list):
            assert len(value) == 3 and value == sorted(value), key
    for assumption in data["assumptions"]:
        low, middle, high = assumption["interval"]
        assert low <= middle <= high and assumption["source"] and assumption["unit"]
    assert [lamp["name"] for lamp in data["lamps"]] == [lamp.name for lamp in made.vehicle.lamps]
    assert data["seed"] == made.seed and data["draws"] == 400 and data["kit"]["version"] == __version__


def test_data_hold_what_was_computed(made: Plan) -> None:
    data = report.as_dict(made)
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
    assert report.as_dict(odd)["lamps"][0]["candidates"][0]["lumens_to_buy_lm"] is None
    assert "unbounded" in report.html(odd)


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
        assert chosen.sentence in text
        if chosen.result is not None:
            assert text.index(chosen.sentence) < text.index(chosen.result.why, text.index(chosen.sentence))


def test_page_warns_where_the_hazard_is(page: str) -> None:
    text = Page(page).text
    for word in ("approval", "licensed tester", "dazzle", "LED or along the axis", "burns skin", "alternators",
                 "disconnect the battery", "never on a road", "Do not fit"):  # fmt: skip
        assert word in text, word


def test_nothing_is_ever_called_legal(page: str, made: Plan) -> None:
    for words in (page, report.text(made), json.dumps(report.as_dict(made))):
        assert not re.search(
            r"\b(il)?legal(ly)?\b|street[- ]legal|road[- ]legal|\bcompli(es|ant)\b", words, re.IGNORECASE
        )


def test_each_limit_says_how_it_is_known(page: str, made: Plan) -> None:
    text = Page(page).text
    limits = {a.colour_limit.name: a.colour_limit for a in made.assessments if a.colour_limit is not None}
    boundaries = [b for limit in limits.values() for b in limit.boundaries]
    remembered = [b for b in boundaries if b.known == "from memory"]
    assert remembered and text.count("from memory, check before you rely on it") == len(remembered)
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
    assert "invented, as its file says" not in report.html(plain).split("<footer>")[1]


def test_names_cannot_break_the_page(made: Plan) -> None:
    name = 'Van <script>alert("x")</script> & sons'
    first = made.assessments[0]
    lamp = replace(made.vehicle.lamps[0], name="<i>Stop</i>")
    changed = replace(
        made,
        vehicle=replace(made.vehicle, name=name, lamps=(lamp,)),
        assessments=(replace(first, name="<i>Stop</i>"),),
    )
    page = report.html(changed)
    assert "<script" not in page and "<i>" not in page
    assert not Page(page).open


def test_a_vehicle_without_candidates_still_has_a_sheet(made: Plan) -> None:
    lamps = tuple(replace(lamp, candidates=()) for lamp in made.vehicle.lamps[:1])
    bare: tuple[Assessment, ...] = (replace(made.assessments[0], results=()),)
    vehicle_alone = replace(made.vehicle, lamps=lamps)
    empty = replace(made, vehicle=vehicle_alone, assessments=bare, choice=choice.choose(vehicle_alone, bare))
    stays = job_sheet_basis.decided(empty, lamps[0], bare[0])
    assert stays.result is None and stays.verdict == "keep the filament"
    assert stays.sentence in Page(report.html(empty)).text
    assert stays.sentence in " ".join(report.text(empty).split())


def test_page_is_small_and_quick_to_make() -> None:
    # Processor time, so that a busy machine does not count against it.
    start = time.process_time()
    page = report.html(plan.make(vehicle.load(VAN)))
    assert time.process_time() - start < 20.0
    assert len(page.encode()) < 3e6


# --- file ---------------------------------------------------------------------------------------------------------


def test_save_writes_the_page_and_replaces_an_older_one(made: Plan, page: str, tmp_path: Path) -> None:
    target = tmp_path / "van.html"
    target.write_text("old")
    report.save(made, target)
    assert target.read_text(encoding="utf-8") == page
    assert [p.name for p in tmp_path.iterdir()] == ["van.html"]


def test_save_refuses_what_it_cannot_write(made: Plan, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no folder"):
        report.save(made, tmp_path / "missing" / "van.html")
    with pytest.raises(InputError, match="this is a folder"):
        report.save(made, tmp_path)
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
        report.save(made, target)
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["van.html"]
