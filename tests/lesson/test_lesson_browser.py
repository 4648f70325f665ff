"""Handout and slides in a real browser: two sides of paper; letters that are read from the last row; arrow keys."""

import re
from pathlib import Path
from typing import Any

import pytest

from lampkit.lesson import lesson_file, sheets

pytestmark = pytest.mark.browser

LESSONS = lesson_file.names()


def opened(browser: Any, folder: Path, name: str, sheet: str, wide: int = 1366, high: int = 768) -> Any:
    (path,) = sheets.save(lesson_file.load(name), (sheet,), folder)
    page = browser.new_page(viewport={"width": wide, "height": high})
    page.goto(path.as_uri())
    return page


def sides(page: Any) -> int:
    return len(re.findall(rb"/Type\s*/Page[^s]", page.pdf(prefer_css_page_size=True)))


@pytest.mark.parametrize("name", LESSONS)
def test_handout_is_one_leaf(browser: Any, tmp_path: Path, name: str) -> None:
    page = opened(browser, tmp_path, name, "handout")
    assert sides(page) == 2
    page.emulate_media(color_scheme="dark")
    paper = "getComputedStyle(document.body).backgroundColor"
    assert page.evaluate(paper) != "rgb(255, 255, 255)", "the reader's colours on a screen"
    page.emulate_media(color_scheme="dark", media="print")
    assert page.evaluate(paper) == "rgb(255, 255, 255)", "white on paper"
    page.emulate_media(color_scheme="light", media="screen")
    page.set_viewport_size({"width": 390, "height": 800})
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 392, "a phone needs no long way to the right"


@pytest.mark.parametrize("name", LESSONS)
def test_slides_go_by_arrow_keys_and_are_read_from_the_last_row(browser: Any, tmp_path: Path, name: str) -> None:
    """At 1366 x 768 every letter is 24 px or more, and nothing leaves its screen, on any beat of any slide."""
    page = opened(browser, tmp_path, name, "slides")
    lesson = lesson_file.load(name)
    seen = set()
    for _ in range(200):
        here = page.evaluate("() => location.hash")
        if here in seen:
            break
        seen.add(here)
        found = page.evaluate(
            """() => {
                const slide = document.querySelector('.slide.on'), edge = slide.getBoundingClientRect();
                const parts = [...slide.querySelectorAll('h1, p, li, td, th, text, .count')]
                    .filter(e => e.getBoundingClientRect().width && e.textContent.trim());
                const size = e => parseFloat(getComputedStyle(e).fontSize)
                    * (e.tagName === 'text' ? e.ownerSVGElement.getBoundingClientRect().width / 800 : 1);
                return {small: parts.filter(e => size(e) < 23.9).map(e => e.textContent),
                        out: parts.filter(e => { const b = e.getBoundingClientRect();
                            return b.right > edge.right + 1 || b.bottom > edge.bottom + 1; }).map(e => e.textContent)};
            }"""
        )
        assert not found["small"], here
        assert not found["out"], here
        page.keyboard.press("ArrowRight")
    asked = sum(1 if q.kept else 2 for s in lesson.sections for q in s.questions)
    assert len(seen) > asked, "each question and each answer has a beat of its own"
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("() => location.hash") != here
    page.keyboard.press("Home")
    assert page.evaluate("() => location.hash") == "#0.0"
    page.locator(".slide.on .on-button").click()
    assert page.evaluate("() => location.hash") == "#0.1"


@pytest.mark.parametrize("name", LESSONS)
def test_printed_slides_tell_no_answer(browser: Any, tmp_path: Path, name: str) -> None:
    page = opened(browser, tmp_path, name, "slides")
    while not page.locator(".tell:visible").count():  # not even one that stands on the wall
        before = page.evaluate("() => location.hash")
        page.keyboard.press("ArrowRight")
        assert page.evaluate("() => location.hash") != before, "no slide tells an answer"
    page.emulate_media(media="print")
    shown = page.evaluate("() => document.body.innerText").replace("\N{NO-BREAK SPACE}", " ")
    for section in lesson_file.load(name).sections:
        for question in section.questions:
            assert question.text in shown
            assert question.kept or question.why not in shown
    assert page.locator(".tell:visible").count() == 0
    assert sides(page) == page.locator(".slide").count()
