"""The illuminance log: what is mended and said, what is refused and why, and how on is paired with dark."""

import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lampkit.errors import InputError
from lampkit.measurement import fair_ratio, illuminance_log, log_file
from lampkit.measurement.illuminance_log import IlluminanceLog
from lampkit.measurement.log_file import LogFile, LogLine

HEAD = "lamp,source,state,illuminance_lx,distance_mm"
GOOD = [HEAD, "Stop,,off,32,500", "Stop,filament,on,142,500", "Stop,LED,on,66,500", "Stop,,off,30,500"]


def load(tmp_path: Path, lines: list[str] | str | bytes) -> IlluminanceLog:
    path = tmp_path / "log.csv"
    if isinstance(lines, bytes):
        path.write_bytes(lines)
    else:
        path.write_text(lines if isinstance(lines, str) else "\n".join(lines), encoding="utf-8")
    return illuminance_log.load_log(path)


def changed(line: int, old: str, new: str) -> list[str]:
    """The good log with one line changed."""
    lines = list(GOOD)
    assert old in lines[line - 1]
    lines[line - 1] = lines[line - 1].replace(old, new, 1)
    return lines


def test_on_is_paired_with_the_dark_before_and_after(tmp_path: Path) -> None:
    log = load(tmp_path, GOOD)
    first, second = log.readings
    assert [d.line for d in first.dark] == [2, 5]
    assert first.dark == second.dark
    assert first.position == pytest.approx(1 / 3)
    assert second.position == pytest.approx(2 / 3)
    assert first.background == pytest.approx(32 - 2 / 3)
    assert second.net == pytest.approx(66 - 32 + 4 / 3)
    assert first.distance == pytest.approx(0.5)
    assert log.remarks == ()


def test_the_clock_places_a_reading_between_backgrounds(tmp_path: Path) -> None:
    lines = [HEAD + ",time", "S,,off,31,500,21:00", "S,filament,on,142,500,21:09", "S,,off,20,500,21:10"]
    assert load(tmp_path, lines).readings[0].background == pytest.approx(20 + 11 * 0.1)


def test_a_dark_line_serves_its_own_lamp_and_distance_only(tmp_path: Path) -> None:
    lines = [HEAD, "A,,off,32,500", "B,,off,5,500", "A,filament,on,142,500", "B,filament,on,99,500", ",,off,7,800"]
    log = load(tmp_path, lines)
    assert [r.dark[0].line for r in log.readings] == [2, 3]
    with pytest.raises(InputError, match="no background"):
        load(tmp_path, [*lines, "C,filament,on,50,500"])


@pytest.mark.parametrize(
    ("column", "value", "metres"),
    [
        ("distance_m", "0.83", 0.83),
        ("distance_cm", "83", 0.83),
        ("distance_mm", "830", 0.83),
        ("distance_in", "32", 0.8128),
        ("distance_ft", "2.5", 0.762),
    ],
)
def test_distances_are_brought_to_metres(tmp_path: Path, column: str, value: str, metres: float) -> None:
    lines = [f"lamp,source,illuminance_lx,dark_lx,{column}", f"Stop,filament,142,32,{value}"]
    assert load(tmp_path, lines).readings[0].distance == pytest.approx(metres)


def test_one_line_a_comparison_is_a_second_shape(tmp_path: Path) -> None:
    lines = [
        "lamp,source,illuminance_lx,dark_lx,dark_after_lx,distance_m,claimed_lumens_lm,tilt_deg,meter,note",
        "Stop,filament,142.5,32,33,0.83,,,phone,old lamp",
        "Stop,red LED A,58,17,,0.83,120,-5,phone,",
    ]
    first, second = load(tmp_path, lines).readings
    assert first.net == pytest.approx(110.0)
    assert (first.resolution, first.dark[0].resolution) == (pytest.approx(0.1), 1.0)
    assert second.claimed_lumens == 120
    assert second.tilt == 5
    assert len(second.dark) == 1
    assert first.note == "old lamp"


