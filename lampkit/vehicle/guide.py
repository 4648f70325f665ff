"""Writes the guide to the vehicle file out of its schema: `python -m lampkit.vehicle.guide FILE`."""

import json
import sys
import textwrap
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from lampkit.numbers import listed
from lampkit.vehicle import schema

OPENING = """\
# The vehicle file

A folder describes a vehicle. It holds `vehicle.toml` and, where something was measured, the CSV files that it names.
`lampkit report FOLDER` reads it. The smallest that works:

{example}

{needed} All else has a default or may stay unknown. `data/library_van` is a complete example; copy it and change it.

The file is TOML, plain text in UTF-8, at most 1 MB. Text stands between quotation marks, numbers without, with a
decimal point. A key that carries a unit ends in it: `power_W = 2.5`, never `power = "2.5 W"`. A section in double
brackets may stand there as often as needed, in any order. A key that is not known is refused, so that a slip of the pen
never passes in silence; all faults are told at once, each with its line and what was expected. A file that is named
lies in the same folder.

**Needed** keys have no default. Every section may hold a `note`, {note}.
"""


def guide() -> str:
    """Write the guide: a small example, what a lamp must have, then a table for each section."""
    (smallest,) = schema.completed()["examples"]
    lamp = schema.sections()["lamp"]
    must = listed(f"`{key}` ({lamp['properties'][key]['title']})" for key in lamp["required"])
    note = "; ".join(schema.sections()["vehicle"]["properties"]["note"][key] for key in ("title", "description"))
    opening = OPENING.format(
        example="EXAMPLE", needed=f"A lamp must have {len(lamp['required'])} things: {must}.", note=note
    )
    wrapped = "\n\n".join(map(_wrapped, opening.split("\n\n")))
    parts = [wrapped.replace("EXAMPLE", _example(smallest).rstrip("\n")) + "\n"]
    for name, held in schema.sections().items():
        examples = {name: held["examples"]} if "examples" in held else {}
        parts += [
            f"## {schema.heading(name)}: {held['title']}\n",
            *([f"{_wrapped(held['description'])}\n"] if "description" in held else []),
            *([_example(examples)] if examples else []),
            "| key | what it is | allowed | default |\n|---|---|---|---|",
            *(_row(key, rules, key in held["required"]) for key, rules in held["properties"].items() if key != "note"),
            "",
        ]
    return "\n".join(parts).rstrip("\n") + "\n"


def _row(key: str, held: Mapping[str, Any], needed: bool) -> str:
    what = f"{held['title']}; {held['description']}" if "description" in held else held["title"]
    what, unit = what.removeprefix("the "), f" {held['x-unit']}" if "x-unit" in held else ""
    left_out = held.get("x-default") or (f"`{_value(held['default'])}`" if "default" in held else "-")
    cells = [f"`{key}`", what, _allowed(held) + unit, "**needed**" if needed else left_out]
    return f"| {' | '.join(cells)} |"


def _allowed(held: Mapping[str, Any]) -> str:
    kind = held.get("type")
    if held.get("x-names") == "filament lamps":
        return "a designation that the kit knows, or volts and watts, or volts and watts"
    if "enum" in held or "examples" in held:
        return ", ".join(f"`{_value(choice)}`" for choice in held.get("enum") or held["examples"])
    if kind == "boolean":
        return "`true`, `false`"
    bounds = held.get("items", held) if kind == "array" else held
    if "minimum" not in bounds:
        return {"string": "text", "array": "list"}.get(str(kind), "keys")
    span = f"{bounds['minimum']:.10g} to {bounds['maximum']:.10g}"
    if kind == "integer":
        return f"{span}, whole"
    pair = "`[lower, upper]`, "
    return f"{pair}{span}" if kind == "array" else f"{span}, or `[lower, upper]`" if isinstance(kind, list) else span


def _example(document: Mapping[str, Any]) -> str:
    lines = []
    for name, held in document.items():
        for table in held if isinstance(held, list) else [held]:
            lines += [schema.heading(name), *(f"{key} = {_value(value)}" for key, value in table.items()), ""]
    return "\n".join(["```toml", *lines[:-1], "```", ""])


def _wrapped(paragraph: str) -> str:
    return textwrap.fill(paragraph, 120, break_on_hyphens=False)


def _value(value: Any) -> str:
    """Write a value as TOML has it."""
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {_value(inner)}' for key, inner in value.items())} }}"
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    return json.dumps(value, ensure_ascii=False)


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(guide(), encoding="utf-8")
