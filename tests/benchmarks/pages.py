"""How heavy the pages are: words, sheets of A4, lines of the report, and what an accessibility checker objects to.

    python tests/benchmarks/pages.py

Printed, never asserted: the tests in `tests/page` hold the sheets. Words are those of the page, without those inside
pictures. The checker is axe-core, which `npm` fetches into a folder that is thrown away; without `npm` that column is
empty. The dated texts beside this script are its output.
"""

import re
import subprocess
import sys
import tarfile
import tempfile
from collections.abc import Iterator
from pathlib import Path
from shutil import which
from typing import Any

import lampkit as lk
from lampkit.measurement import procedure
from lampkit.page import card, findings, job_sheet

VAN = Path(lk.tables.folder()) / "library_van"
VEHICLES = Path(__file__).parents[1] / "vehicles"
LOOKS = (("light", 1280), ("dark", 1280), ("light", 390))
WORDS = """(() => { const copy = document.body.cloneNode(true);
    copy.querySelectorAll('svg, style, nav').forEach(one => one.remove());
    return copy.innerHTML.replace(/<[^>]+>/g, ' ').trim().split(/\\s+/).length; })()"""


def documents(folder: Path) -> Iterator[Path]:
    """Write every document of the van, and the job sheet of each vehicle of the tests."""
    made = lk.plan.make(lk.vehicle.load(VAN), draws=1000)
    assert made.readings is not None
    lk.page.save_job_sheet(made, folder / "van.html")
    (folder / "readings.html").write_text(lk.page.readings_html(made.readings, "Readings"), encoding="utf-8")
    (folder / "card.html").write_text(card.page(procedure.plan_measurement(5.0)), encoding="utf-8")
    yield from (folder / f"{name}.html" for name in ("van", "van_basis", "readings", "card"))
    for place in sorted(one for one in VEHICLES.iterdir() if one.is_dir()):
        found = findings.findings_of(lk.plan.make(lk.vehicle.load(place), draws=200))
        target = folder / f"{place.name}.html"
        target.write_text(job_sheet.written(found, ""), encoding="utf-8")
        yield target


def checker(folder: Path) -> str | None:
    """Fetch the accessibility checker; None where that is not possible."""
    npm = which("npm")
    if npm is None or subprocess.run([npm, "pack", "axe-core", "--silent"], cwd=folder, capture_output=True).returncode:
        return None
    (packed,) = folder.glob("axe-core-*.tgz")
    with tarfile.open(packed) as archive:
        member = archive.extractfile("package/axe.min.js")
        return None if member is None else member.read().decode()


def objections(browser: Any, file: Path, script: str | None) -> str:
    """Count what the checker objects to, in each look of a page, and name it."""
    if script is None:
        return "not checked"
    found: dict[str, int] = {}
    for scheme, width in LOOKS:
        page = browser.new_page(color_scheme=scheme, viewport={"width": width, "height": 900})
        page.goto(file.as_uri())
        page.evaluate(script)
        for one in page.evaluate("axe.run().then(told => told.violations.map(v => [v.id, v.nodes.length]))"):
            found[one[0]] = found.get(one[0], 0) + one[1]
        page.close()
    return ", ".join(f"{name} ({number})" for name, number in found.items()) or "0"


def main() -> None:
    """Print one line a document, then the length of the report in a terminal."""
    from playwright.sync_api import sync_playwright

    chromium = which("chromium") or which("chromium-browser")
    if chromium is None:
        sys.exit("no Chromium here")
    print(f"lampkit {lk.__version__}\n\n{'document':20}{'words':>8}{'sheets':>8}  violations, three looks together")
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = Path(name)
        script = checker(folder)
        browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        for file in documents(folder):
            page = browser.new_page()
            page.goto(file.as_uri())
            words = page.evaluate(WORDS)
            sheets = len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True)))
            page.close()
            print(f"{file.stem:20}{words:>8}{sheets:>8}  {objections(browser, file, script)}", flush=True)
        browser.close()
    made = lk.plan.make(lk.vehicle.load(VAN), draws=1000)
    for title, full in (("report", False), ("report --all", True)):
        print(f"{title:20}{len(lk.page.report_text(made, full=full).splitlines()):>8} lines")


if __name__ == "__main__":
    main()
