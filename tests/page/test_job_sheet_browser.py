"""The job sheet and its basis in a real browser: nothing is fetched or cut off, and four sheets of A4 are enough."""

import re
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from worked_out import EVERY, VEHICLES, basis_of, plan_of, sheet_of

from lampkit.page import findings, job_sheet, job_sheet_text

pytestmark = pytest.mark.browser

A4 = (595.3, 841.9)  # ISO 216, 210 mm by 297 mm, in points


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("sheet")
    (made / "van.html").write_text(sheet_of(), encoding="utf-8")
    (made / "van_basis.html").write_text(basis_of(), encoding="utf-8")
    return made


@pytest.fixture(scope="module", params=["van.html", "van_basis.html"])
def sheet(folder: Path, request: pytest.FixtureRequest) -> Path:
    return folder / str(request.param)


@pytest.fixture(scope="module")
def take_along(folder: Path) -> Path:
    return folder / "van.html"


@pytest.fixture(scope="module")
def rest(folder: Path) -> Path:
    return folder / "van_basis.html"


def opened(browser: Any, sheet: Path) -> Any:
    page = browser.new_page()
    page.goto(sheet.as_uri())
    return page


@pytest.fixture(scope="module")
def page(browser: Any, sheet: Path) -> Iterator[Any]:
    """One tab for all that is only looked at: a page of megabytes is laid out anew faster than it is read anew."""
    shown = opened(browser, sheet)
    yield shown
    shown.close()


def seen(page: Any, width: int = 1280, scheme: str = "light") -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.emulate_media(media="null", color_scheme=scheme)


def test_nothing_is_fetched_and_nothing_fails(browser: Any, sheet: Path) -> None:
    page = browser.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(sheet.as_uri())
    page.wait_for_load_state("networkidle")
    assert [url for url in asked if not url.startswith("data:")] == [sheet.as_uri()]
    assert not said
    page.close()


