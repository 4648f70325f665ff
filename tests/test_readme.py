"""The README: its example answers what it says, and what it names is there."""

import os
import re
import shlex
from pathlib import Path

import pytest

from lampkit import cli

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_example_answers_what_stands_there(capsys: pytest.CaptureFixture[str]) -> None:
    """`LAMPKIT_GOLDEN=renew` writes the answer anew, to be read word by word."""
    command, _, shown = re.findall(r"^```\n(lampkit lamp .*)\n```\n(.*?)^```text\n(.*?)^```$", README, re.M | re.S)[0]
    assert cli.main(shlex.split(command)[1:]) == 0
    said = "\n".join(
        line.rstrip() for line in capsys.readouterr().out.partition("\n\nTaken for granted")[0].splitlines()
    )
    if os.environ.get("LAMPKIT_GOLDEN") == "renew":
        (ROOT / "README.md").write_text(README.replace(shown, f"{said}\n"), encoding="utf-8")
    else:
        assert f"{said}\n" == shown


def test_every_command_that_it_names_is_there() -> None:
    commands = set(re.findall(r"lampkit ([a-z]+)\b", "\n".join(re.findall(r"`[^`]*`|```.*?```", README, re.S))))
    known = cli._parser().format_help()
    assert {"report", "lamp", "procedure", "readings", "lab"} <= commands
    assert all(re.search(rf"^    {command}\b", known, re.M) for command in commands), commands


def test_every_file_that_it_names_is_there() -> None:
    for name in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / name).is_file(), name
    picture = (ROOT / "references" / "job_sheet.png").read_bytes()
    assert picture.startswith(b"\x89PNG") and len(picture) < 400_000