def test_resolution_comes_from_the_digits(tmp_path: Path) -> None:
    assert load(tmp_path, changed(3, "142", "142.50")).readings[0].resolution == pytest.approx(0.01)
    assert load(tmp_path, changed(3, "142", "1.42e2")).readings[0].resolution == pytest.approx(1.0)


MENDED: list[tuple[str, list[str] | str | bytes, str]] = [
    ("decimal commas between quotes", changed(3, "142", '"142,5"'), "decimal_commas"),
    ("semicolons and decimal commas", "\n".join(GOOD).replace(",", ";").replace("142", "142,5"), "separator"),
    ("tabs", "\n".join(GOOD).replace(",", "\t"), "separator"),
    ("a unit behind the number", changed(3, "142", "142 lx"), "units"),
    ("a unit behind the distance", changed(3, "500", "500 mm"), "units"),
    ("another unit of the same kind", changed(3, "500", "50 cm"), "converted"),
    ("a title above the headings", ["Stop lamps, 3 May", ",,,,", *GOOD], "above"),
    ("headings once more", [*GOOD, GOOD[0].upper(), *GOOD[1:]], "heading_again"),
    ("units below the headings", [GOOD[0], ",,,lx,mm", *GOOD[1:]], "heading_again"),
    ("twelve hours", [HEAD + ",time", *(x + ",8:45 pm" for x in GOOD[1:])], "times"),
    ("day, month and year", [HEAD + ",time", *(x + ",3.05.2025 20:45" for x in GOOD[1:])], "times"),
    ("thousands with a decimal point", changed(3, "142", '"1,142.0"'), "thousands"),
    ("one distance for all", changed(3, ",500", ","), "distance_missing"),
    ("Windows text", "\n".join([*GOOD, "Stop,größer,on,55,500"]).encode("cp1252"), "windows_text"),
    ("UTF-16", "\n".join(GOOD).encode("utf-16"), "utf_16"),
    ("a display that repeats", [HEAD, "S,,off,32,500", "S,filament,on,1142,500", "S,LED,on,1142,500"], "repeats"),
    ("one at two distances", [HEAD, "S,,off,32,", "S,filament,on,1142,500", "S,filament,on,1142,700"], "repeats"),
    ("digits that change", changed(3, "142", "142.5"), "digits_change"),
    ("times with a point", [HEAD + ",time", *(x + ",20.45" for x in GOOD[1:])], "times"),
    ("the end of a range", changed(3, "142", "199.9"), "full_scale"),
    ("two evenings", [HEAD + ",date", *(f"{x},{i}.5.2025" for i, x in enumerate(GOOD[1:], 3))], "days"),
    ("capitals", changed(3, "Stop", "stop"), "one_spelling"),
]
SILENT: list[tuple[str, list[str] | str | bytes]] = [
    ("a byte order mark", ("\ufeff" + "\n".join(GOOD)).encode()),
    ("blank and comment lines", ["# garage, 21 May", "", *GOOD[:2], "", *GOOD[2:], ",,,,"]),
    ("capitals and spaces in headings", ["Lamp, Source, State, Illuminance_lx, Distance mm", *GOOD[1:]]),
    ("units in brackets", ["Lamp,Source,State,Illuminance [lx],Distance (mm),Remarks", *GOOD[1:]]),
    ("a date of its own", [HEAD + ",date,time", GOOD[1] + ",2025-05-03,23:58", *(x + ",,23:59" for x in GOOD[2:])]),
    ("other words for on and off", changed(2, "off", "Dark")),
    ("a trailing separator", [GOOD[0], *(line + ",," for line in GOOD[1:])]),
    ("Windows line ends", "\r\n".join(GOOD)),
]


