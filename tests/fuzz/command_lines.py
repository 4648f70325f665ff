"""Command lines as people type them: the real commands and options, with good values, near misses and hostile ones."""

import argparse
import json
import shutil
from pathlib import Path
from typing import Any

from damage import HOSTILE
from hypothesis import strategies as st

import lampkit as lk
from lampkit import cli

NUMBERS = ("0", "-1", "0,9", "1.5 ", "2x", "1e9", "0.000001", "nan", "")
PLACES = ("own", "own/vehicle.toml", "empty", "log.csv", "nowhere", "no/such/page.html", ".", "a\0b.html", "n" * 300)
PAGES = ("page.html", "there.html", "empty/page.html", "page with a space.html", "päge.html")

VALUES: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "lamp LENS": (("red", "amber", "clear", "green", "blue"), ("Red", "rouge", "white", "amber ", "")),
    "lamp LAMP": (("P21W", "1157", "6V 3W", "R5W", "P21/5W"), ("P21", "21W", "12V", "6V3W 2A", "")),
    "--led": (
        ("red 120 lm", "white 6000 K 400 lm", "amber", "red 3 W 90 lm BA15s", "white 4000 K", "green 40 lm 2 EUR"),
        ("red 120", "120 lm", "white 600 K", "red red", "rred 120 lm", "red -5 lm", "red 1e9 lm", ""),
    ),
    "--function": (("rear turn", "stop", "tail", "front position"), ("rear", "Stop ", "turns", "")),
    "--lens-material": (("plastic", "old glass"), ("glass", "Plastic", "")),
    "--volts": (("6", "12", "24", "13.5"), NUMBERS),
    "--watts": (("21", "5", "10"), NUMBERS),
    "--rules": (("UN", "US", "UK before 1966"), ("EU", "un", "U N", "")),
    "--year": (("1964", "1936", "1999"), ("64", "1964.0", "19645", "-1964", "")),
    "--output": (PAGES, PLACES),
    "--draws": (("100", "150"), ("99", "20001", "1e3", "100.5", "")),
    "--seed": (("0", "1", "4294967295"), ("-1", "4294967296", "one", "")),
    "--assurance": (("0.9", "0.5", "0.99"), ("90", "1", *NUMBERS)),
    "--colour-share": (("0.9", "0.5"), ("90", *NUMBERS)),
    "--stop-over-tail": (("5", "3"), NUMBERS),
    "--aim": (("least cost", "most light"), ("least", "Most light", "")),
    "--budget": (("40", "0", "1000"), NUMBERS),
    "--sides": (("alike", "free"), ("same", "left", "")),
    "report FOLDER": (("own",), PLACES),
    "new FOLDER": (("mine", "empty"), PLACES),
    "--like": (("trailer", "tractor", "two-wheeler"), ("Tractor", "lorry", "")),
    "procedure INTENSITY": (("60", "4", "0.5", "700"), NUMBERS),
    "--background": (("0", "2", "30"), NUMBERS),
    "--resolution": (("1", "0.1"), NUMBERS),
    "--face-diameter": (("0.1", "0.05"), NUMBERS),
    "--difference": (("0.2", "0.1"), NUMBERS),
    "readings FILE": (("log.csv",), PLACES),
    "--vehicle": (("own",), PLACES),
    "faults FOLDER": (("own",), PLACES),
    "faults SYMPTOM": (("stays dark", "dim", "flashes too fast"), ("dark", "Stays dark", "stay dark", "")),
    "--lamp": (("Tail lamp", "Stop lamp"), ("tail", "Stop", "")),
    "lamps WORD": (("BA9s", "12V", "1157", "2.2W", "E10", "P21W"), ("BA9", "12 V", "volts", "")),
    "lab FOLDER": (("mine", "empty", "own"), PLACES),
    "--port": (("8888",), ("80", "eighty", "70000")),
    "lesson LESSON": (("white_behind_red", "fair_comparison"), ("white behind red", "lesson", "")),
    "lesson --output": (("sheets", ".", "own"), PLACES),
}
"""Good values of each option, and what people write in their place, by its name or by its command and place in it."""

