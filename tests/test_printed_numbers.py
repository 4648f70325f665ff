"""Every number of a rule stands with its clause and the check that holds it; `python` on this file writes the list."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from lampkit import checks, tables
from lampkit.errors import InputError
from lampkit.rules import colours

LIST = Path(__file__).parents[1] / "references" / "numbers_of_rules.md"
SEEN = ("read", "read in a secondary text")
"""How a number is known that a check has to hold; all others say in the list what they rest on."""
NUMBERS = {
    "intensity_limits": ("value", "v_from_deg", "v_to_deg"),
    "light_distribution": ("percent", "minimum_cd"),
    "grids": ("single_point_share",),
    "further_limits": ("low", "high"),
    "flash_limits": ("low", "high"),
    "ratio_directions": ("h_from_deg", "h_to_deg", "v_from_deg", "v_to_deg"),
    "colour_boundaries": ("a", "b", "c"),
}
"""The tables under data/rules that hold printed numbers, and the columns in which they stand."""


def name_of(table: str, row: Mapping[str, Any]) -> str:
    """Name what a row prints, as the checks name what they hold."""
    american = row.get("rules") == "US"
    if table == "intensity_limits":
        keys = ["rules", "function", "colour" if american else "category", "quantity", "where"]
        parts = [*(row[key] for key in keys), *([f"{row['compartments']:g}"] if american else []), row["period"]]
    elif table == "light_distribution":
        parts = [row["grid"]]
    elif table == "grids":
        parts = [
            row["rules"],
            row["function"],
            row["colour"],
            f"{row['compartments']:g}",
            *filter(None, [row["width"]]),
        ]
    elif table == "further_limits":
        parts = [row["rules"], row["quantity"], row["applies_to"]]
    elif table == "flash_limits":
        parts = [row["rules"], row["quantity"], row["condition"]]
    elif table == "ratio_directions":
        parts = [row["rules"], row["pair"], row["level"]]
    else:
        parts = [row["rules"], row["colour"], row["boundary"]]
    return f"{table}: {', '.join(map(str, parts))}"


def rows() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """List every row that prints a number: its table, its name and its cells."""
    for table, columns in NUMBERS.items():
        for row in tables.load("rules", table).rows():
            # A share of 1 is no number of a text: there each point simply counts alone.
            if table == "grids" and row["rules"] != "US":
                continue
            if any(np.isfinite(row[column]) for column in columns):
                yield table, name_of(table, row), row


HOLDING: dict[str, list[checks.PublishedCheck]] = {}
for one in checks.checks():
    for held in one.holds:
        HOLDING.setdefault(held, []).append(one)


def listed() -> str:
    """Write the list: one line a row, a pattern of test points as one line."""
    lines = [
        "# The numbers of the rules",
        "",
        "Every number under `data/rules`, with its clause, how it is known, and the check under `tests/published` that",
        "holds it. A number that was read must have such a check; one from memory has none, for a check of memory by",
        "memory would tell nothing. `python tests/test_printed_numbers.py` writes this list.",
        "",
        "| what | number | clause | how known | held by |",
        "|---|---|---|---|---|",
    ]
    points: dict[str, int] = {}
    for table, name, _ in rows():
        points[name] = points.get(name, 0) + (table in ("light_distribution", "colour_boundaries"))
    done = set()
    for table, name, row in rows():
        if points[name] and name in done:
            continue
        done.add(name)
        numbers = ", ".join(f"{row[column]:g}" for column in NUMBERS[table] if np.isfinite(row[column]))
        shown = f"{points[name]} rows" if points[name] else f"{numbers} {row.get('unit', '')}".strip()
        clause = f"{row['source']}, {row['clause']}"
        holding = "; ".join(f"{c.topic}: {c.name}" for c in HOLDING.get(name, ())) or "none"
        lines.append(f"| {name} | {shown} | {clause} | {row['known']} | {holding} |")
    return "\n".join(lines) + "\n"


def test_every_number_that_was_read_is_held_by_a_check() -> None:
    orphans = {name for _, name, row in rows() if row["known"] in SEEN and name not in HOLDING}
    assert not orphans, sorted(orphans)


def test_every_check_holds_a_number_that_is_there() -> None:
    orphans = set(HOLDING) - {name for _, name, _ in rows()}
    assert not orphans, sorted(orphans)


def test_the_list_is_fresh() -> None:
    assert LIST.read_text(encoding="utf-8") == listed(), f"python {Path(__file__).name} writes it"


@pytest.mark.parametrize("name", sorted(HOLDING))
def test_a_wrong_number_is_caught(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    kind = name.split(":")[0]
    true, loaded = tables.load("rules", kind), tables.load
    places = [k for k, row in enumerate(true.rows()) if name_of(kind, row) == name]
    try:
        for place in places:
            spoilt = {key: true[key].copy() for key in NUMBERS[kind]}
            for column in spoilt.values():
                column[place] = 1.6 * column[place] + 0.06
            table = replace(true, columns={**true.columns, **spoilt})
            monkeypatch.setattr(
                tables, "load", lambda group, which, t=table: t if which == kind else loaded(group, which)
            )
            colours.colour_regions.cache_clear()
            assert any(_fails(one) for one in HOLDING[name]), true.rows()[place]
    finally:
        colours.colour_regions.cache_clear()


def _fails(check: checks.PublishedCheck) -> bool:
    try:
        return not check.passes()
    except (InputError, ValueError, IndexError, ZeroDivisionError):
        return True  # a table that no longer hangs together is noticed as well


if __name__ == "__main__":
    LIST.write_text(listed(), encoding="utf-8")
