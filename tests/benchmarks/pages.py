"""How heavy the pages are: words, sheets of A4, lines of the report, and what an accessibility checker objects to.

    python tests/benchmarks/pages.py            the table
    python tests/benchmarks/pages.py FOLDER     and a picture of each page, at three widths, light, dark and as seen
                                                by somebody who cannot tell red from green

Printed, never asserted: the tests in `tests/page` hold the sheets, and those in `tests/notebook` that no panel is too
wide. Words are those of the page, without those inside pictures. A notebook is run whole in JupyterLab: what is
objected to in its texts and outputs is the kit's, the rest JupyterLab's own. The checker is axe-core, which `npm`
fetches into a folder that is thrown away; without `npm` that column is empty. The dated texts beside this script are
its output.
"""

import os
import platform
import re
import secrets
import socket
import subprocess
import sys
import tarfile
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from shutil import which
from typing import Any

import lampkit as lk
from lampkit.lesson import sheets
from lampkit.measurement import procedure
from lampkit.notebook import lab
from lampkit.page import findings, frame, job_sheet, readings

VAN = Path(lk.tables.folder()) / "library_van"
VEHICLES = Path(__file__).parents[1] / "vehicles"
CHECKED = (("light", 1280), ("dark", 1280), ("light", 390))
DRAWN = tuple((scheme, width) for width in (1400, 900, 390) for scheme in ("light", "dark", "deuteranopia"))
STEP = 60
"""How long one step on one page may take [s]: what is not done by then is told, and the next page is taken."""
WORDS = """(() => { const copy = document.body.cloneNode(true);
    copy.querySelectorAll('svg, style, nav').forEach(one => one.remove());
    return copy.innerHTML.replace(/<[^>]+>/g, ' ').trim().split(/\\s+/).length; })()"""
OBJECTIONS = f"""Promise.race([
    axe.run({{resultTypes: ['violations']}}).then(told => told.violations.map(one => [one.id, one.nodes.length])),
    new Promise(done => setTimeout(() => done([['not done in time', 1]]), {STEP * 1000}))])"""
"""What the checker objects to; where it asks for violations alone it does not list each letter that it cannot judge."""
KITS = "[['.jp-OutputArea-output'], ['.jp-MarkdownOutput']]"
OURS = OBJECTIONS.replace("axe.run(", f"axe.run({{include: {KITS}, exclude: [['iframe']]}}, ")
THEIRS = OBJECTIONS.replace("axe.run(", f"axe.run({{exclude: {KITS}}}, ")
"""The same for texts and outputs of a notebook, and for what is around them; a page inside is checked by itself."""
OPENED = """async path => {
    const app = window.jupyterapp;
    await app.started;
    for (const tab of [...app.shell.widgets('main')]) {
        await tab.sessionContext?.shutdown();
        if (tab.context?.model) tab.context.model.dirty = false;
        tab.close();
    }
    const opened = await app.commands.execute('docmanager:open', {path});
    await opened.context.ready; await opened.sessionContext.ready;
    await app.commands.execute('notebook:run-all-cells');
}"""
"""What closes the notebook that stands open, opens another, and runs it whole."""


def documents(folder: Path) -> tuple[lk.plan.Plan, list[Path]]:
    """Write every document of the van, the sheets of the lessons, and the job sheet of each vehicle of the tests."""
    made = lk.plan.make(lk.vehicle.load(VAN), draws=1000)
    assert made.readings is not None
    lk.page.save_job_sheet(made, folder / "van.html")
    frame.save(lk.page.readings_html(made.readings, "Readings"), folder / "readings.html")
    frame.save(readings.card_html(procedure.plan_measurement(5.0)), folder / "card.html")
    written = [folder / f"{name}.html" for name in ("van", "van_basis", "readings", "card")]
    for name in lk.lesson.lesson_file.names():
        written += sheets.save(lk.lesson.load(name), tuple(sheets.WRITERS), folder / name)
    for place in sorted(one for one in VEHICLES.iterdir() if one.is_dir()):
        found = findings.findings_of(lk.plan.make(lk.vehicle.load(place), draws=200))
        written.append(folder / f"{place.name}.html")
        frame.save(job_sheet.sheet_of(found, ""), written[-1])
    return made, written


def checker(folder: Path) -> tuple[str, str] | None:
    """Fetch the accessibility checker, with its version; None where that is not possible."""
    npm = which("npm")
    command = [str(npm), "pack", "axe-core", "--silent"]
    if npm is None or subprocess.run(command, cwd=folder, capture_output=True, timeout=STEP).returncode:
        return None
    (packed,) = folder.glob("axe-core-*.tgz")
    with tarfile.open(packed) as archive:
        member = archive.extractfile("package/axe.min.js")
        return None if member is None else (packed.stem, member.read().decode())


def objections(page: Any, script: str | None) -> str:
    """Count what the checker objects to, in each look of a page, and name it."""
    if script is None:
        return "not checked"
    found: dict[str, int] = {}
    page.evaluate(script)
    for scheme, width in CHECKED:
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 900})
        for name, number in page.evaluate(OBJECTIONS):
            found[name] = found.get(name, 0) + number
    return ", ".join(f"{name} ({number})" for name, number in found.items()) or "0"


