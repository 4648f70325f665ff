"""Inputs that once did harm: each is told in one sentence that says what to do."""

import csv
from pathlib import Path

import pytest
from doors import command_door, held

import lampkit as lk
from lampkit import cli
from lampkit.errors import InputError

LED = lk.circuits.led_load(2, 13.5)
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


SHEET = """[vehicle]
name = "cart"
year = 1964
rules = "UN"
supply_voltage_V = 12
[[light_source]]
name = "own"
colour = "red"
claimed_lumens_lm = 95
layout = "forward"
[[lamp]]
name = "Stop"
function = "stop"
lens = "red"
filament = "P21W"
candidates = ["own"]
"""


@pytest.mark.parametrize(
    ("old", "new", "line", "told"),
    [
        ("1964", "1964-01-01", 3, "a date is not a number; expected a whole number from"),
        ("1964", "07:32:00", 3, "a time is not a number; expected a whole number from"),
        ("1964", "1" + "0" * 400, 3, "a number of 401 digits"),
        (
            '"forward"',
            "false",
            10,
            "false is not text; expected one of 'all-round', 'forward', between quotation marks.",
        ),
        ('"red"\nclaimed', "inf\nclaimed", 8, "expected one of 'deep red', 'red', 'red-orange', "),
        ('"UN"', "3", 4, "between quotation marks: one of 'UN', "),
        ('"stop"', "3", 13, "between quotation marks: one of 'stop', 'high-mounted stop', "),
        ('"P21W"', "21", 15, "'W21/5W' and "),
        ('"P21W"', '"zzzz"', 15, " more; or write its volts and watts, as in '12V 2.2W'."),
        ('"cart"', '"ca\\u200brt"', 2, "character 3 of the text cannot be seen or printed (U+200B, ZERO WIDTH SPACE)"),
        ('"cart"', '"cart"\n"\\u001b[31m" = 1', 3, "there is no key '\\x1b[31m' in this section"),
        ('"cart"', '"cart"\n"a\\nb" = 1', 3, "there is no key 'a\\nb' in this section"),
    ],
)
def test_messages_of_a_vehicle_file_say_what_to_do(
    old: str, new: str, line: int, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert SHEET.count(old) == 1
    (tmp_path / "vehicle.toml").write_text(SHEET.replace(old, new), encoding="utf-8")
    said = refusal(tmp_path, ["report", "FOLDER"], capsys)
    assert f"vehicle.toml, line {line}, " in said and told in said and said.endswith(".")


def test_line_ends_of_old_machines(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "vehicle.toml").write_bytes(SHEET.replace("\n", "\r").encode())
    told = refusal(tmp_path, ["report", "FOLDER"], capsys)
    assert told.endswith("carriage return alone; save it again with the line ends of Unix or Windows.")


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        ((HEAD + LOG).encode("utf-16-le"), "line 1: the file holds binary data"),
        ((HEAD + LOG).encode("cp037"), "line 1: the first line names no column of a log; expected headings between"),
        ((HEAD + LOG).replace("red", "re\u200bd").encode(), "line 5, source: character 3 of the text cannot be seen"),
        (
            (HEAD + LOG).replace("20:59", "20.5").encode(),
            "'20.5' may mean 20:50 or 20:05; write the time with a colon.",
        ),
    ],
)
def test_messages_of_a_log_say_what_to_do(
    raw: bytes, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "log.csv").write_bytes(raw)
    assert cli.main(["readings", str(tmp_path / "log.csv")]) == 2
    assert told in capsys.readouterr().err
    assert "this is a folder, not a file; expected a CSV log" in refusal(tmp_path, ["readings", "FOLDER"], capsys)


def test_times_with_points_are_times(tmp_path: Path) -> None:
    (tmp_path / "colons.csv").write_text(HEAD + LOG)
    (tmp_path / "points.csv").write_text(HEAD + LOG.replace(":", "."))
    colons, points = (lk.measurement.load_log(tmp_path / f"{name}.csv") for name in ("colons", "points"))
    assert [r.background for r in points.readings] == [r.background for r in colons.readings]
    assert [r.background for r in points.readings] == pytest.approx([2.0 + 8.0 / 59, 2.0 + 8.0 * 57 / 58], abs=0.2)
    assert [remark.key for remark in points.remarks] == ["illuminance_log.times"]


@pytest.mark.parametrize(("value", "what"), [("1e308", "spectrum"), ("1e-320", "spectrum"), ("0", "transmittance")])
def test_a_curve_has_values_of_which_integrals_are_numbers(value: str, what: str, tmp_path: Path) -> None:
    column = {"spectrum": "relative_power", "transmittance": "transmittance"}[what]
    file = tmp_path / "curve.csv"
    file.write_text(f"wavelength_nm,{column}\n" + "".join(f"{x},{value}\n" for x in range(380, 781, 10)))
    with pytest.raises(InputError) as refused:
        lk.light.read_curve(file, what=what, outside="hold")
    told = str(refused.value)
    assert told.startswith(str(file)) and ("scale the curve so that its largest value is 1" in told or value == "0")


def test_a_declaration_of_types_unfolds_nothing(tmp_path: Path) -> None:
    file = tmp_path / "curve.xml"
    file.write_text('<?xml version="1.0"?>\n<!DOCTYPE a [<!ENTITY b "c">]>\n<a>&b;</a>')
    with pytest.raises(InputError, match=r"document type declaration; delete it, or save two columns as CSV\.$"):
        lk.light.read_curve(file, what="spectrum")


@pytest.mark.parametrize("place", ["../curve.csv", "OUTSIDE", "link.csv", "/dev/zero", "~/x.csv"])
def test_a_vehicle_reads_no_curve_outside_its_folder(
    place: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    outside = tmp_path / "curve.csv"
    outside.write_text("secret heading,of another file\n1,2\n")
    folder = tmp_path / "van"
    folder.mkdir()
    (folder / "link.csv").symlink_to(outside)
    spectrum = place.replace("OUTSIDE", str(outside))
    (folder / "vehicle.toml").write_text(SHEET.replace('colour = "red"', f'spectrum = "{spectrum}"'))
    told = refusal(tmp_path, ["report", str(folder)], capsys)
    assert "line 8, spectrum of 'own'" in told and "secret" not in told


NO_NAMES = {
    "cautions": lambda: lk.circuits.cautions(None),  # type: ignore[arg-type]
    "order of work": lambda: lk.circuits.order_of_work(None),  # type: ignore[arg-type]
    "suspects": lambda: lk.circuits.fault_finding.suspects(None, lk.circuits.fault_finding.Scene(12.6, LED)),  # type: ignore[arg-type]
    "flasher": lambda: lk.circuits.flasher(12),  # type: ignore[arg-type]
    "function": lambda: lk.rules.requirement(None),  # type: ignore[arg-type]
    "colour": lambda: lk.rules.colour_region("UN", None),  # type: ignore[arg-type]
    "pair": lambda: lk.rules.required_ratio([[0, 0]], None),  # type: ignore[arg-type]
    "class": lambda: lk.measurement.lux_meter(meter_class=3),  # type: ignore[arg-type]
}


@pytest.mark.parametrize("door", NO_NAMES)
def test_a_name_that_is_no_text_is_told_as_unknown(door: str) -> None:
    with pytest.raises(InputError, match=r"; (expected one of|did you mean) "):
        NO_NAMES[door]()
