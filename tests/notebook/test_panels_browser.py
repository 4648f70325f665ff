"""Notebooks and panels in JupyterLab, in a real browser: what is shown is what the library gives, and soon enough."""

import json
import os
import re
import shutil
import signal
import statistics
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest

import lampkit as lk
from lampkit import numbers
from lampkit.notebook import lab

pytestmark = pytest.mark.browser

NOTEBOOK = "[...window.jupyterapp.shell.widgets('main')].find(tab => tab.sessionContext)"
Server = tuple[Path, Callable[[], str]]
HEIGHT = 2000
"""Of the window: what is out of sight costs nothing."""


@pytest.fixture(scope="module")
def page(browser: Any, server: Server) -> Iterator[Any]:
    """One tab for all tests, as a user has one: loading JupyterLab costs more than most of what is done in it."""
    context = browser.new_context(viewport={"width": 1280, "height": HEIGHT}, accept_downloads=True)
    context.set_default_timeout(30000)
    opened = context.new_page()
    opened.goto(server[1]())
    wait_idle(opened)
    yield opened
    context.close()


def wait_until(page: Any, condition: str, arg: object = None, timeout: float = 30000) -> None:
    # Asked ten times a second: asking at every frame would keep the page drawing.
    page.wait_for_function(condition, arg=arg, timeout=timeout, polling=100)


def wait_idle(page: Any) -> None:
    page.wait_for_selector(".jp-NotebookPanel .jp-Cell")
    wait_until(page, "() => document.querySelector('#jp-main-statusbar').innerText.includes('| Idle')")


def open_notebook(page: Any, name: str) -> None:
    """The notebook, run from top to bottom; one that stands open already stays as it is.

    It takes the kernel of the one before, which forgets its names and panels: starting one costs more than most tests.
    """
    if page.evaluate("window.jupyterapp.shell.currentPath") == name:
        return
    page.evaluate(
        """async path => {
            const app = window.jupyterapp, kernel = NOTEBOOK.sessionContext.session.kernel;
            const code = '%reset -f\\nimport ipywidgets; ipywidgets.Widget.close_all()';
            await kernel.requestExecute({code}).done;
            for (const tab of [...app.shell.widgets('main')]) {
                if (tab.context) tab.context.model.dirty = false;
                tab.close();
            }
            await app.commands.execute('docmanager:open', {path, kernel: {id: kernel.id}});
        }""".replace("NOTEBOOK", NOTEBOOK),
        name,
    )
    run_all(page)


def run_all(page: Any) -> None:
    wait_idle(page)
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_text("Run All Cells", exact=True).click()
    # Each code cell has a number before it when it has run, and a star while it waits; a folded one shows no number.
    wait_until(
        page,
        """() => { const cells = [...document.querySelectorAll('.jp-CodeCell')];
                   const number = cell => (cell.querySelector('.jp-InputArea-prompt')?.innerText || '').trim();
                   const ran = cell => number(cell) ? /\\d/.test(number(cell))
                                                    : cell.querySelector('.jp-OutputArea-child') !== null;
                   return cells.length > 0 && ran(cells.at(-1))
                       && cells.every(cell => !number(cell) || ran(cell)); }""",
        timeout=60000,
    )


def open_cells(page: Any, folder: Path, name: str, *lines: str) -> None:
    """A notebook of these cells."""
    book = json.loads((folder / lab.START).read_text(encoding="utf-8"))
    cell = next(cell for cell in book["cells"] if cell["cell_type"] == "code")
    book["cells"] = [{**cell, "id": f"cell-{n}", "source": line} for n, line in enumerate(lines)]
    (folder / name).write_text(json.dumps(book), encoding="utf-8")
    open_notebook(page, name)


def errors(page: Any) -> list[str]:
    found = page.locator(".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.stderr'], .lampkit-message")
    return [*found.all_inner_texts()]


def of(panel: Any, label: str) -> Any:
    """The control that has this label."""
    return panel.locator(".jupyter-widgets.widget-inline-hbox", has_text=label)


def shown_row(panel: Any, label: str) -> list[str]:
    row = panel.locator("tr", has=panel.page.get_by_role("rowheader", name=label, exact=True))
    return [text.strip() for text in row.locator("td").all_inner_texts()]


