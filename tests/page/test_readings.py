"""The commands readings and procedure, end to end, and the section of the readings for the job sheet."""

import json
import re
import shutil
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import commands
import numpy as np
import pytest
from commands import Finished
from worked_out import VAN, plan_of

from lampkit import numbers
from lampkit.cli import main
from lampkit.measurement import fair_ratio, illuminance_log, log_file, procedure
from lampkit.measurement.fair_ratio import Comparison
from lampkit.page import data, findings, frame, job_sheet, job_sheet_text, reading_findings, readings
from lampkit.plan import plan
from lampkit.plan.agreement import Confrontation
from lampkit.statements import say
from lampkit.vehicle import vehicle

FEW = ("--draws", "400")
GUIDE = Path(__file__).resolve().parents[2] / "references" / "readings_file.md"


def parsed(text: str) -> dict[str, object]:
    found = json.loads(text, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    assert isinstance(found, dict)
    return found


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the van's log, away from its vehicle."""
    folder = tmp_path_factory.mktemp("alone")
    shutil.copy(VAN / "readings.csv", folder / "garage.csv")
    return folder / "garage.csv"


@pytest.fixture(scope="module")
def comparison(alone: Path) -> Comparison:
    return fair_ratio.compare_readings(str(alone), draws=400, seed=1)


@pytest.fixture(scope="module")
def confrontation() -> Confrontation:
    """What a notebook gets, with every lamp of the van."""
    found = plan_of().readings
    assert found is not None and found.comparison is not None
    return found


@pytest.fixture(scope="module")
def beside(alone: Path) -> Finished:
    return commands.program("readings", alone.name, "--vehicle", VAN, *FEW, "-o", "page.html", cwd=alone.parent)


# ------------------------------------------------------------------------------------------------- what is printed


def test_a_log_by_itself(alone: Path, comparison: Comparison) -> None:
    finished = commands.here("readings", alone.name, *FEW, cwd=alone.parent)
    assert finished.returncode == 0, finished.stderr
    words = re.sub(r"\s+", " ", finished.stdout)
    for r in comparison.ratios:
        assert f"{r.new} against {r.old} {numbers.interval(r.ratio)} {numbers.figure(r.naive)} " in words
        assert str(r.light) in words and str(r.sentence) not in words
    for remark in comparison.remarks:
        assert str(remark) in words
    assert str(say("page.readings.beside")) not in finished.stdout
    assert max(map(len, finished.stdout.splitlines())) <= 100


def test_a_log_beside_the_prediction(beside: Finished, confrontation: Confrontation, alone: Path) -> None:
    assert beside.returncode == 0, beside.stderr
    assert max(map(len, beside.stdout.splitlines())) <= 100
    words = re.sub(r"\s+", " ", beside.stdout)
    for f in confrontation.findings:
        assert numbers.interval(f.ratio.ratio) in words
        assert str(f.ratio.light) in words
        told = f.blame.sentence.values
        assert str(told["why"]) in words
        assert numbers.interval(f.blame.after[1]) in words
        assert str(f.ratio.sentence) not in words, "the row of the table tells it"
    for lens in reading_findings.findings_of_readings(confrontation).lenses:
        assert str(say("page.lens.heading", lens=lens.name, lamp=lens.known.lamp))[:100] in words
        assert all(str(sentence) in words for sentence in lens.sentences)
    assert "page.html" in beside.stderr
    page = (alone.parent / "page.html").read_text(encoding="utf-8")
    assert page.startswith("<!DOCTYPE html>") and "Readings: garage.csv" in page


def test_a_log_in_the_folder_of_its_vehicle(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shutil.copytree(VAN, tmp_path / "van")
    assert main(["readings", str(tmp_path / "van" / "readings.csv"), *FEW, "--json"]) == 0
    here = parsed(capsys.readouterr().out)
    assert main(["readings", str(VAN / "readings.csv"), "--vehicle", str(tmp_path / "van"), *FEW, "--json"]) == 0
    there = parsed(capsys.readouterr().out)
    assert here["predictions"] and here["lenses"]
    assert {**here, "file": ""} == {**there, "file": ""}


def test_what_contributes_adds_up_in_squares(comparison: Comparison) -> None:
    for r in comparison.ratios:
        found = reading_findings.causes(r.budget)
        whole = r.budget.standard_uncertainty / r.budget.value
        assert np.sqrt(sum(c.uncertainty**2 for c in found)) == pytest.approx(whole, rel=1e-9)
        assert sum(c.share for c in found) == pytest.approx(1.0)
        assert [c.uncertainty for c in found] == sorted((c.uncertainty for c in found), reverse=True)


# ------------------------------------------------------------------------------------------------- JSON


def test_json_holds_the_numbers_of_the_library(alone: Path, confrontation: Confrontation) -> None:
    finished = commands.here("readings", alone.name, "--vehicle", VAN, *FEW, "--json", cwd=alone.parent)
    assert finished.returncode == 0, finished.stderr
    held = parsed(finished.stdout)
    assert held["file"] == "garage.csv" and held["seed"] == 1
    told, ratios = held["ratios"], held["predictions"]
    assert isinstance(told, list) and isinstance(ratios, list)
    for row, beside_it, f in zip(told, ratios, confrontation.findings, strict=True):
        assert (row["lamp"], row["old"], row["new"]) == (f.ratio.lamp, f.ratio.old, f.ratio.new)
        assert row["ratio_1"] == pytest.approx(list(f.ratio.ratio), rel=1e-5)
        assert row["naive_ratio_1"] == pytest.approx(f.ratio.naive, rel=1e-5)
        assert row["intensity_old_cd"] == pytest.approx(list(f.ratio.intensity_old), rel=1e-5)
        assert beside_it["predicted_ratio_1"] == pytest.approx(list(f.predicted), rel=1e-5)
        assert beside_it["normalised_error_1"] == pytest.approx(f.agreement.normalised_error, rel=1e-5)
        assert beside_it["blame"]["lens_after_1"] == pytest.approx(list(f.blame.after[0]), rel=1e-5)
        assert beside_it["blame"]["beam_before_1"] == pytest.approx(list(f.blame.before[2]), rel=1e-5)


def test_json_of_a_ratio_without_an_upper_limit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "log.csv"
    log.write_text(
        "lamp,source,state,illuminance_lx,distance_m\nTail,old,off,90,1\nTail,old,on,91,1\nTail,old,off,80,1\n"
        "Tail,new,on,120,1\nTail,new,off,85,1\n",
        encoding="utf-8",
    )
    assert main(["readings", str(log), "--json", *FEW]) == 0
    (row,) = parsed(capsys.readouterr().out)["ratios"]  # type: ignore[misc]
    assert row["no_upper_limit"] is True and row["ratio_1"][2] is None
    assert main(["readings", str(log), *FEW]) == 0
    out = capsys.readouterr().out
    assert "no limit" in out and not {"inf", "nan"} & set(re.findall(r"\w+", out))


def test_the_same_seed_gives_the_same_numbers(alone: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = []
    for seed in ("1", "1", "2"):
        assert main(["readings", str(alone), *FEW, "--json", "--seed", seed]) == 0
        told.append(parsed(capsys.readouterr().out)["ratios"])
    assert told[0] == told[1] != told[2]


# ------------------------------------------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lamp,source,state,illuminance_lx,distance_m\nStop,filament,on,142,1\n", "there is no background for 'Stop'"),
        ("lamp,source,illuminance_lx,dark_lx,distance_m\nStop,filament,12,30,1\n", "no more than its background"),
        ("lamp,source,illuminance_lx,dark_lx\nStop,filament,12,3\n", "no distance column"),
        ("lamp,source,illuminance_lx,dark_lx,distance_m\nStop,filament,much,3,1\n", "'much' is not a number"),
        ("Lampe;Quelle;Lux;Dunkel;Abstand\nStop;filament;30;3;1\n", "line 1: the first line names no column of a log"),
        ("Lampe;Quelle;Lux;Dunkel;Abstand\nStop;filament;30;3;1\n", "'lampe', 'quelle', 'lux', 'dunkel', 'abstand'."),
        ("", "the file is empty"),
    ],
)
def test_a_broken_log(text: str, words: str, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(text, encoding="utf-8")
    finished = commands.here("readings", log, "-o", "page.html", cwd=tmp_path)
    assert (finished.returncode, finished.stdout) == (2, "")
    assert words in finished.stderr and finished.stderr.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["log.csv"]


def test_a_lamp_that_the_vehicle_lacks(alone: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = tmp_path / "log.csv"
    log.write_text(alone.read_text(encoding="utf-8").replace("Tail lamp left", "Tail lmp left"), encoding="utf-8")
    assert main(["readings", str(log), "--vehicle", str(VAN), *FEW]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.count("\n") == 1
    assert "the vehicle has no lamp 'Tail lmp left'" in err and "Tail lamp left" in err


def test_all_names_that_the_vehicle_lacks_are_told_at_once(alone: Path, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    text = alone.read_text(encoding="utf-8").replace("Tail lamp left", "Tail lmp left").replace("white LED A", "white")
    log.write_text(text, encoding="utf-8")
    finished = commands.here("readings", log, "--vehicle", VAN, *FEW, cwd=tmp_path)
    assert finished.returncode == 2 and "no lamp 'Tail lmp left'" in finished.stderr
    assert "'white' is neither the filament nor a light source on offer" in finished.stderr


def test_names_are_spelt_as_the_vehicle_spells_them(alone: Path, tmp_path: Path) -> None:
    text = (
        alone.read_text(encoding="utf-8").replace("Tail lamp left", "tail  LAMP left").replace("red LED A", "Red led A")
    )
    (tmp_path / "log.csv").write_text(text, encoding="utf-8")
    shown = [
        parsed(commands.here("readings", log, "--vehicle", VAN, *FEW, "--json", cwd=tmp_path).stdout)
        for log in (alone, tmp_path / "log.csv")
    ]
    assert shown[0]["ratios"] == shown[1]["ratios"]
    assert any("was taken for 'Tail lamp left'" in str(one) for one in shown[1]["remarks"])


def test_columns_of_a_small_ratio_do_not_touch(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    rows = "Stop,filament,80.000,0.001,1\nStop,green LED behind a red lens,0.150,0.001,1\n"
    log.write_text(f"lamp,source,illuminance_lx,dark_lx,distance_m\n{rows}", encoding="utf-8")
    shown = commands.here("readings", log, *FEW, cwd=tmp_path).stdout
    (line,) = (one for one in shown.splitlines() if one.startswith(" 1 "))
    assert re.search(r"\(0\.00\d+ to 0\.00\d+\) +0\.00\d+ ", line) and len(line) <= 100


@pytest.mark.parametrize("output", ["nowhere/page.html", "page.txt"])
def test_a_page_that_cannot_be_written(
    output: str, alone: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for arguments in (["readings", str(alone), *FEW], ["procedure", "40"]):
        assert main([*arguments, "-o", output]) == 2
        out, err = capsys.readouterr()
        assert out == "" and err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


# ------------------------------------------------------------------------------------------------- the section


class Page(HTMLParser):
    """Checks that elements close in order, and keeps what tests ask for."""

    VOID = frozenset({"meta", "link", "br", "hr", "img", "col", "input"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.roles: list[dict[str, str | None]] = []
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        if tag not in self.VOID:
            self.open.append(tag)
        if tag == "svg":
            self.roles.append(dict(attributes))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words += data


def section(found: Confrontation | None) -> str:
    shown = None if found is None else readings.section_content(reading_findings.findings_of_readings(found))
    return str(frame.filled("readings.html", readings=shown)).strip()


def test_the_section_of_the_job_sheet(confrontation: Confrontation) -> None:
    written = section(confrontation)
    page = Page(written)
    assert page.open == [] and written.startswith("<section")
    # two of all ratios, a split for each, a picture for each lens
    assert len(page.roles) == 2 + len(confrontation.findings) + len(confrontation.lenses)
    assert all(role["role"] == "img" and len(role["aria-label"] or "") > 40 for role in page.roles)
    for f in confrontation.findings:
        assert str(f.ratio.light) in page.words
        assert numbers.interval(f.predicted) in page.words
        assert str(f.ratio.sentence) not in page.words, "the row of the table tells it"


@pytest.mark.browser
def test_the_page_prints_its_answer_first_on_three_sheets(
    browser: Any, beside: Finished, alone: Path, tmp_path: Path, pdftotext: str
) -> None:
    assert beside.returncode == 0
    printed = tmp_path / "readings.pdf"
    page = browser.new_page()
    page.goto((alone.parent / "page.html").as_uri())
    written = page.pdf(prefer_css_page_size=True)
    page.close()
    printed.write_bytes(written)
    sheets = len(re.findall(rb"/Type\s*/Page\b", written))
    assert sheets <= 3
    each = [
        subprocess.run(
            [pdftotext, "-layout", "-f", str(n), "-l", str(n), str(printed), "-"],
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=True,
        ).stdout
        for n in range(1, sheets + 1)
    ]
    assert all(len(words.split()) > 60 for words in each), "no blank sheet"
    first = " ".join(each[0].split())
    assert first.index(str(say("page.column.fair_ratio"))) < 300
    assert "1. Stop lamp left: red LED A" in first and "less light" in first


def test_no_section_without_a_log() -> None:
    assert section(None) == ""


def test_names_from_the_log_are_text_not_markup(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(
        "lamp,source,illuminance_lx,dark_lx,distance_m\n<b>x</b>,old & worn,142,3,1\n<b>x</b>,<i>,58,3,1\n",
        encoding="utf-8",
    )
    written = readings.readings_html(fair_ratio.compare_readings(str(log), draws=300), "<b>x</b> & y")
    assert "<b>x" not in written and "<i>" not in written
    assert Page(written).open == []


def test_a_vehicle_whose_lamps_were_read_with_one_source_only(alone: Path, tmp_path: Path) -> None:
    lines = alone.read_text(encoding="utf-8").splitlines()
    log = tmp_path / "log.csv"
    log.write_text("\n".join([lines[0], *(x for x in lines if x.startswith("Tail lamp left,filament"))]) + "\n")
    van = vehicle.load(VAN)
    van = replace(van, lamps=tuple(lamp for lamp in van.lamps if lamp.name == "Tail lamp left"))
    _, found = plan.with_readings(van, plan.assess_lamps(van, draws=300), log=illuminance_log.load_log(log), seed=1)
    assert found is not None and found.comparison is not None and not found.comparison.ratios
    assert str(say("page.readings.none")) in section(found)
    assert readings.readings_text(found).startswith("Tail lamp left, filament: ")
    assert data.readings_as_dict(found)["ratios"] == []


# ------------------------------------------------------------------------------------------------- the procedure


def test_the_procedure_is_one_page_and_says_what_the_plan_says(tmp_path: Path) -> None:
    finished = commands.here(
        "procedure", "40", "--background", "2", "--resolution", "0.1", "-o", "card.html", cwd=tmp_path
    )
    assert finished.returncode == 0, finished.stderr
    made = procedure.plan_measurement(40.0, background=2.0, resolution=0.1)
    lines = finished.stdout.splitlines()
    assert max(map(len, lines)) <= 100 and len(lines) <= 60
    assert " ".join(finished.stdout.split()) == " ".join(str(made).split())
    page = (tmp_path / "card.html").read_text(encoding="utf-8")
    parsed_page = Page(page)
    assert parsed_page.open == []
    words = " ".join(parsed_page.words.split())
    for line in str(made).splitlines()[2:]:
        told = re.sub(r"^(\d+\. |- )", "", line)
        assert told.lower().rstrip(".") in words.lower(), told
    assert readings.card_html(made) == page
    # Drawn, and a line for each reading of each lamp: off, on, off, supply, time.
    assert page.count("<svg") == 1 and f"{made.distance:.2g} m from face to sensor" in words
    assert page.count("<td></td>") == 2 * made.repeats * 5


@pytest.mark.browser
@pytest.mark.parametrize(("difference", "background", "repeats"), [(0.2, 2.0, 2), (0.05, 5.0, 10)])
def test_the_card_is_one_sheet_with_a_line_for_each_reading(
    browser: Any, tmp_path: Path, difference: float, background: float, repeats: int
) -> None:
    file = tmp_path / "card.html"
    plan = procedure.plan_measurement(10.0, background=background, resolution=0.1, difference=difference)
    assert plan.repeats == repeats and readings.card_html(plan).count("<td></td>") == 2 * repeats * 5
    file.write_text(readings.card_html(plan), encoding="utf-8")
    opened = browser.new_page(viewport={"width": 390, "height": 800})
    opened.goto(file.as_uri())
    assert opened.evaluate("document.documentElement.scrollWidth") <= 390
    printed = opened.pdf(prefer_css_page_size=True)
    opened.close()
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [(["0"], "intensity"), (["40", "--background", "-1"], "background"), (["40", "--difference", "0"], "difference")],
)
def test_a_procedure_that_cannot_be(arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["procedure", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == "" and words in err and err.count("\n") == 1


@pytest.mark.parametrize("word", ["bright", "nan", "inf"])
def test_an_intensity_that_is_no_number(word: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["procedure", word])
    assert stopped.value.code == 2 and f"'{word}' is not a number" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["readings", "procedure"])
def test_help_fits_and_shows_no_doubled_percent(
    command: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit):
        main([command, "--help"])
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 80 and "%%" not in out


# ------------------------------------------------------------------------------------------------- the guide


def test_the_guide_explains_every_column_with_its_unit() -> None:
    rows = re.findall(r"^\| (`[^|]+) \| ([^|]+) \|", GUIDE.read_text(encoding="utf-8"), flags=re.MULTILINE)
    explained = {
        name: unit.strip()
        for names, units in rows
        for name, unit in zip(re.findall(r"`(\w+)`", names), units.split(","), strict=True)
    }
    assert set(explained) == set(log_file.COLUMNS)
    for name, unit in explained.items():
        assert unit == "-" or name.endswith(f"_{unit}"), name


def test_every_example_of_the_guide_can_be_read(tmp_path: Path) -> None:
    examples = re.findall(r"```csv\n(.*?)```", GUIDE.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert len(examples) == 3
    for number, example in enumerate(examples):
        log = tmp_path / f"{number}.csv"
        log.write_text(example, encoding="utf-8")
        found = fair_ratio.compare_readings(str(log), draws=300)
        assert found.ratios[0].new == "red LED A"


def test_a_point_that_slipped_in_the_log_reaches_the_first_screen(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(VAN, tmp_path / "van"))
    log = folder / "readings.csv"
    slipped = re.sub(r"(?m)^(Stop lamp left,red LED A,on),(\d+)\.(\d),", r"\1,\2\3,", log.read_text())
    assert slipped != log.read_text()
    log.write_text(slipped)
    read = vehicle.load(folder)
    made = plan.make(read, draws=200)
    told = {one.heading.key: one.words.values for one in findings.findings_of(made).dangers}
    (far,) = told["page.watch.readings"]["lamps"]
    assert (far.values["lamp"], far.values["name"]) == ("Stop lamp left", "red LED A")
    assert far.values["ratio"] > 5 * far.values["expected"]
    assert str(say("page.watch.readings")) in job_sheet_text.report_text(made)
    # What cannot be used at all is left out, and told before the answer.
    log.write_text(slipped.replace(",filament,off,2.1,", ",filament,off,OL,", 1))
    without = plan.make(read, draws=200, assessed=made.predicted)
    shown = " ".join(job_sheet_text.report_text(without).split())
    assert without.readings is None and "over its range ('OL')" in shown.partition("what to do")[0]
    assert findings.findings_of(without).dangers[0].heading.key == "page.watch.unread"
    assert "over its range" in job_sheet.job_sheet_html(without).partition('id="fit"')[0]
    assert "page.watch.readings" not in {one.heading.key for one in findings.findings_of(plan_of()).dangers}