@pytest.mark.parametrize(("log", "said"), [m[1:] for m in MENDED], ids=[m[0] for m in MENDED])
def test_a_log_that_can_be_mended_is_mended_and_says_so(tmp_path: Path, log: list[str], said: str) -> None:
    found = load(tmp_path, log)
    assert len(found.readings) >= 2
    told = [str(remark) for remark in found.remarks]
    assert said in {remark.key.removeprefix("illuminance_log.") for remark in found.remarks}, told
    assert all(remark.endswith(".") and "\n" not in remark for remark in told)


@pytest.mark.parametrize("log", [s[1] for s in SILENT], ids=[s[0] for s in SILENT])
def test_harmless_habits_need_no_word(tmp_path: Path, log: list[str]) -> None:
    found = load(tmp_path, log)
    assert [r.illuminance for r in found.readings] == [142, 66]
    assert found.remarks == ()


REFUSED: list[tuple[str, list[str] | str | bytes, str, int | None]] = [
    ("empty", "", "empty", None),
    ("only comments", "# nothing yet\n\n", "empty", None),
    ("only headings", [HEAD], "no readings", 1),
    ("a spreadsheet file", b"PK\x03\x04 not text", "not a text file", None),
    ("no lamp column", ["source,state,illuminance_lx,distance_m", "filament,on,1,1"], "no column 'lamp'", 1),
    ("no lux column", ["lamp,source,state,distance_m", "S,filament,on,1"], "no column 'illuminance_lx'", 1),
    ("misspelt column", changed(1, "illuminance", "iluminance"), "'iluminance_lx' is unknown", 1),
    ("foot-candles", changed(1, "illuminance_lx", "illuminance_fc"), "10.764", 1),
    ("column twice", [HEAD + ",state", *(x + ",on" for x in GOOD[1:])], "stands twice", 1),
    ("no distance column", ["lamp,source,state,illuminance_lx", "S,filament,on,5"], "no distance column", 1),
    ("two distance columns", [HEAD + ",distance_in", *(x + ",20" for x in GOOD[1:])], "two distance columns", 1),
    ("nothing dark", ["lamp,source,illuminance_lx,distance_m", "S,filament,5,1"], "tells the background", 1),
    ("both shapes", [HEAD + ",dark_lx", *(x + ",3" for x in GOOD[1:])], "both 'state' and 'dark_lx'", 1),
    ("dark after alone", [HEAD + ",dark_after_lx", *(x + ",3" for x in GOOD[1:])], "without 'dark_lx'", 1),
    ("no distances at all", [line.replace(",500", ",") for line in GOOD], "no distance was written", None),
    ("mixed distances, one missing", [*changed(3, "500", "700"), "Stop,LED,on,55,"], "have different ones", 6),
    ("distance in the wrong unit", [x.replace(",500", ",0.5") for x in GOOD], "check the unit", 2),
    ("distance zero", changed(3, "500", "0"), "0.02 m to 50 m", 3),
    ("distance in words", changed(3, "500", "arm's length"), "not a number", 3),
    ("unknown state", changed(3, "on", "glowing"), "'glowing' is unknown", 3),
    ("state missing", changed(3, "on", ""), "state is missing", 3),
    ("not a number", changed(3, "142", "about 130"), "'about 130' is not a number", 3),
    ("nan", changed(3, "142", "nan"), "not a number", 3),
    ("infinite", changed(3, "142", "inf"), "not a number", 3),
    ("two numbers in a cell", changed(3, "142", "130-140"), "not a number", 3),
    ("negative", changed(3, "142", "-142"), "cannot be", 3),
    ("no value", changed(3, "142", ""), "value is missing", 3),
    ("ambiguous comma", changed(3, "142", '"1,142"'), "may mean 1142 or 1.142", 3),
    ("over range", changed(3, "142", "OL"), "over its range", 3),
    ("over range, greater than", changed(3, "142", ">2000"), "over its range", 3),
    ("saturated display", changed(3, "142", "65535"), "saturated", 3),
    ("on below dark", changed(3, "142", "12"), "no more than its background", 3),
    ("on equals dark", [HEAD, "S,,off,32,500", "S,filament,on,32,500"], "no more than its background", 3),
    ("on and off swapped", [HEAD, "S,,on,32,500", "S,filament,off,142,500"], "source is missing", 2),
    ("no dark line", [HEAD, "S,filament,on,142,500", "S,LED,on,66,500"], "no background for 'S'", 2),
    ("only dark lines", [HEAD, "S,,off,32,500", "S,,off,31,500"], "every line is off", None),
    ("dark at another distance", [HEAD, "S,,off,32,800", "S,filament,on,142,500"], "no background", 3),
    ("lamp missing", changed(3, "Stop", ""), "lamp is missing", 3),
    ("source missing", changed(3, "filament", ""), "source is missing", 3),
    ("a cell too many", changed(3, "142", "142,5"), "6 cells for 5 columns", 3),
    ("open quotation mark", changed(3, "142", '"142'), "quotation mark", 3),
    ("not a time", [HEAD + ",time", *(x + ",late" for x in GOOD[1:])], "'late' is not a time", 2),
    (
        "clock runs back",
        [HEAD + ",time", GOOD[1] + ",21:40", GOOD[2] + ",21:35", GOOD[3] + ",21:41"],
        "earlier than on the line before",
        3,
    ),
    ("tilt too great", [HEAD + ",tilt_deg", *(x + ",75" for x in GOOD[1:])], "tilt of 75 deg", 3),
    ("claim of zero", [HEAD + ",claimed_lumens_lm", *(x + ",0" for x in GOOD[1:])], "0 lm cannot be", 3),
    ("a time that lost its zero", [HEAD + ",time", *(x + ",20.5" for x in GOOD[1:])], "20:50 or 20:05", 2),
    (
        "no dark value in the second shape",
        ["lamp,source,illuminance_lx,dark_lx,distance_m", "S,filament,142,,0.5"],
        "value is missing",
        2,
    ),
]


