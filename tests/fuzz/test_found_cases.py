"""Inputs that once did harm: each is told in one sentence that says what to do."""

import csv
from pathlib import Path

import pytest
from doors import command_door, held

from lampkit import cli

HEAD = "lamp,source,state,illuminance_lx,distance_mm,time\n"
LOG = """L,filament,off,2.0,1000,20:00
L,filament,on,12.0,1000,20:01
L,filament,off,10.0,1000,20:59
L,red,off,2.0,1000,21:00
L,red,on,12.0,1000,21:58
L,red,off,10.0,1000,21:59
"""

NUMBERS = {
    "1e400": "expected at most 20 digits, below 10,000,000.",
    "1e200": "is no number that a meter shows",
    "1e308": "is no number that a meter shows",
    "4." + "1" * 400: "is no number that a meter shows",
    "9" * 400: "is no number that a meter shows",
    "4e" + "1" * 5000: "characters; expected one reading, of at most 4000.",
    "x" * (csv.field_size_limit() + 1): "characters; expected one reading, of at most 4000.",
    "1e-300": "no more than its background",
}


def refusal(folder: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    """Run a command that must refuse, and give its one sentence."""
    try:
        status = cli.main([word.replace("FOLDER", str(folder)) for word in arguments])
    except SystemExit as ended:  # what the parser of the command line itself refuses
        status = ended.code if isinstance(ended.code, int) else 1
    assert status == 2
    told = capsys.readouterr().err.strip().splitlines()[-1]
    assert told.startswith("lampkit") and len(told) < 600
    return told


@pytest.mark.parametrize("cell", NUMBERS, ids=lambda cell: cell[:10])
@pytest.mark.parametrize("old", [",12.0,", ",1000,"], ids=["illuminance", "distance"])
def test_numbers_that_no_meter_shows(cell: str, old: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "log.csv").write_text(HEAD + LOG.replace(old, f",{cell},"))
    told = refusal(tmp_path, ["readings", "FOLDER/log.csv"], capsys)
    expected = NUMBERS[cell]
    if cell == "1e-300" and old == ",1000,":
        expected = "expected 0.02 m to 50 m"
    assert expected in told


def test_signs_of_mathematics_are_text(tmp_path: Path) -> None:
    for name in ("LED $5 at 3% or $6", "$5_6$", "a_b^c \\\\frac{1}"):
        (tmp_path / "log.csv").write_text(HEAD + LOG.replace("red", name))
        assert held(command_door(tmp_path, ["readings", "log.csv", "-o", "page.html"]), tmp_path, 60.0)
        page = (tmp_path / "page.html").read_text(encoding="utf-8")
        # A chart writes the name as it is, in a text of its own, and nowhere as a formula.
        assert name.split(" at ")[0] in page


def test_names_that_no_file_has(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "log.csv").write_text(HEAD + LOG)
    for arguments in (
        ["readings", "n" * 5000],
        ["report", "n" * 5000],
        ["report", "a\0b"],
        ["readings", "FOLDER/log.csv", "-o", "a\0b.html"],
    ):
        assert "can be no file's name" in refusal(tmp_path, arguments, capsys)


@pytest.mark.parametrize(
    ("arguments", "expected"),
    [
        (["60", "--face-diameter", "1e200"], "face_diameter: 1e+200 cannot be; expected 0.001 to 10 m."),
        (["1e-200"], "intensity: 1e-200 cannot be; expected 0.001 to 1e+06 cd."),
        (["60", "--background", "1e300"], "expected 0 to 100000 lx."),
        (["60", "--resolution", "1e300"], "expected 1e-06 to 10000 lx."),
        (["1e300"], "expected 0.001 to 1e+06 cd."),
    ],
)
def test_a_card_of_impossible_numbers(
    arguments: list[str], expected: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert refusal(tmp_path, ["procedure", *arguments], capsys).endswith(expected)


def test_a_sheet_that_was_cut_as_it_was_saved(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "log.csv").write_bytes(b"\xff\xfe" + (HEAD + LOG).encode("utf-16-le") + b"x")
    assert "cut short or damaged; save the sheet as CSV" in refusal(tmp_path, ["readings", "FOLDER/log.csv"], capsys)


def test_a_heading_of_rubbish_is_told_in_short(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "log.csv").write_text("q" * 3000 + "," + HEAD + LOG)
    told = refusal(tmp_path, ["readings", "FOLDER/log.csv"], capsys)
    assert "qqq ... is unknown" in told
