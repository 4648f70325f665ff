"""The command line, end to end: what it prints, what it writes, what it refuses."""

import gc
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import commands
import pytest
from commands import Finished
from worked_out import VAN, VEHICLES, plan_of

import lampkit
from lampkit import conversion, numbers
from lampkit.cli import main
from lampkit.rules import rule_sets
from lampkit.vehicle import vehicle

READ = VEHICLES / "chess_bus"
"""A vehicle of fewer lamps, some of which were read."""
FEW = ("--draws", "400")


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("workshop")


@pytest.fixture(scope="module")
def done(workshop: Path) -> Finished:
    return commands.here("report", VAN, *FEW, cwd=workshop)


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A vehicle with one lamp, in a folder of its own."""
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "vehicle.toml").write_text(
        """[vehicle]
name = "Bücherbus"
supply_voltage_V = 6
[[light_source]]
name = "red one"
colour = "red"
claimed_lumens_lm = 150
[[lamp]]
name = "Stop lamp"
function = "stop"
lens = "red"
filament = "P21W"
candidates = ["red one"]
""",
        encoding="utf-8",
    )
    return folder


@pytest.fixture(scope="module")
def answers(workshop: Path) -> dict[str, object]:
    finished = commands.here("report", VAN, *FEW, "--json", cwd=workshop)
    assert finished.returncode == 0
    found = json.loads(finished.stdout, parse_constant=lambda word: pytest.fail(f"{word} is not JSON"))
    assert isinstance(found, dict)
    return found


# ------------------------------------------------------------------------------------------------- the report


def test_report_prints_a_table_and_writes_the_job_sheet(done: Finished, workshop: Path) -> None:
    assert done.returncode == 0, done.stderr
    page = workshop / "library_van.html"
    assert "library_van.html" in done.stderr
    assert page.read_text(encoding="utf-8").lstrip().lower().startswith("<!doctype html>")
    assert "library_van_basis.html" in done.stderr
    assert sorted(path.name for path in workshop.iterdir()) == ["library_van.html", "library_van_basis.html"]
    for lamp in vehicle.load(VAN).lamps:
        assert lamp.name.removesuffix(" left").removesuffix(" right") in done.stdout


def test_the_answer_fits_one_screen_and_all_of_it_a_hundred_columns(
    done: Finished, small: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = done.stdout.splitlines()
    assert 14 < len(lines) <= 40 and max(map(len, lines)) <= 80
    target = str(tmp_path / "sheet.html")
    assert main(["report", str(small), *FEW, "-o", target]) == 0
    short = capsys.readouterr().out
    assert main(["report", str(small), *FEW, "--all", "-o", target]) == 0
    whole = capsys.readouterr().out
    assert whole.startswith(short[: short.index("More:")]) and len(whole) > 2 * len(short)
    assert max(map(len, whole.splitlines())) <= 100


def test_the_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    # As a program of its own, in a terminal without the letters, and with another hash seed: no number may hang on the
    # order of a set.
    surroundings = {"PYTHONHASHSEED": "77", "PYTHONIOENCODING": "ascii", "LC_ALL": "C"}
    folder = shutil.copytree(READ, tmp_path / "bus")
    text = (folder / "vehicle.toml").read_text(encoding="utf-8")
    (folder / "vehicle.toml").write_text(text.replace("Chess bus", "Schächbus"), encoding="utf-8")
    (tmp_path / "again").mkdir()
    first = commands.here("report", folder, *FEW, cwd=tmp_path)
    again = commands.program("report", folder, *FEW, "--seed", "1", cwd=tmp_path / "again", environment=surroundings)
    assert again.returncode == 0, again.stderr
    assert again.stdout == first.stdout.encode("ascii", "backslashreplace").decode() != first.stdout
    for page in ("bus.html", "bus_basis.html"):
        assert (tmp_path / "again" / page).read_bytes() == (tmp_path / page).read_bytes()


def test_another_seed_gives_other_numbers(small: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = []
    for seed in ("1", "1", "2"):
        assert main(["report", str(small), *FEW, "--json", "--seed", seed]) == 0
        told.append(json.loads(capsys.readouterr().out)["lamps"])
    assert told[0] == told[1] != told[2]


def test_json_writes_no_page_unless_asked(
    small: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(small.parent)
    assert main(["report", str(small), *FEW, "--json"]) == 0
    plain = capsys.readouterr().out
    assert list(small.parent.iterdir()) == [small]
    assert main(["report", str(small), *FEW, "--json", "-o", "sheet.html"]) == 0
    assert capsys.readouterr().out == plain
    assert Path("sheet.html").is_file()


def test_json_holds_the_numbers_of_the_library(answers: dict[str, object]) -> None:
    """Every ratio to the filament, as conversion gives it to whoever works in a notebook."""
    made = plan_of()
    lamps = answers["lamps"]
    assert isinstance(lamps, list) and len(lamps) == len(made.assessments)
    for told, assessment in zip(lamps, made.assessments, strict=True):
        assert told["name"] == assessment.name
        candidates = {candidate["light_source"]: candidate for candidate in told["candidates"]}
        for result in assessment.results:
            found = candidates[result.source.name]
            assert found["light_against_filament_1"] == pytest.approx(list(result.ratio), rel=1e-5)
            assert found["k_1"] == pytest.approx(list(result.k), rel=1e-5)
            assert [found["x_1"], found["y_1"]] == pytest.approx(list(result.chromaticity), rel=1e-5)


def test_the_table_holds_the_numbers_of_the_library(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The ratio of each candidate stands in the table as the library words it."""
    made = plan_of(READ)
    assert main(["report", str(READ), *FEW, "--all", "-o", str(tmp_path / "sheet.html")]) == 0
    words = re.sub(r"\s+", " ", capsys.readouterr().out)
    for assessment in made.assessments:
        for result in assessment.results:
            assert result.source.name in words
            # Lamps that are alike stand once: what was read of one of them, with its own interval.
            if result.ground is not conversion.assessment.Ground.READ_ON_TWIN:
                assert numbers.interval(result.ratio) in words