@pytest.mark.parametrize(("log", "said", "line"), [r[1:] for r in REFUSED], ids=[r[0] for r in REFUSED])
def test_a_log_that_is_no_use_is_refused_in_one_sentence(
    tmp_path: Path, log: list[str], said: str, line: int | None
) -> None:
    with pytest.raises(InputError) as told:
        load(tmp_path, log)
    sentence = str(told.value)
    assert said in sentence, sentence
    assert "log.csv" in sentence
    assert told.value.line == line, sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence
    assert not re.search(r"\bnan\b|None|Traceback|\[", sentence.replace("'nan'", "")), sentence


def test_more_than_twenty_five_broken_logs() -> None:
    assert len(REFUSED) + len(MENDED) >= 25


def test_a_missing_file_is_told() -> None:
    with pytest.raises(InputError, match="no such file"):
        illuminance_log.load_log("/nowhere/log.csv")


def test_few_digits_may_coincide(tmp_path: Path) -> None:
    assert len(load(tmp_path, changed(4, "66", "142")).readings) == 2


SIX = {
    "the other lamp's background": (["off,filament,21", "on,filament,94", "off,LED,17", "on,LED,44"], [], [73, 27]),
    "two backgrounds in a row": (
        ["off,,22", "on,filament,97", "off,LED,19", "off,LED,11", "on,LED,29"],
        ["Lines 4 and 5 are both off: of 19 and 11 lx each lit line gets the one that is next to it."],
        [75, 18],
    ),
    "times with a point": (
        ["off,,21,20.45", "on,filament,94,20.50", "on,LED,44,20.55", "off,,21,21.00"],
        ["Times written 20.45 were read as 20:45."],
        [73, 23],
    ),
    "a range that changed": (
        ["off,,2.13", "on,filament,1370", "on,LED,410", "off,,2.13"],
        [
            "The last digit is 0.01 lx on line 2 and 1 lx on line 3: a meter that changes its range may jump by a "
            "percent or so, and a last zero that was not written down widens the interval."
        ],
        [1367.87, 407.87],
    ),
    "a display that repeats": (
        ["off,,32", "on,filament,1142", "off,,32", "on,LED,1142", "off,,32"],
        [
            "1142 lx stands on lines 3 and 5, for another lamp, source or distance: it may be so, or the display was "
            "frozen, at the end of its range, or a line copied."
        ],
        [1110, 1110],
    ),
    "spelt in two ways": (
        ["off,,21", "on,Filament,94", "on,filament,95", "on,LED,44", "on,filament,94", "off,,21"],
        ["'Filament' was taken for 'filament'."],
        [73, 74, 23, 73],
    ),
}
"""Logs as people write them, of one lamp: state, source, lux and perhaps the time; what is said, and the net."""


