"""The wording of each page, as it was last read and agreed to; every other test asks for keys.

After a page was reworded on purpose, `LAMPKIT_GOLDEN=renew python -m pytest tests/page/test_golden.py` writes the files
anew; the change is then read in the version control, word by word.
"""

import os
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from worked_out import VAN

from lampkit import __version__
from lampkit.measurement import fair_ratio, illuminance_log
from lampkit.page import basis_html, job_sheet_html, readings_text, report_text
from lampkit.plan import plan
from lampkit.plan.plan import Plan
from lampkit.vehicle import vehicle

GOLDEN = Path(__file__).parent / "golden"
DRAWS, SEED = 200, 1


class Words(HTMLParser):
    """The words of a page, a line for each cell, item, paragraph and heading; of a picture its description."""

    LINES = frozenset({"h1", "h2", "h3", "p", "li", "th", "td", "div", "section", "title"})

    def __init__(self, page: str) -> None:
        super().__init__()
        self.lines = [""]
        self.silent: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in self.LINES:
            self.lines.append("")
        if tag in ("style", "svg"):
            self.silent.append(tag)
        if tag == "svg":
            self.lines.append(f"[picture: {dict(attrs)['aria-label']}]")

    def handle_endtag(self, tag: str) -> None:
        if self.silent and tag == self.silent[-1]:
            self.silent.pop()
        if tag in self.LINES:
            self.lines.append("")

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.lines[-1] += data

    def __str__(self) -> str:
        lines = (" ".join(line.split()) for line in self.lines)
        return "\n".join(line for line in lines if line)


@pytest.fixture(scope="module")
def made() -> Plan:
    return plan.make(vehicle.load(VAN), draws=DRAWS, seed=SEED)


def assert_golden(name: str, written: str) -> None:
    # The version changes without a change of wording.
    told = re.sub(rf"\b{re.escape(__version__)}\b", "VERSION", written).rstrip() + "\n"
    file = GOLDEN / name
    if os.environ.get("LAMPKIT_GOLDEN") == "renew":
        file.write_text(told, encoding="utf-8")
    assert told == file.read_text(encoding="utf-8")


def test_the_text_of_the_report(made: Plan) -> None:
    assert_golden("report.txt", report_text(made))
    assert_golden("report_all.txt", report_text(made, full=True))


def test_the_words_of_the_job_sheet(made: Plan) -> None:
    assert_golden("job_sheet.txt", str(Words(job_sheet_html(made, "van_basis.html"))))


def test_the_words_of_the_basis(made: Plan) -> None:
    assert_golden("basis.txt", str(Words(basis_html(made, "van.html"))))


def test_the_text_of_the_readings(made: Plan) -> None:
    found = made.readings
    assert found is not None
    alone = fair_ratio.compare_readings(illuminance_log.load_log(VAN / "readings.csv"), draws=DRAWS, seed=SEED)
    assert_golden("readings.txt", f"{readings_text(found)}\n\n{readings_text(alone)}")


def test_the_table_of_what_changed_says_what_the_report_says() -> None:
    """In the README of the studies: every lamp of the van, and what is fitted in it now."""
    readme = (Path(__file__).parents[1] / "studies" / "README.md").read_text(encoding="utf-8")
    table = readme.split("## What heat, old lamps, meters and voltage changed")[1]
    rows = [line.strip("| ").split(" | ") for line in table.splitlines() if line.startswith("| ")][1:]
    short = (GOLDEN / "report.txt").read_text(encoding="utf-8")
    told = {
        lamp: (what, float(ratio))
        for lamp, what, ratio in re.findall(r"^\d+ (\S.*?) +(fit .*?|keep .*?) +(\d+\.\d+) ", short, re.MULTILINE)
    }
    assert [row[0] for row in rows] == list(told)
    for lamp, _, now, _ in rows:
        fitted, _, ratio = now.partition(", ")
        assert told[lamp][0].startswith(f"fit {fitted}" if ratio else "keep"), lamp
        # A tenth more or less is no other choice.
        assert not ratio or float(ratio.split()[0]) == pytest.approx(told[lamp][1], rel=0.1), lamp