def test_a_table_that_nobody_reads(small: Path) -> None:
    command = f'"{sys.executable}" -m lampkit report "{small}" --draws 300 | true'
    finished = subprocess.run(command, shell=True, cwd=small.parent, capture_output=True, text=True, timeout=300)
    assert "Traceback" not in finished.stderr and "Exception" not in finished.stderr


# ------------------------------------------------------------------------------------------------- what is refused


def test_a_broken_file_through_the_real_program(tmp_path: Path) -> None:
    folder = tmp_path / "van"
    folder.mkdir()
    (folder / "vehicle.toml").write_text('[vehicle]\nname = "x"\nsupply = 12\n', encoding="utf-8")
    finished = commands.program("report", folder, cwd=tmp_path)
    assert (finished.returncode, finished.stdout) == (2, "")
    assert finished.stderr.splitlines() == [
        f"lampkit: {folder}/vehicle.toml: there is no section [[lamp]]; expected one in every vehicle file.",
        f"lampkit: {folder}/vehicle.toml, line 3, supply of [vehicle]: there is no key 'supply' in this section; "
        "did you mean 'supply_voltage_V'.",
    ]
    assert [path.name for path in tmp_path.iterdir()] == ["van"]


@pytest.mark.parametrize(
    ("output", "words"),
    [
        ("nowhere/sheet.html", "its folder does not exist"),
        ("here", "this is a folder"),
        ("sheet.txt", "expected a name that ends in .html"),
        ("/dev/null", "this is not a file"),
        ("x" * 300 + ".html", "can be no file's name"),
    ],
)
def test_a_place_that_cannot_be_written(
    output: str, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "here").mkdir()
    assert main(["report", str(VAN), *FEW, "-o", output]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert words in err and err.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["here"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "COMMAND"),
        (["repport"], "invalid choice: 'repport'"),
        (["report"], "FOLDER"),
        (["report", "van", "--seed", "-1"], "'-1' is not a whole number from 0"),
        (["report", "van", "--seed", "one"], "'one' is not a whole number"),
        (["report", "van", "--draws", "1"], "'1' is not a whole number from 100 to 20000"),
        (["report", "van", "--draws", "1000000000"], "from 100 to 20000"),
        (["report", "van", "--sead", "1"], "--sead 1; 'lampkit report --help' explains the command"),
    ],
)
def test_words_that_are_no_command(arguments: Sequence[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2
    out, err = capsys.readouterr()
    assert out == "" and words in err


# ------------------------------------------------------------------------------------------------- writing a file


def test_a_failed_write_leaves_what_was_there(
    small: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(small.parent)
    Path("sheet.html").write_text("old", encoding="utf-8")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert main(["report", str(small), *FEW, "-o", "sheet.html"]) == 2
    out, err = capsys.readouterr()
    assert out == "" and "No space left on device" in err and err.count("\n") == 1
    assert Path("sheet.html").read_text(encoding="utf-8") == "old"
    assert sorted(path.name for path in small.parent.iterdir()) == ["sheet.html", "small"]


def test_a_page_is_written_through_its_link(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(small.parent)
    Path("sheet.html").write_text("old", encoding="utf-8")
    Path("link.html").symlink_to("sheet.html")
    assert main(["report", str(small), *FEW, "-o", "link.html"]) == 0
    assert Path("link.html").is_symlink()
    assert "Bücherbus" in Path("sheet.html").read_text(encoding="utf-8")


def test_the_page_of_the_folder_one_stands_in(small: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(small)
    assert main(["report", ".", *FEW]) == 0
    assert (small / "small.html").is_file()


# ------------------------------------------------------------------------------------------------- help


def test_a_command_leaves_the_interpreter_as_it_was(capsys: pytest.CaptureFixture[str]) -> None:
    before = gc.get_threshold()
    assert main(["rules"]) == 0
    assert main(["report", "no such folder"]) == 2
    assert gc.get_threshold() == before


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["--version"])
    assert stopped.value.code == 0
    assert capsys.readouterr().out == f"lampkit {lampkit.__version__}\n"


def test_help_names_every_command_and_fits(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    for arguments, words in ((["--help"], ["report"]), (["report", "--help"], ["--json", "--seed", "--draws", "-o"])):
        with pytest.raises(SystemExit):
            main(arguments)
        out = capsys.readouterr().out
        assert all(word in out for word in words)
        assert max(map(len, out.splitlines())) <= 80


def test_help_loads_no_heavy_library(tmp_path: Path) -> None:
    code = (
        "import sys\nfrom lampkit.cli import main\ntry:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "print(sorted({'scipy', 'pandas', 'matplotlib', 'colour'} & set(sys.modules)), file=sys.stderr)"
    )
    finished = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=tmp_path)
    assert finished.stderr == "[]\n"


def test_rules_lists_every_rule_set_and_those_of_a_year(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules"]) == 0
    listed = capsys.readouterr().out
    assert all(f"{one.name}: " in listed for one in rule_sets.rule_sets().values())
    assert main(["rules", "--year", "1964"]) == 0
    told = capsys.readouterr().out
    places = ("UN", "US", "UK", "Germany", "France")
    assert [told.index(f"1964, {place}: ") for place in places] == sorted(told.index(f"1964, {p}: ") for p in places)
    assert told.count("1964, ") == len(places) and "'UN before 1973'" in told and "'US before 1969'" in told
    assert max(map(len, told.splitlines())) <= 100


def test_lamps_are_listed_with_what_goes_in_their_place(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["lamps", "T4W", "12V"]) == 0
    told = capsys.readouterr().out
    for words in ("T4W, 12 V, base BA9s", "35 lm at 13.5 V", "from memory", "233: 1.00 times the watts"):
        assert words in told
    assert main(["lamps"]) == 0
    assert capsys.readouterr().out.count(" V, base ") > 100
    assert main(["lamps", "12V", "2.2W"]) == 0
    assert "cannot be told without its base" in capsys.readouterr().out
    assert main(["lamps", "281"]) == 0
    assert "12V 2W BA7s (number 281)" in capsys.readouterr().out
    assert main(["lamps", "nothing"]) == 2
    assert "no filament lamp answers to 'nothing'" in capsys.readouterr().err