@pytest.mark.parametrize(("lines", "said", "net"), SIX.values(), ids=SIX)
def test_logs_as_people_write_them(lines: list[str], said: list[str], net: list[float]) -> None:
    timed = lines[0].count(",") == 3
    text = "state,source,illuminance_lx" + (",time" if timed else "") + ",lamp,distance_cm\n"
    log = illuminance_log.read_log(text + "\n".join(f"{line},Stop,75" for line in lines))
    assert [str(remark) for remark in log.remarks] == said
    assert [reading.net for reading in log.readings] == pytest.approx(net)


def numbers_read(*cells: str) -> list[float]:
    """The lux of a log with semicolons, a reading a cell, in the dark."""
    rows = "".join(f"Stop;filament;{cell};0;1\n" for cell in cells)
    log = illuminance_log.read_log(f"lamp;source;illuminance_lx;dark_lx;distance_m\n{rows}")
    return [reading.illuminance for reading in log.readings]


@pytest.mark.parametrize(
    "cells", [("1\u202f234,5", "12,5"), ("1 234,5",), ("1'234,5",), ("1\u2019234.5",), ("1.234,5",), ("1,234.5",)]
)
def test_thousands_as_one_country_or_another_separates_them(cells: tuple[str, ...]) -> None:
    assert numbers_read(*cells)[0] == 1234.5


def test_what_may_be_thousands_is_read_as_the_other_numbers_of_the_log_are_written() -> None:
    assert numbers_read("1,234", "12,5") == [1.234, 12.5]
    assert numbers_read("1.234", "12.5") == [1.234, 12.5]
    for cells in (("1.234", "12,5"), ("1,234", "12.5"), ("1,234",)):
        with pytest.raises(InputError, match=r"'1[.,]234' may mean 1234 or 1\.234"):
            numbers_read(*cells)


@pytest.mark.parametrize(("cell", "lux"), [("0.06 klx", 60.0), ("10 fc", 107.64), ("60 Lux", 60.0), ("60lx", 60.0)])
def test_lux_in_other_units(cell: str, lux: float) -> None:
    assert numbers_read(cell) == pytest.approx([lux])


@pytest.mark.parametrize("cell", ["60 cd", "12000 mcd", "4 W", "60 lm"])
def test_what_is_no_illuminance_is_refused(cell: str) -> None:
    with pytest.raises(InputError, match=f"'{cell}' is "):
        numbers_read(cell)


@pytest.mark.parametrize(
    ("text", "clock"),
    [
        ("8:05 pm", "20:05"), ("8:05PM", "20:05"), ("12:10 a.m.", "00:10"), ("12:10 pm", "12:10"),
        ("20:05 Uhr", "20:05"),
        ("20h05", "20:05"), ("20.05", "20:05"), ("8:05", "08:05"), ("3.5.2025 20:05", "2025-05-03 20:05"),
        ("2025-05-03 8:05 pm", "2025-05-03 20:05"), ("2025-05-03T20:05", "2025-05-03 20:05"),
    ],
)  # fmt: skip
def test_times_as_people_write_them(text: str, clock: str) -> None:
    log = LogFile(None, (), ())
    assert log_file._minutes(log, 2, text) == log_file._minutes(log, 2, clock)


