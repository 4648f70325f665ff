"""Vehicle files in a few lines, for tests that make up their own; what a test leaves open stays as {name}."""

import json
from collections.abc import Sequence
from pathlib import Path

from lampkit.vehicle import vehicle
from lampkit.vehicle.vehicle import Vehicle

BOTH = ("left", "right")


def table(kind: str, /, *lines: str, **keys: object) -> str:
    """One more lamp, light source, circuit or part; `lines` are written as they are."""
    told = [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in keys.items()]
    return "\n".join([f"[[{kind}]]", *told, *lines, ""])


def lamp(
    name: str, function: str, lens: str, filament: str, candidates: Sequence[str], *lines: str, **more: object
) -> str:
    """A lamp, its filament and what is on offer for it."""
    keys = {"function": function, "lens": lens, "filament": filament, "candidates": candidates, **more}
    return table("lamp", *lines, name=name, **keys)


def source(name: str, /, *lines: str, **more: object) -> str:
    """A light source on offer."""
    return table("light_source", *lines, name=name, **more)


def circuit(name: str, /, *lines: str, **more: object) -> str:
    """A circuit."""
    return table("circuit", *lines, name=name, **more)


def loaded(folder: Path, text: str) -> Vehicle:
    """The vehicle of a text, read from a file of its own."""
    (folder / "vehicle.toml").write_text(text, encoding="utf-8")
    return vehicle.load(folder)