def in_code(panel: Any) -> Any:
    """Run what the panel shows as 'the same in code', as a user would."""
    text = unescape(panel.locator(".lampkit-code").text_content())
    held: dict[str, Any] = {"lk": lk}
    *lines, last = text.split("\n")
    exec("\n".join(lines), held)
    return eval(last, held)


def test_start_page_opens_with_every_notebook_one_click_away(page: Any, server: Server) -> None:
    run_all(page)
    assert page.get_by_role("heading", name="Start here").is_visible()
    linked = page.locator(".jp-MarkdownOutput a").evaluate_all("all => all.map(a => a.getAttribute('href') || '')")
    for path in sorted(server[0].glob("0[1-9]*.ipynb")):
        assert any(path.name in link for link in linked), path.name
    page.wait_for_selector(".lampkit-lens-bench svg")
    assert not errors(page)


def test_lens_bench_shows_what_the_library_gives_as_the_edge_moves(page: Any) -> None:
    open_notebook(page, "01_one_lamp.ipynb")
    bench = page.locator(".lampkit-lens-bench")
    bench.locator("svg").first.wait_for()
    before, picture = (
        shown_row(bench, "times the filament's light"),
        bench.locator(".lampkit-spectra svg").nth(1).inner_html(),
    )
    handle = of(bench, "edge wavelength [nm]").locator(".noUi-handle")
    wait_until(page, "() => [...document.querySelectorAll('.lampkit-lens-bench .noUi-handle')].every(h => h.ariaLabel)")
    assert handle.get_attribute("aria-label") == "edge wavelength [nm]"
    handle.focus()
    for _ in range(20):
        page.keyboard.press("ArrowRight")
    wait_until(
        page, "() => document.querySelector('.lampkit-lens-bench .lampkit-code').textContent.includes('edge=608.0')"
    )
    after = shown_row(bench, "times the filament's light")
    assert after != before
    assert bench.locator(".lampkit-spectra svg").nth(1).inner_html() != picture
    job = in_code(bench)
    assert after == ["", *(numbers.interval(r.ratio) for r in job.results)]
    assert shown_row(bench, "K: times, lumen for lumen") == ["", *(numbers.interval(r.k) for r in job.results)]
    assert shown_row(bench, "lumens to buy [lm]") == ["", *(numbers.rounded_up(r.lumens_to_buy) for r in job.results)]
    assert shown_row(bench, "against UN red") == [str(r.colour.statement) for r in (job.old, *job.results)]
    # The picture's own number, by another way: the preset with its edge moved, and no draws.
    red = lk.lenses.load("red")
    lens = lk.lenses.coloured_lens.of_model(
        "x", "red", red.model, lk.uncertainty.set_belief(red.beliefs, "edge wavelength", typical=608.0), "plastic"
    )
    white = lk.sources.white_led(6000, luminous_flux=420)
    share = float(lk.light.luminous_transmittance(lens.transmittance, white.spectrum))
    label = bench.locator(".lampkit-spectra svg").nth(1).get_attribute("aria-label")
    assert f"{420 * share:.3g} lm out" in label
    assert not errors(page)