@pytest.mark.parametrize("text", ["03/05/2025 21:55", "25:10", "13:05 pm", "0:10 am", "8", "half past eight"])
def test_a_time_that_may_be_another_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        log_file._minutes(LogFile(None, (), ()), 2, text)


def test_what_two_meters_read_in_one_lamp_is_not_compared() -> None:
    text = "lamp,source,illuminance_lx,dark_lx,distance_m,meter\nStop,filament,60,1,1,{}\nStop,LED,40,1,1,{}\n"
    assert len(illuminance_log.read_log(text.format("mine", "mine")).readings) == 2
    with pytest.raises(InputError, match="line 3, meter: 'Stop' was read with two meters, mine and borrowed; expected"):
        illuminance_log.read_log(text.format("mine", "borrowed"))


def test_many_faults_of_one_kind_are_told_once_with_all_their_lines() -> None:
    rows = "".join(f"Stop,filament,{60 + i},1,1,at {i} past\n" for i in range(9))
    with pytest.raises(InputError) as told:
        illuminance_log.read_log(f"lamp,source,illuminance_lx,dark_lx,distance_m,time\n{rows}")
    (fault,) = told.value.faults
    assert fault.line == 2 and all(f"{line}" in fault.what for line in range(3, 11))


WRONG = {
    "a lamp that is misspelt": (
        ["Stop lamp left,off,,21,75", "Stop lamp left,on,filament,94,75", "Stop lmp left,on,LED,44,75"],
        "line 4: there is no background for 'Stop lmp left' at this distance; expected a line with state off for the "
        "same lamp, distance and meter; line 2 may be meant, of 'Stop lamp left'.",
    ),
    "metres under centimetres": (
        ["Stop,off,,21,0.75", "Stop,on,filament,94,0.75", "Stop,on,LED,44,0.75"],
        "line 2, distance_cm: a distance of 0.75 under 'distance_cm' is 0.0075 m, and so on lines 3 and 4; expected "
        "0.02 m to 50 m; check the unit in the heading.",
    ),
    "saturated": (
        ["Stop,off,,21,75", "Stop,on,filament,1999,75", "Stop,on,LED,44,75"],
        "line 3, illuminance_lx: 1999 lx is where displays end: the meter was saturated; use a higher range or a "
        "greater distance.",
    ),
    "four slips at once": (
        ["Stop,off,,21,75", "Stop,on,filament,OL,75", "Stop,lit up,LED,44,75", "Stop,on,,44,75", "Stop,on,LED,some,75"],
        "line 3, illuminance_lx: the meter was over its range ('OL'); use a higher range or a greater distance.\n"
        "line 4, state: the state 'lit up' is unknown; expected on or off.\n"
        "line 5, source: the source is missing; expected what is fitted in it, such as 'filament' or 'red LED A'.\n"
        "line 6, illuminance_lx: 'some' is not a number; expected digits with a decimal point, such as 118.5.",
    ),
    "a background that could not be read is told, not what follows from it": (
        ["Stop,off,,2l,75", "Stop,on,filament,94,75", "Stop,on,LED,44,75"],
        "line 2, illuminance_lx: '2l' is not a number; expected digits with a decimal point, such as 118.5.",
    ),
    "a room that is too bright": (
        ["Stop,off,,61,75", "Stop,on,filament,94,75", "Stop,on,LED,44,75"],
        "line 4, illuminance_lx: the lamp reads 44 lx, no more than its background of 61 lx; expected more light with "
        "the lamp on than off; darken the room or come nearer, and check that on and off are not swapped.",
    ),
}