@pytest.mark.parametrize("width", [360, 390, 800, 1280])
def test_the_page_never_scrolls_sideways(page: Any, width: int) -> None:
    seen(page, width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    outside = page.evaluate(
        """width => [...document.querySelectorAll('body *:not(svg *, .drawn svg)')]
            .filter(e => e.getBoundingClientRect().right > width + 1).map(e => e.outerHTML.slice(0, 80))""",
        width,
    )
    assert not outside


@pytest.mark.parametrize("width", [390, 720, 900])
def test_lettering_is_large_enough_and_no_picture_is_moved_to_be_read(page: Any, width: int) -> None:
    seen(page, width)
    sizes = page.evaluate(
        """[...document.querySelectorAll('.drawn svg, svg.lampkit-drawing, .lampkit-faces svg')]
            .map(s => s.getBoundingClientRect().width
            / s.viewBox.baseVal.width
            * Math.min(...[...s.querySelectorAll('text')].map(t => parseFloat(getComputedStyle(t).fontSize))))"""
    )
    assert len(sizes) >= 2 and min(sizes) >= 11.95  # 12 px, less the rounding of the layout
    moved = page.evaluate(
        """[...document.querySelectorAll('.drawn')].filter(e => e.scrollWidth > e.clientWidth + 1)
            .map(e => e.querySelector('svg').getAttribute('aria-label').slice(0, 60))"""
    )
    assert not moved
    body = page.evaluate("parseFloat(getComputedStyle(document.body).fontSize)")
    assert body >= 16


@pytest.mark.parametrize("width", [390, 1280])
def test_no_letter_of_a_picture_is_cut_off(page: Any, width: int) -> None:
    seen(page, width)
    cut = page.evaluate(
        """[...document.querySelectorAll('svg')].flatMap(s => { const b = s.getBoundingClientRect();
            return [...s.querySelectorAll('text')].filter(t => { const r = t.getBoundingClientRect();
            return r.left < b.left - 2 || r.right > b.right + 2 || r.top < b.top - 2 || r.bottom > b.bottom + 2; })
            .map(t => t.textContent) })"""
    )
    assert not cut


def test_every_picture_is_described(page: Any) -> None:
    seen(page)
    mute = page.evaluate(
        """[...document.querySelectorAll('img, svg')].filter(e => e.tagName === 'IMG' ? !e.alt
            : e.getAttribute('role') !== 'img' || !e.getAttribute('aria-label')).length"""
    )
    assert page.locator("svg").count() >= 2
    assert mute == 0


def luminance(colour: str) -> float:
    parts = [int(v) / 255 for v in re.findall(r"\d+", colour)[:3]]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_both_themes_have_contrast(page: Any, scheme: str) -> None:
    seen(page, scheme=scheme)
    found = page.evaluate(
        """['p', '.facts', 'a', '.caution strong', 'th'].map(q => { let e = document.querySelector('section ' + q);
            const ink = getComputedStyle(e).color; let ground = 'rgba(0, 0, 0, 0)';
            while (ground === 'rgba(0, 0, 0, 0)') { ground = getComputedStyle(e).backgroundColor; e = e.parentElement; }
            return [q, ink, ground]; })"""
    )
    for where, ink, ground in found:
        light, dark = sorted((luminance(ink), luminance(ground)), reverse=True)
        assert (light + 0.05) / (dark + 0.05) >= 4.5, where  # WCAG 2.2, 1.4.3
    assert (luminance(found[0][2]) < 0.1) == (scheme == "dark")
    # The pictures follow: their letters are those of the page.
    letters = page.evaluate("getComputedStyle(document.querySelector('figure svg text')).fill")
    assert letters == page.evaluate("getComputedStyle(document.body).color")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_print_is_light_on_a4(page: Any, scheme: str) -> None:
    seen(page, scheme=scheme)
    pdf = page.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]", pdf)
    assert len(boxes) >= 3
    for width, height in boxes:
        assert float(width) == pytest.approx(A4[0], abs=1.5) and float(height) == pytest.approx(A4[1], abs=1.5)
    page.emulate_media(media="print", color_scheme=scheme)
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    ink = page.evaluate("getComputedStyle(document.body).color")
    assert luminance(ground) > 0.95 and luminance(ink) < 0.05
    broken = page.evaluate(
        "[...document.querySelectorAll('section.page')].filter(e => getComputedStyle(e).breakBefore !== 'page').length"
    )
    assert broken == 0


def sheets(page: Any) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True)))


@pytest.mark.parametrize("place", EVERY, ids=[place.name for place in EVERY])
def test_four_sheets_are_enough_for_every_vehicle(browser: Any, folder: Path, place: Path) -> None:
    target = folder / f"{place.name}.html"
    found = findings.findings_of(plan_of(place, 100))
    target.write_text(job_sheet.sheet_of(found, "rest.html"), encoding="utf-8")
    assert len(job_sheet_text.written(found).splitlines()) <= 40, "the first answer fits one screen"
    page = opened(browser, target)
    assert 1 <= sheets(page) <= 4
    boxes = page.locator("input[type=checkbox]")
    assert boxes.count() >= len(found.groups)
    # Whoever opened it on a phone ticks it there.
    boxes.first.check()
    assert boxes.first.is_checked()
    page.close()


def test_each_lamp_has_its_page_in_the_basis(browser: Any, rest: Path) -> None:
    page = opened(browser, rest)
    lamps = page.locator("section.lamp").count()
    assert lamps > 8
    # The lamps, and as many again for circuits with their sketches, earth, readings, limits and assumptions.
    assert sheets(page) <= 2 * lamps + 2
    # Laid out as wide as A4 less its margins, no lamp is higher than a page, and no lettering below 7.5 pt.
    page.set_viewport_size({"width": 711, "height": 1000})
    page.emulate_media(media="print")
    # A table that is too wide would make the browser print everything smaller.
    assert page.evaluate("Math.max(...[...document.querySelectorAll('table')].map(e => e.offsetWidth))") <= 711
    heights = page.evaluate("[...document.querySelectorAll('section.lamp')].map(e => e.getBoundingClientRect().height)")
    assert max(heights) * 25.4 / 96 <= 274
    sizes = page.evaluate(
        """[...document.querySelectorAll('.lamp .drawn svg')].filter(s => s.getBoundingClientRect().width > 0)
            .map(s => s.getBoundingClientRect().width / s.viewBox.baseVal.width
            * Math.min(...[...s.querySelectorAll('text')].map(t => parseFloat(getComputedStyle(t).fontSize))))"""
    )
    assert min(sizes) * 0.75 >= 7.5
    page.close()