def test_every_step_of_a_slider_brings_a_new_picture(page: Any, capsys: pytest.CaptureFixture[str]) -> None:
    """From the key to the new picture, measured in the page; the times are printed and depend on the machine."""
    open_notebook(page, "01_one_lamp.ipynb")
    bench = page.locator(".lampkit-lens-bench")
    bench.locator("svg").first.wait_for()
    measure = """async ([handle, panel, steps]) => {
        const took = [];
        const frame = () => new Promise(done => requestAnimationFrame(done));
        handle.focus();
        for (let i = 0; i < steps; i++) {
            const key = i % 8 < 4 ? 'ArrowRight' : 'ArrowLeft';
            const changed = new Promise((done, fail) => {
                const old = panel.querySelectorAll('.lampkit-spectra svg')[1].outerHTML;
                const watch = new MutationObserver(() => {
                    const now = panel.querySelectorAll('.lampkit-spectra svg')[1];
                    if (now && now.outerHTML !== old) { watch.disconnect(); done(); }
                });
                watch.observe(panel, {childList: true, subtree: true});
                setTimeout(() => { watch.disconnect(); fail(new Error('no new picture')); }, 5000);
            });
            const start = performance.now();
            handle.dispatchEvent(new KeyboardEvent('keydown', {key, bubbles: true, cancelable: true}));
            await changed; await frame();
            took.push(performance.now() - start);
            await new Promise(done => setTimeout(done, 30));
        }
        return took;
    }"""
    lines = []
    for label in ("edge wavelength [nm]", "thickness over usual", "colour temperature [K]"):
        handle = of(bench, label).first.locator(".noUi-handle").element_handle()
        panel = bench.element_handle()
        page.evaluate(measure, [handle, panel, 4])  # the first touch loads what later ones find loaded
        took = page.evaluate(measure, [handle, panel, 12])
        assert len(took) == 12, label
        lines.append((label, statistics.median(took), max(took)))
    with capsys.disabled():
        for label, middle, worst in lines:
            print(f"\nslider to picture, {label}: median {middle:.0f} ms, worst {worst:.0f} ms", end="")


def test_a_wrong_value_is_explained_beside_its_control(page: Any) -> None:
    open_notebook(page, "01_one_lamp.ipynb")
    bench = page.locator(".lampkit-lens-bench")
    box = of(bench, "claimed lumens [lm]").first.locator("input")
    bench.get_by_text("times the filament's light").first.wait_for()
    before = shown_row(bench, "times the filament's light")
    box.fill("-5")
    message = bench.get_by_role("alert").first
    message.wait_for()
    assert "-5\N{NO-BREAK SPACE}lm cannot be used" in message.inner_text()
    assert bench.get_by_role("alert").count() == 1, "said once"
    assert shown_row(bench, "times the filament's light") == before, "the last good numbers stay"
    box.fill("840")
    box.press("Tab")
    wait_until(page, "() => !document.querySelector('.lampkit-lens-bench .lampkit-message')")
    bench.get_by_role("cell", name="840", exact=True).first.wait_for()
    assert shown_row(bench, "claimed or rated lumens [lm]")[1] == "840"
    of(bench, "voltage at the lamp").locator("input").fill("40")
    message.wait_for()
    assert "volt" in message.inner_text()


def ask(page: Any, question: Any, given: object) -> str:
    """Answer a question as a pupil does; what is said of it."""
    asked = page.locator(f".lampkit-question-{question.key.replace('_', '-')}")
    if question.kind == "choice":
        asked.get_by_text(str(given), exact=True).click()
    else:
        asked.locator("input, textarea").first.fill(f"{given:.4g}" if isinstance(given, float) else str(given))
    told = asked.locator(".lampkit-verdict")
    before = told.all_text_contents()
    asked.get_by_role("button", name=re.compile("Keep my|Check my answer")).click()
    said = "([box, before]) => [...box.querySelectorAll('.lampkit-verdict')].some(v => v.textContent !== before)"
    wait_until(page, said, [asked.element_handle(), before[0] if before else ""])
    # How text breaks depends on whether it is in sight, so it is read without its breaks.
    return " ".join(told.first.text_content().split())