@pytest.mark.parametrize(("lines", "said"), WRONG.values(), ids=WRONG)
def test_all_that_is_wrong_with_a_log_is_told_at_once(lines: list[str], said: str) -> None:
    with pytest.raises(InputError) as told:
        illuminance_log.read_log("lamp,state,source,illuminance_lx,distance_cm\n" + "\n".join(lines))
    assert str(told.value) == said


def test_a_background_that_falls_while_the_lamp_is_changed_means_the_same_in_both_shapes() -> None:
    lit = "S,filament,on,94,0.8\nS,LED,off,17,0.8\nS,LED,on,44,0.8"
    by_lines = illuminance_log.read_log(f"lamp,source,state,illuminance_lx,distance_m\nS,filament,off,21,0.8\n{lit}")
    one_line = "lamp,source,illuminance_lx,dark_lx,distance_m\nS,filament,94,21,0.8\nS,LED,44,17,0.8"
    beside = illuminance_log.read_log(one_line)
    assert [r.net for r in by_lines.readings] == [r.net for r in beside.readings] == [73, 27]


def test_a_background_that_fell_beside_one_reading_says_what_was_taken() -> None:
    log = illuminance_log.read_log("lamp,source,illuminance_lx,dark_lx,dark_after_lx,distance_m\nS,LED,29,19,11,0.8")
    assert log.readings[0].net == 14
    assert [remark.key for remark in log.remarks] == ["illuminance_log.moved"]


def test_another_sources_background_serves_where_there_is_no_own() -> None:
    lines = "S,filament,off,21,0.8\nS,filament,on,94,0.8\nS,LED,on,44,0.8"
    log = illuminance_log.read_log(f"lamp,source,state,illuminance_lx,distance_m\n{lines}")
    assert [r.net for r in log.readings] == [73, 23]


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["A", "B", ""]), st.sampled_from(["x", "y", ""]), st.booleans(),
            st.sampled_from([0.5, 0.8, None]), st.sampled_from(["m", ""]),
        ),
        max_size=25,
    )
)  # fmt: skip
def test_backgrounds_are_those_that_a_look_at_every_line_finds(written: list[tuple]) -> None:
    """The nearest off line before and after that fits the place; of the same source where there is one."""
    lines = []
    for number, (lamp, source, lit, distance, meter) in enumerate(written):
        cells = {"lamp": lamp, "source": source, "meter": meter}
        if lit:
            cells |= {"lamp": lamp or "A", "source": source or "x"}
            distance = distance or 0.5
        kept = {key: value for key, value in cells.items() if value}
        lines.append(LogLine(number, kept, lit, np.nan if distance is None else distance, None))
    dark = [i for i, line in enumerate(lines) if not line.lit]
    places = illuminance_log._off_lines(lines, dark)
    for i, entry in enumerate(lines):
        if not entry.lit:
            continue
        fits = [j for j in dark if illuminance_log._same_place(lines[j], entry)]
        own = [j for j in fits if lines[j].cells.get("source", "") in ("", entry.cells["source"])]
        before, after = [j for j in own or fits if j < i], [j for j in own or fits if j > i]
        assert illuminance_log._backgrounds(places, entry, i) == [*before[-1:], *after[:1]]


def test_a_log_of_many_lines_is_read_and_one_of_too_many_repeats_is_refused() -> None:
    block = "Stop,,off,0.4,0.8\nStop,filament,on,{:.1f},0.8\nStop,red LED,on,61.2,0.8\nStop,,off,0.4,0.8\n"
    heading = "lamp,source,state,illuminance_lx,distance_m\n"
    log = illuminance_log.read_log(heading + "".join(block.format(80 + i % 50) for i in range(2500)))
    assert len(log.readings) == 5000
    with pytest.raises(InputError, match="'Stop' was read 2500 times with 'filament'; expected at most 200"):
        fair_ratio.compare_readings(log, draws=100)