def test_no_lamp_with_much_to_tell_is_higher_than_a_sheet(browser: Any, folder: Path) -> None:
    target = folder / "wool_wagon_basis.html"
    found = findings.findings_of(plan_of(VEHICLES / "wool_wagon", 100))
    target.write_text(job_sheet.basis_of(found, ""), encoding="utf-8")
    page = opened(browser, target)
    page.set_viewport_size({"width": 711, "height": 1000})
    page.emulate_media(media="print")
    heights = page.evaluate("[...document.querySelectorAll('section.lamp')].map(e => e.getBoundingClientRect().height)")
    assert len(heights) == len(found.groups) and max(heights) * 25.4 / 96 <= 274
    page.close()


def test_the_printed_sheets_are_numbered_and_the_first_answers(
    browser: Any, take_along: Path, tmp_path: Path, pdftotext: str
) -> None:
    page = opened(browser, take_along)
    printed = tmp_path / "sheet.pdf"
    printed.write_bytes(page.pdf(prefer_css_page_size=True))
    page.close()
    words = [
        subprocess.run(
            [pdftotext, "-f", str(n), "-l", str(n), str(printed), "-"], capture_output=True, text=True, check=True
        ).stdout
        for n in (1, 2, 3)
    ]
    for number, one in enumerate(words, start=1):
        assert re.search(rf"{number}\s*/\s*3", one)
    for heading in ("What to fit", "What to buy", "What can go wrong"):
        assert heading in words[0]
    assert "Where the lamps are" in words[1] and "What to measure" in words[2]
    # The order of work begins under the map where there is room.
    assert "The order of work" in words[1] + words[2]


def test_what_is_folded_on_the_screen_is_read_on_paper(browser: Any, rest: Path) -> None:
    page = opened(browser, rest)
    folds = page.locator("details").filter(has=page.locator("ul"))
    assert folds.count() == 2 and not folds.locator("ul").first.is_visible()
    page.pdf()
    assert folds.locator("ul").first.is_visible() and folds.locator("ul").last.is_visible()
    page.close()


def test_the_sum_of_what_to_buy_stands_under_its_own_heading_on_a_phone(browser: Any, take_along: Path) -> None:
    page = opened(browser, take_along)
    page.set_viewport_size({"width": 390, "height": 800})
    told = """[...document.querySelectorAll('.buy tbody tr%s td:last-child')]
        .map(e => getComputedStyle(e, '::before').content)"""
    assert page.evaluate(told % ".total") == ['"price [EUR]: "']
    assert set(page.evaluate(told % ":not(.total):not(:last-child)")) == {'"price each [EUR]: "'}
    page.close()


def test_a_lamp_is_one_click_from_the_first_page_and_one_back(browser: Any, take_along: Path) -> None:
    page = opened(browser, take_along)
    link = page.locator("table a").first
    name = link.inner_text()
    link.click()
    page.wait_for_load_state()
    anchor = page.evaluate("location.hash")
    assert page.url.split("#")[0].endswith("van_basis.html")
    assert page.locator(f"{anchor} h2").inner_text() == name
    page.locator(f"{anchor} .back a").click()
    assert page.evaluate("location.hash") == "#contents"
    page.locator("nav a").first.click()
    page.wait_for_load_state()
    assert page.url.endswith("van.html")
    page.close()


def test_every_link_leads_somewhere(browser: Any, sheet: Path) -> None:
    page = opened(browser, sheet)
    for target in sorted(set(page.evaluate("[...document.querySelectorAll('a')].map(a => a.href)"))):
        page.goto(target)
        anchor = page.evaluate("location.hash")
        assert not anchor or page.locator(anchor).count() == 1, target
    page.close()