def test_lesson_answers_each_kind_of_question_once_wrong_and_once_right(page: Any) -> None:
    """Every question and every known mistake of each is answered in `test_lesson_panel`, without a browser."""
    lesson = lk.lesson.load()
    open_notebook(page, "07_why_white_dims_behind_red.ipynb")
    page.wait_for_selector(".lampkit-question-ticket-voltage")
    assert not errors(page)
    first = page.locator(".lampkit-question").first
    first.get_by_role("button", name="Keep my guess").click()
    first.locator(".lampkit-verdict", has_text="Choose one").wait_for()
    assert page.locator("svg text", has_text="your guess").count() == 0
    answered = [*lesson.section("guess").questions, *lesson.section("lens").questions]
    answered.append(next(q for q in lesson.section("friend").questions if q.kind == "words"))
    for question in answered:
        if question.kept:
            given = (
                question.mistakes[0].value
                if question.mistakes
                else "It lacks red. The eye counts green. The lens takes it."
            )
            assert "Kept." in ask(page, question, given)
            continue
        mistake = question.mistakes[0]
        told = ask(page, question, mistake.value)
        assert told.startswith("✗ Not so.")
        assert mistake.reveals in told
        told = ask(page, question, question.answer)
        assert told.startswith("✓ Right.")
        assert question.why in told
    # The guess comes back beside what comes out, and the own page can be kept.
    page.locator("text", has_text="your guess: all alike").wait_for()
    assert page.locator(".lampkit-summary tr").count() == 1 + len(answered)
    with page.expect_download() as download:
        page.locator(".lampkit-download").click()
    assert answered[1].mistakes[0].reveals in unescape(Path(download.value.path()).read_text(encoding="utf-8"))
    card = page.locator(".lampkit-card").first
    card.get_by_role("button", name="Turn the card").click()
    card.get_by_text(lesson.half_truths[0].answer).wait_for()
    wax = page.locator(".lampkit-experiment").first
    wax.locator("textarea").fill("45 / 60\n44 / 60\n46 / 60")
    wax.get_by_role("button", name="Work it out").click()
    wax.get_by_text("3 groups: mean 0.56").wait_for()
    # A radio group carries its question for a screen reader, has a name that is seen, and offers every answer.
    choices = [q for s in lesson.sections for q in s.questions if q.kind == "choice"]
    titles = page.locator(".lampkit-question .widget-radio > label").evaluate_all("all => all.map(l => l.title)")
    assert titles == [q.text for q in choices]
    offered = page.locator(".lampkit-question .widget-radio-box label").all_text_contents()
    assert sorted(offered) == sorted(c for q in choices for c in q.options)
    assert not errors(page)


def test_hatching_does_not_vanish_when_the_notebook_is_scrolled(page: Any) -> None:
    open_notebook(page, "07_why_white_dims_behind_red.ipynb")
    page.wait_for_selector(".lampkit-lens-bench svg")
    names = page.evaluate("() => [...document.querySelectorAll('svg [id]')].map(e => e.id)")
    assert names and len(names) == len(set(names))


LOG = """lamp,source,illuminance_lx,dark_lx,distance_m,claimed_lumens_lm
Stop lamp left,filament,118.2,2.1,1.50,
Stop lamp left,red LED,41.6,2.1,1.50,120
"""


def test_readings_desk_gives_the_ratio_of_the_library(page: Any, tmp_path: Path) -> None:
    open_notebook(page, "03_fair_comparison.ipynb")
    desk = page.locator(".lampkit-readings-desk")
    desk.locator("textarea").fill(LOG)
    desk.locator("textarea").blur()
    desk.get_by_role("button", name="Work it out").click()
    (tmp_path / "log.csv").write_text(LOG)
    lens = lk.lenses.load("red").transmittance
    light = {
        ("Stop lamp left", "filament"): lens * lk.sources.filament("P21W").spectrum,
        ("Stop lamp left", "red LED"): lens * lk.sources.coloured_led("red", luminous_flux=120).spectrum,
    }
    (ratio,) = lk.measurement.compare_readings(lk.measurement.load_log(tmp_path / "log.csv"), light=light).ratios
    desk.locator(".lampkit-ratio", has_text=str(ratio.sentence)).wait_for()
    assert desk.locator(".lampkit-ratio").all_inner_texts() == [numbers.together(ratio.sentence)]
    with page.expect_download() as download:
        desk.locator(".lampkit-download").click()
    assert Path(download.value.path()).read_text() == LOG
    # A reading that is typed: a wrong one says so, a right one joins the others.
    of(desk, "what is fitted in it").locator("input").fill("white LED")
    of(desk, "lamp on [lx]").locator("input").fill("abc")
    desk.get_by_role("button", name="Add this reading").click()
    desk.get_by_role("alert").filter(has_text="'abc' is not a number").first.wait_for()
    wait_idle(page)  # what a message moves on the page has come to rest
    for label, typed in (("lamp on [lx]", "30,5"), ("lamp off [lx]", "2.1"), ("distance [m]", "1.50")):
        of(desk, label).locator("input").fill(typed)
    desk.get_by_role("button", name="Add this reading").click()
    wait_until(page, "() => document.querySelector('.lampkit-readings-desk textarea').value.includes('30.5')")
    desk.locator("textarea").fill(LOG.replace("118.2", "bright"))
    desk.locator("textarea").blur()
    desk.get_by_role("alert").filter(has_text="line 2").first.wait_for()