def sideways(page: Any) -> str:
    """Say at which widths a page is wider than its window."""
    wide = []
    for width in (1400, 900, 390):
        page.set_viewport_size({"width": width, "height": 900})
        page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")
        if page.evaluate("document.documentElement.scrollWidth > innerWidth"):
            wide.append(str(width))
    return ", ".join(wide) or "no"


def draw(page: Any, name: str, folder: Path) -> None:
    """Keep a picture of a page in each of its looks."""
    devtools = page.context.new_cdp_session(page)
    for look, width in DRAWN:
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme="dark" if look == "dark" else "light")
        seen = look if look == "deuteranopia" else "none"
        devtools.send("Emulation.setEmulatedVisionDeficiency", {"type": seen})
        page.screenshot(path=folder / f"{name}_{width}_{look}.png", full_page=True)


def notebooks(browser: Any, script: str | None, folder: Path) -> Iterator[tuple[str, str]]:
    """Run each notebook whole in JupyterLab, and count what the checker objects to in its outputs and around them."""
    made = lab.set_up(folder / "lab").folder
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port, token = probe.getsockname()[1], secrets.token_hex(16)
    surroundings = {**lab.surroundings(), "HOME": str(folder), "JUPYTER_CONFIG_DIR": str(folder / "config")}
    command = [*lab.command(made, browser=False, port=port), f"--IdentityProvider.token={token}"]
    log = (folder / "log").open("w")
    server = subprocess.Popen(
        [*command, "--LabApp.expose_app_in_browser=True"], env=surroundings, stdout=log, stderr=log
    )
    try:
        context = browser.new_context(viewport={"width": 1400, "height": 14000}, bypass_csp=True)
        page = context.new_page()
        page.set_default_timeout(STEP * 1000)
        for _ in range(10 * STEP):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        page.goto(f"http://127.0.0.1:{port}/?token={token}")
        page.wait_for_selector(".jp-NotebookPanel .jp-Cell")
        # A notebook that is closed while its kernel starts leaves the next one waiting for ever.
        page.wait_for_function("() => document.querySelector('#jp-main-statusbar').innerText.includes('| Idle')")
        for place in sorted(made.glob("*.ipynb")):
            page.evaluate(OPENED, place.name)
            page.wait_for_timeout(5500)  # until the sliders have their names
            if script is None:
                yield place.stem, "not checked"
                continue
            page.evaluate(script)
            found = [page.evaluate(where) for where in (OURS, THEIRS)]
            ours, theirs = (", ".join(f"{name} ({number})" for name, number in one) or "0" for one in found)
            yield place.stem, f"{ours}; JupyterLab's own: {theirs}"
        context.close()
    finally:
        server.terminate()
        server.wait(STEP)
        log.close()


def main() -> None:
    """Print one line a document, then the length of the report in a terminal."""
    from playwright.sync_api import sync_playwright

    chromium = which("chromium") or which("chromium-browser")
    if chromium is None:
        sys.exit("no Chromium here")
    drawn = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    start, processor = time.monotonic(), re.search("model name\t: (.*)", Path("/proc/cpuinfo").read_text())
    print(f"lampkit {lk.__version__}, {time.strftime('%Y-%m-%d')}")
    print(f"{os.cpu_count()} cores ({platform.machine()}, {processor[1] if processor else ''}), Python", end=" ")
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = Path(name)
        fetched = checker(folder)
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        print(f"{platform.python_version()}, Chromium {browser.version}, {fetched[0] if fetched else 'no checker'}\n")
        print(f"{'document':34}{'words':>7}{'sheets':>8}  {'sideways':10}violations, three looks together", flush=True)
        made, files = documents(folder)
        page = browser.new_page()
        page.set_default_timeout(STEP * 1000)
        for file in files:
            page.set_viewport_size({"width": 1280, "height": 900})
            page.goto(file.as_uri())
            words = page.evaluate(WORDS)
            sheets_printed = len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True)))
            title = file.stem
            told = f"{sideways(page):10}{objections(page, fetched[1] if fetched else None)}"
            print(f"{title:34}{words:>7}{sheets_printed:>8}  {told}", flush=True)
            if drawn is not None:
                drawn.mkdir(parents=True, exist_ok=True)
                draw(page, title, drawn)
        page.close()
        print(f"\n{'notebook':34}violations", flush=True)
        for title, told in notebooks(browser, fetched[1] if fetched else None, folder):
            print(f"{title:34}{told}", flush=True)
        browser.close()
    print()
    for title, full in (("report in a terminal", False), ("report in a terminal, --all", True)):
        print(f"{title:34}{len(lk.page.report_text(made, full=full).splitlines()):>7} lines")
    print(f"\nThe whole took {time.monotonic() - start:.0f} s, {time.process_time():.0f} s of it this program's own.")


if __name__ == "__main__":
    main()
