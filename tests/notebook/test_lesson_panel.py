"""The lesson in a notebook without a browser: guesses are kept, mistakes answered, nothing is told before its time."""

import json
import re
from collections.abc import Callable
from html import unescape
from typing import Any
from urllib.parse import unquote

import ipywidgets as widgets
import pytest

from lampkit import tables
from lampkit.errors import InputError
from lampkit.lesson import lesson_file
from lampkit.lesson.lesson_file import Question
from lampkit.measurement import compare_readings, load_log
from lampkit.notebook import background_rule, lesson, show_three_ways
from lampkit.notebook.lesson import LessonWalk
from lampkit.sources import filament
from lampkit.statements import say

LESSON = lesson_file.load()
QUESTIONS = [(s.key, q) for s in LESSON.sections for q in s.questions]


def below(box: Any) -> list[Any]:
    found = [box]
    for child in getattr(box, "children", ()):
        found += below(child)
    return found


def said(box: Any) -> str:
    html = " ".join(w.value for w in below(box) if isinstance(w, widgets.HTML))
    return unescape(re.sub(r"\s+", " ", re.sub(r"<style>.*?</style>|<[^>]+>", " ", html)))


def asked(step: widgets.VBox, question: Question) -> widgets.VBox:
    name = f"lampkit-question-{question.key.replace('_', '-')}"
    (box,) = [w for w in below(step) if name in getattr(w, "_dom_classes", ())]
    return box


def answer(box: widgets.VBox, given: object) -> str:
    (field,) = [w for w in below(box) if isinstance(w, widgets.RadioButtons | widgets.Text | widgets.Textarea)]
    field.value = given if isinstance(field, widgets.RadioButtons) else str(given)
    (button,) = [w for w in below(box) if isinstance(w, widgets.Button)]
    button.click()
    return said(box)


def right(question: Question) -> object:
    return f"{question.answer:.4g}" if question.kind == "number" else question.answer or "Three sentences."


@pytest.mark.parametrize(("section", "question"), QUESTIONS, ids=[q.key for _, q in QUESTIONS])
def test_each_question_answers_right_and_each_known_mistake(section: str, question: Question) -> None:
    for mistake in () if question.kept else question.mistakes:
        box = asked(LessonWalk("white_behind_red").step(section), question)
        typed = f"{mistake.value:.6g}" if question.kind == "number" else mistake.value
        told = answer(box, typed)
        assert f"✗ Not so. {mistake.reveals}" in told
        assert question.why not in told, "the first wrong try does not tell"
        told = answer(box, typed)
        assert lesson_file.told(question) in told
        assert question.why in told, "the second one does"
    told = answer(asked(LessonWalk("white_behind_red").step(section), question), right(question))
    assert ("☐ Kept." if question.kept else "✓ Right.") in told
    assert question.why in told


def test_nothing_is_told_before_its_time() -> None:
    """What the whole notebook shows when it is run and nothing is answered: no why, no meaning of a mistake."""
    walk = LessonWalk("white_behind_red")
    shown = " ".join(said(walk.step(s.key)) for s in LESSON.sections)
    shown += (
        said(walk.cards()) + said(walk.summary()) + " ".join(said(walk.experiment(e.key)) for e in LESSON.experiments)
    )
    for _, question in QUESTIONS:
        assert not question.why or question.why not in shown
        assert not [m for m in question.mistakes if m.reveals in shown]
    for told in (*(card.answer for card in LESSON.half_truths), *(e.doubt for e in LESSON.experiments)):
        assert told not in shown


def test_the_guess_comes_back_beside_what_comes_out() -> None:
    walk = LessonWalk("white_behind_red")
    (guess,) = LESSON.section("guess").questions
    told = answer(asked(walk.step("guess"), guess), "the cool white LED")
    assert "✓" not in told and "✗" not in told, "a guess is not judged"
    step = walk.step("lens")
    for question in LESSON.section("lens").questions:
        assert "your guess" not in said(step)
        answer(asked(step, question), right(question))
    assert "your guess" in said(step)
    assert guess.mistakes[1].reveals in said(step)


def test_the_second_lesson_brings_its_guess_back_too() -> None:
    walk, other = LessonWalk("fair_comparison"), lesson_file.load("fair_comparison")
    (guess,) = other.section("guess").questions
    answer(asked(walk.step("guess"), guess), guess.mistakes[0].value)
    step = walk.step("background")
    for question in other.section("background").questions:
        assert guess.mistakes[0].reveals not in said(step)
        answer(asked(step, question), right(question))
    assert guess.mistakes[0].reveals in said(step)


def test_the_rule_of_the_background_follows_its_sliders() -> None:
    """(R + b)/(1 + b): a quarter of the light with a background of 0.35 of the old lamp's reads 0.44."""
    background, true, picture = background_rule().children[:3]
    background.value, true.value = 0.35, 0.25
    assert f"{(0.25 + 0.35) / 1.35:.2f}" in picture.value
    background.value = 0.0
    assert "divided as read 0.25, true 0.25" in picture.value