def test_a_click_does_not_overtake_what_was_typed_while_the_kernel_did_not_answer(page: Any, server: Server) -> None:
    open_notebook(page, "03_fair_comparison.ipynb")
    desk = page.locator(".lampkit-readings-desk")
    desk.locator("textarea").fill(LOG)
    desk.locator("textarea").blur()
    wait_idle(page)
    number = server[0] / "number_of_the_kernel"
    page.evaluate(
        f"async code => {{ await {NOTEBOOK}.sessionContext.session.kernel.requestExecute({{code}}).done; }}",
        f"import os, pathlib\npathlib.Path({str(number)!r}).write_text(str(os.getpid()))",
    )
    kernel = int(number.read_text())
    os.kill(kernel, signal.SIGSTOP)
    try:
        for label, *each in (
            ("what is fitted in it", "white LED"), ("lamp off [lx]", "2.1"), ("distance [m]", "1.50"),
            ("lamp on [lx]", "1", "12", "30,5"),
        ):  # fmt: skip
            for one in each:
                of(desk, label).locator("input").fill(one)
                of(desk, label).locator("input").blur()
        desk.get_by_role("button", name="Add this reading").click()
    finally:
        os.kill(kernel, signal.SIGCONT)
    wait_until(page, "() => document.querySelector('.lampkit-readings-desk textarea').value.includes('white LED')")
    assert desk.locator("textarea").input_value().splitlines()[-1].split(",")[2] == "30.5"
    assert not errors(page)


PANELS = """import lampkit as lk
lk.notebook.your_vehicle("library_van")
lk.notebook.vehicle_sheet("small")
lk.notebook.lens_bench()
lk.notebook.circuit_loop()
lk.notebook.leak_bench()
lk.notebook.earth_bench()
lk.notebook.background_rule()
lk.notebook.fault_finder("library_van")
lk.notebook.readings_desk()
lk.page.procedure_card(lk.measurement.plan_measurement(intensity=10, background=2, resolution=0.1))
lk.notebook.walk_through("white_behind_red").step("lens")
lk.notebook.walk_through("white_behind_red").step("friend")
lk.notebook.show_whole(lk.checks.counts())"""

SIDEWAYS = """() => [...document.querySelectorAll('.jp-OutputArea-output, .jp-OutputArea-output *')].filter(one => {
    const how = getComputedStyle(one);
    return one.clientWidth > 0 && one.scrollWidth > one.clientWidth + 2
        && ['auto', 'scroll', 'hidden'].includes(how.overflowX) && how.display !== 'inline'
        && !['SELECT', 'INPUT', 'TEXTAREA', 'OPTION', 'svg'].includes(one.tagName);
}).map(one => [one.tagName, one.className, one.innerText.slice(0, 60)])"""

DRAWN = "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"

SMALL = """() => [...document.querySelectorAll('.jp-OutputArea-output svg text')].map(words => {
    const scale = words.getScreenCTM();
    return [parseFloat(getComputedStyle(words).fontSize) * Math.hypot(scale.a, scale.b), words.textContent];
}).filter(([size]) => size > 0 && size < 10.5)"""

OVERLAID = """() => [...document.querySelectorAll('.widget-radio-box')].flatMap(box => {
    const labels = [...box.querySelectorAll('label')].map(label => {
        const words = document.createRange(); words.selectNodeContents(label); return words.getBoundingClientRect(); });
    return labels.flatMap((one, i) => labels.slice(i + 1).filter(other => one.height && other.height
        && one.left < other.right && other.left < one.right
        && one.top < other.bottom - 1 && other.top < one.bottom - 1));
}).length"""