USUAL = {"report": ["--draws"], "readings": ["--draws"], "lamp": ["--draws"], "lab": ["--no-open"]}
"""What is always said: few draws, as there are many lines, and that nothing be opened."""

OFTEN = ("procedure", "readings", "lamp", "lamp", "faults", "lamps", "rules", "new", "new", "lesson", "lab", "report")


def options_of(command: str) -> list[argparse.Action]:
    """List what a command takes, as its own parser has it."""
    (commands,) = [a for a in cli._parser()._actions if isinstance(a, argparse._SubParsersAction)]
    return [a for a in commands.choices[command]._actions if not isinstance(a, argparse._HelpAction)]


def named(command: str, action: argparse.Action) -> str:
    """Name an option as the table of values does."""
    name = action.option_strings[-1] if action.option_strings else str(action.metavar)
    return name if name in VALUES and f"{command} {name}" not in VALUES else f"{command} {name}"


@st.composite
def command_lines(draw: st.DrawFn) -> list[str]:
    """Write a command with some of its options; now and then a value is off, a word is lost, doubled or hostile."""

    def seldom(one_in: int) -> bool:
        return draw(st.integers(1, one_in)) == one_in

    command = draw(st.sampled_from(OFTEN))
    words = [command]
    for action in options_of(command):
        always = not action.option_strings or action.option_strings[-1] in USUAL.get(command, [])
        if not always and not seldom(4):
            continue
        if action.nargs in ("?", "*") and seldom(5):
            continue
        if action.option_strings:
            words.append(draw(st.sampled_from(action.option_strings)))
        if action.nargs != 0:
            good, near = VALUES[named(command, action)]
            words.append(draw(st.sampled_from(near if seldom(16) else good)))
    if seldom(10):
        where = draw(st.integers(1, len(words))) - 1
        slips = ([], [words[where]] * 2, [words[where][:-1]], [draw(st.sampled_from(HOSTILE))])
        words[where : where + 1] = draw(st.sampled_from(slips))
        if command == "lab" and "--no-open" not in words:
            words.append("--no-open")
    return words


def laid_out(folder: Path, vehicle: Path, log: str) -> None:
    """Make a folder as a person has it: a vehicle, a log, an empty folder and a page that is there already."""
    for place in folder.iterdir():
        shutil.rmtree(place) if place.is_dir() else place.unlink()
    (folder / "own").mkdir()
    (folder / "empty").mkdir()
    shutil.copy(vehicle, folder / "own" / "vehicle.toml")
    (folder / "log.csv").write_text(log, encoding="utf-8")
    (folder / "there.html").write_text("<p>an older page</p>", encoding="utf-8")


def files_in(folder: Path) -> dict[str, bytes]:
    """Read every file there is."""
    return {str(one.relative_to(folder)): one.read_bytes() for one in folder.rglob("*") if one.is_file()}


def check_files(folder: Path, before: dict[str, bytes], taken: bool) -> None:
    """Hold what stands there now: nothing new or changed after a refusal, and each new file whole."""
    after = files_in(folder)
    assert set(before) <= set(after), "a file is gone"
    new = {name: raw for name, raw in after.items() if before.get(name) != raw}
    assert taken or not new, f"refused, and yet written: {sorted(new)}"
    for name, raw in new.items():
        assert name not in ("log.csv", "own/vehicle.toml"), "what a person wrote was written over"
        if raw.lstrip()[:1] == b"<":
            assert raw.rstrip().endswith((b"</html>", b"</svg>")), f"{name} is cut"
        if name.endswith("vehicle.toml"):
            lk.vehicle.load((folder / name).parent)
        if name.endswith(".ipynb"):
            json.loads(raw)


def numbers_of(printed: str) -> Any:
    """Read what a program reads; no number in it is none."""

    def none(word: str) -> float:
        raise AssertionError(f"{word} stands in the numbers")

    return json.loads(printed, parse_constant=none)