def test_a_ratio_is_told_in_three_ways_and_the_factor_explained() -> None:
    """Of the invented log, by hand: (30.1 - 2.15)/(40.4 - 2.175) = 0.73; as read 30.1/40.4 = 0.745."""
    log = load_log(tables.folder() / "library_van" / "readings.csv")
    comparison = compare_readings(log)
    shown = show_three_ways(comparison).data
    first = [float(v) for v in re.findall(r">(\d\.\d\d)</td>", shown)[:6]]
    assert first[:2] == [0.75, 0.73]
    assert first[3] == pytest.approx(first[1] * first[2], abs=0.02)
    assert first[4] < first[3] < first[5]
    assert str(say("lesson.many_factors")) not in shown
    assert "not told to the kit" in shown
    lit = {(r.lamp, r.source): filament("P21W").spectrum for r in log.readings}
    lit |= {(f"{r.lamp} without lens", r.source): filament("P21W").spectrum for r in log.readings}
    assert str(say("lesson.many_factors")) in show_three_ways(compare_readings(log, light=lit)).data


def test_the_own_page_holds_guesses_answers_and_mistakes_and_can_be_saved() -> None:
    walk = LessonWalk("white_behind_red")
    page = walk.summary()
    assert "Nothing is answered yet" in said(page)
    (guess,) = LESSON.section("guess").questions
    k = LESSON.section("k").questions[0]
    answer(asked(walk.step("guess"), guess), "the filament")
    step = walk.step("k")
    upside_down, right = f"{1 / float(lesson_file.told(k)):.2f}", lesson_file.told(k)
    answer(asked(step, k), upside_down.replace(".", ","))
    answer(asked(step, k), right)
    told = said(page)
    assert "☐ the filament" in told
    assert f"✗ {upside_down}" in told and f"✓ {right}" in told
    assert "Upside down" in told
    (link,) = [w.value for w in below(page) if isinstance(w, widgets.HTML)]
    saved = unquote(re.search(r'href="data:text/html;charset=utf-8,([^"]+)"', link).group(1))  # type: ignore[union-attr]
    assert saved.startswith("<!DOCTYPE html>")
    assert f"✗ {upside_down}" in saved


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("", "nothing is typed"),
        ("a lot", "'a lot' is not a number"),
        ("13,1 %", "✓ Right."),
        ("0.13", "asked for in per cent"),
        ("-3", "cannot be less than nothing"),
        ("16.5", "Too high"),
        ("6", "Too low"),
    ],
)
def test_a_number_is_read_as_it_is_typed(typed: str, told: str) -> None:
    question = LESSON.section("lens").questions[0]
    box = asked(LessonWalk("white_behind_red").step("lens"), question)
    assert told in answer(box, typed)


def test_no_answer_is_no_try() -> None:
    walk = LessonWalk("white_behind_red")
    missing = LESSON.section("see").questions[1]
    box = asked(walk.step("see"), missing)
    (button,) = [w for w in below(box) if isinstance(w, widgets.Button)]
    button.click()
    assert "Choose one of the answers first" in said(box)
    assert not walk.record.given


def test_every_field_has_a_name_for_a_screen_reader() -> None:
    walk = LessonWalk("white_behind_red")
    for section in LESSON.sections:
        for field in below(walk.step(section.key)):
            if isinstance(field, widgets.RadioButtons | widgets.Text | widgets.Textarea):
                assert field.description or field.placeholder
                assert field.tooltip in [q.text for q in section.questions]


def test_a_card_is_turned() -> None:
    (first, *_) = [
        w for w in below(LessonWalk("white_behind_red").cards()) if "lampkit-card" in getattr(w, "_dom_classes", ())
    ]
    assert LESSON.half_truths[0].said in said(first)
    (turn,) = [w for w in below(first) if isinstance(w, widgets.Button)]
    turn.click()
    assert LESSON.half_truths[0].answer in said(first)


def test_results_of_groups_have_a_mean_and_a_spread() -> None:
    """By hand: 0.5, 0.6, 0.7 have the mean 0.6 and the standard deviation 0.1; distances go with their square."""
    mean, spread, doubt, count = lesson.group_results("0.5\n0,6\n\n0.7")
    assert (mean, spread, count) == (pytest.approx(0.6), pytest.approx(0.1), 3)
    assert doubt == pytest.approx(0.1 / 3**0.5)
    assert lesson.group_results("30 / 60\n0.25", squared=True)[0] == pytest.approx(0.25)
    assert lesson.group_results("30 / 60\n0.5")[0] == pytest.approx(0.5)
    for wrong in ("0.5", "0.5\nmany", "0.5\n1/2/3", "0.5\n-1"):
        with pytest.raises(InputError):
            lesson.group_results(wrong)
    panel = LessonWalk("white_behind_red").experiment("wax")
    told = answer(panel, "45 / 60\n46/60\n0.52")
    assert "3 groups" in told
    assert LESSON.experiments[0].doubt in told
    with pytest.raises(InputError, match="wax"):
        LessonWalk("white_behind_red").experiment("candle")


@pytest.mark.parametrize("name", ["07_why_white_dims_behind_red.ipynb"])
def test_a_notebook_run_and_saved_as_a_page_prints_no_answer(name: str, executed: Callable[[str], Any]) -> None:
    """Run all cells, export as HTML: sources, outputs and the state of the widgets."""
    import nbconvert

    book = executed(name)
    page, _ = nbconvert.HTMLExporter().from_notebook_node(book)
    page = unescape(page) + json.dumps(book.metadata.get("widgets", {}), ensure_ascii=False)
    assert "Which of the three comes out brightest?" in page, "the questions are there"
    for _, question in QUESTIONS:
        assert not question.why or question.why not in page
        assert not [m for m in question.mistakes if m.reveals in page]
    assert not [card for card in LESSON.half_truths if card.answer in page]