def test_every_panel_fits_a_narrow_page(page: Any, server: Server) -> None:
    """At 390 px no panel is wider than its place, no label lies on another, and the card is shown whole.

    Letters of pictures are 10.5 px at least, and two lit faces stand beside each other.
    """
    small_vehicle(server[0])
    usual, files = page.viewport_size, "window.jupyterapp.commands.execute('application:toggle-left-area')"
    page.set_viewport_size({"width": 900, "height": 14000})
    open_cells(page, server[0], "panels.ipynb", *PANELS.split("\n"))
    page.locator(".lampkit-your-vehicle").wait_for()
    page.locator(".lampkit-vehicle-sheet .lampkit-total").wait_for(timeout=60000)
    assert not errors(page)
    page.evaluate(files)  # the list of files is folded away
    try:
        for width in (900, 390):
            page.set_viewport_size({"width": width, "height": 14000})
            page.evaluate(DRAWN)
            assert page.evaluate(SIDEWAYS) == [], width
            assert page.evaluate(OVERLAID) == 0, width
            assert page.evaluate(SMALL) == [], width
            faces = page.locator(".lampkit-lens-bench .lampkit-faces > div")
            tops = faces.evaluate_all("all => all.map(one => one.getBoundingClientRect().top)")
            assert len(tops) == 3 and tops[0] == tops[1], width
            frame = page.locator("iframe[title='How to compare two lamps']")
            card = frame.content_frame.locator("html")
            assert frame.evaluate("one => one.clientHeight") >= card.evaluate("one => one.scrollHeight"), width
        panel = page.locator(".lampkit-your-vehicle")
        panel.get_by_role("button", name="2 Lamps", exact=True).click()
        panel.get_by_text("Side, left").wait_for()
        panel.locator("button", has_text="Change").first.click()
        panel.locator(".lampkit-lamp-form").wait_for()
        for step, shown in (
            ("2 Lamps", "Side, left"), ("3 Light sources on offer", "What a seller offers"),
            ("4 Circuits", "What a meter read"), ("5 The plan", "Make the plan"), ("1 Vehicle", "The vehicle's name"),
        ):  # fmt: skip
            panel.get_by_role("button", name=step, exact=True).click()
            panel.get_by_text(shown).first.wait_for()
            page.evaluate(DRAWN)
            assert page.evaluate(SIDEWAYS) == [], step
            assert page.evaluate(OVERLAID) == 0, step
    finally:
        page.evaluate(files)
        page.set_viewport_size(usual)


def small_vehicle(folder: Path) -> None:
    """The library van with three of its lamps."""
    head, *lamps = (folder / "library_van" / "vehicle.toml").read_text(encoding="utf-8").split("[[lamp]]")
    kept = [lamp for lamp in lamps if '"Rear turn' in lamp or '"Number plate' in lamp]
    (folder / "small").mkdir(exist_ok=True)
    (folder / "small" / "vehicle.toml").write_text("[[lamp]]".join([head, *kept]), encoding="utf-8")
    shutil.copy(folder / "library_van" / "cie_led_b3.csv", folder / "small")


def test_vehicle_sheet_follows_a_pick_and_saves_a_job_sheet(page: Any, browser: Any, server: Server) -> None:
    small_vehicle(server[0])
    open_cells(page, server[0], "sheet.ipynb", 'import lampkit as lk\n\nlk.notebook.vehicle_sheet("small")')
    sheet = page.locator(".lampkit-vehicle-sheet")
    sheet.locator(".lampkit-total").wait_for(timeout=60000)
    total = sheet.locator(".lampkit-total").inner_text()
    of(sheet, "Rear turn left").locator("select").select_option("white LED B")
    wait_until(
        page, "old => document.querySelector('.lampkit-vehicle-sheet .lampkit-total').textContent !== old", arg=total
    )
    assert of(sheet, "Rear turn left and right").locator("select").input_value() == "white LED B"
    target = of(sheet, "job sheet").locator("input")
    target.fill("my van.txt")
    save = sheet.get_by_role("button", name="Save the job sheet")
    save.click()
    sheet.get_by_role("alert").filter(has_text="ends in .html").wait_for()
    assert not (server[0] / "my van.txt").exists()
    target.fill("my van.html")
    save.click()
    sheet.locator(".lampkit-saved").wait_for(timeout=60000)
    written = server[0] / "my van.html"
    other = browser.new_page()
    other.goto(written.as_uri())
    assert "Library van" in other.title() + other.locator("h1").first.inner_text()
    assert "white LED B" in other.locator("body").inner_text()
    assert other.locator("svg, img").count() > 0
    other.close()
    # A vehicle file that cannot be used says so in the panel, with its line.
    (server[0] / "broken").mkdir(exist_ok=True)
    (server[0] / "broken" / "vehicle.toml").write_text("[vehicle\nname = 3\n")
    of(sheet, "folder of the vehicle").locator("input").fill("broken")
    sheet.get_by_role("button", name="Open it").click()
    sheet.get_by_role("alert").filter(has_text="vehicle.toml").wait_for()


def test_a_vehicle_is_entered_planned_reopened_and_changed_by_clicking(page: Any, server: Server) -> None:
    """Six lamps and four light sources from nothing, by mouse and keyboard; what is written loads without remark."""
    folder = server[0]
    book = json.loads((folder / "02_your_vehicle.ipynb").read_text(encoding="utf-8"))
    lines = ["".join(cell["source"]) for cell in book["cells"]]
    (opens,) = [line for line in lines if "notebook.your_vehicle" in line]
    open_cells(page, folder, "panel.ipynb", opens)
    panel = page.locator(".lampkit-your-vehicle")

    def press(name: str, after: str = "", exact: bool = False) -> None:
        panel.get_by_role("button", name=name, exact=exact).first.click()
        if after:
            panel.get_by_text(after).first.wait_for()

    def fill(**told: str) -> None:
        for label, value in told.items():
            panel.get_by_label(label.replace("_", " ")).first.fill(value)

    fill(**{"The vehicle's name": "Parish bus"})
    panel.get_by_label("The nominal supply").select_option("12")
    panel.get_by_label("Which pole of the battery is joined").select_option("positive")
    fill(The_year_of_first_use="19o4")
    page.keyboard.press("Tab")
    panel.get_by_role("alert").filter(has_text="'19o4' is not a number").wait_for()
    fill(The_year_of_first_use="1964")
    page.keyboard.press("Tab")
    panel.get_by_role("alert").wait_for(state="detached")

    press("2 Lamps", "Side, left")
    for place, done in (
        ("Stop + Tail left", "Stop lamp and Tail lamp stand"),
        ("Rear turn left", "Rear turn lamp stands"),
        ("Front turn right", "Front turn lamp stands"),
        ("Number plate", "Number plate lamp stands"),
    ):
        # One place by the keyboard, the others by the mouse.
        if place == "Number plate":
            panel.get_by_role("button", name=place).focus()
            page.keyboard.press("Enter")
            panel.get_by_label("Filament lamp: its designation").fill("5 BA15s")
            panel.locator("option", has_text="R5W").first.wait_for(state="attached")
        else:
            press(place)
        press("Add this lamp", done)
    press("Front position left")
    wait_until(
        page,
        "() => [...document.querySelectorAll('.lampkit-lamp-form input')].some(i => i.value === 'Front position lamp')",
    )
    panel.get_by_label("Filament lamp: its designation").fill("3.7")
    panel.locator("option", has_text="12V 3.7W, as stamped").wait_for(state="attached")
    press("Add this lamp", "Front position lamp stands")
    assert panel.get_by_role("button", name="✓ Stop + Tail right").is_visible()
    press("3 Light sources", "What a seller offers")

    def offer(kind: str, light: str, done: str, **told: str) -> None:
        press(kind, exact=True)
        label = "The colour of a coloured LED" if kind == "coloured" else "The correlated colour temperature"
        control = panel.get_by_label(label).first
        control.select_option(light) if kind == "coloured" else control.fill(light)
        for key, value in told.items():
            control = panel.get_by_label(key).first
            if key.startswith(("Its base", "Whether")):
                control.select_option(value)
            else:
                control.fill(value)
        press("Add this light source", done)

    lumens, dim, base, price = (
        "The lumens that the seller",
        "The lumens of its dim level",
        "Its base",
        "The price of one",
    )
    either = "Whether it lights either way round"
    red = {lumens: "260", dim: "24", base: "BAY15d", price: "7,5", either: "yes"}
    offer("coloured", "red", "red LED A: 260 lm", **red)
    amber = {lumens: "640", base: "BA15s", price: "6", either: "yes"}
    offer("coloured", "amber", "amber LED A: 640 lm", **amber)
    offer("white", "4000", "white LED 4000 K A: 110 lm", **{lumens: "110", base: "BA15s", either: "no"})
    offer("white", "2900", "white LED 2900 K A: 60 lm", **{lumens: "60 lm", price: "3"})
    assert not errors(page)
    assert not (folder / "my_vehicle").exists(), "nothing is on disk before it is saved"
    press("Save", "As saved")
    written = folder / "my_vehicle" / "vehicle.toml"
    made = lk.vehicle.load(written)
    assert len(made.lamps) == 11 and made.earth == "positive" and made.year == 1964
    on_offer = [offer.name for offer in made.offers]
    assert on_offer == ["red LED A", "red LED A dim", "amber LED A", "white LED 4000 K A", "white LED 2900 K A"]
    text = written.read_text(encoding="utf-8")
    assert text.count("[[lamp]]") == 6
    press("4 Circuits", "What a meter read")
    panel.get_by_label("A name of its own").first.fill("turn")
    panel.get_by_label("The number on the fuse").first.fill("8")
    press("Add this circuit", "fuse 8 A")
    panel.get_by_text("What a meter read", exact=True).click()
    panel.get_by_text("amperes of a circuit").wait_for()
    panel.get_by_label("The name of the circuit").first.select_option("turn")
    panel.get_by_label("The current as read").first.fill("3.9")
    press("Add this reading", "circuit turn, 3.9 A")
    panel.locator("button", has_text="Remove").last.click()
    panel.get_by_text("circuit turn, 3.9 A").wait_for(state="detached")
    panel.locator("button", has_text="Remove").first.click()
    panel.get_by_text("fuse 8 A").wait_for(state="detached")
    press("2 Lamps", "Lenses of their own")
    panel.locator("button[title='Change Rear turn lamp']").click()
    press("Two lamps, left and right apart", "Rear turn lamp left and Rear turn lamp right stand")
    panel.locator(".lampkit-lamp-form").wait_for(state="detached")
    panel.locator("button[title='Change Rear turn lamp right']").wait_for()
    wait_idle(page)
    press("Take the last change back")
    panel.locator("button[title='Change Rear turn lamp left']").wait_for(state="detached")
    assert not errors(page)
    press("5 The plan", "Make the plan")
    press("Make the plan")
    panel.locator(".lampkit-total").wait_for(timeout=60000)
    straight = lk.plan.make(made, draws=1000, seed=1)
    rows = panel.locator(".lampkit-plan-row")
    assert [row.strip() for row in rows.locator("b:first-child").all_inner_texts()][: len(straight.alike)]
    for group in straight.alike:
        chosen = straight.fitted(group.lamps[0].name)
        row = rows.filter(has_text=group.name).first.inner_text()
        assert ("The filament lamp stays" if chosen is None else chosen.name) in row
    # Opened anew, changed in one place: the old file stands beside, and all else is as it was.
    text = "# the parish bus\n" + text.replace("1964", "1963")
    written.write_text(text, encoding="utf-8")
    press("Open it")
    press("1 Vehicle")
    wait_until(
        page, "() => [...document.querySelectorAll('.lampkit-your-vehicle input')].some(i => i.value === '1963')"
    )
    assert panel.get_by_label("The vehicle's name").input_value() == "Parish bus"
    fill(The_year_of_first_use="1965")
    page.keyboard.press("Tab")
    panel.get_by_text("Not saved yet").wait_for()
    press("Save", "As saved")
    assert written.read_text(encoding="utf-8") == text.replace("1963", "1965")
    assert (folder / "my_vehicle" / "vehicle.before.toml").read_text(encoding="utf-8") == text
    press("5 The plan", "Make the plan")
    press("Write the job sheet")
    panel.locator(".lampkit-saved").wait_for(timeout=60000)
    assert "Parish bus" in (folder / "my_vehicle" / "job_sheet.html").read_text(encoding="utf-8")
    assert not errors(page)
