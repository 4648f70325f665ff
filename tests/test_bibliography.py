"""Every key that a table cites stands in the bibliography, once."""

import re
import tomllib
from pathlib import Path

import pytest

from lampkit import tables

BIBLIOGRAPHY = Path(__file__).parents[1] / "references" / "bibliography.md"
KEYS = re.findall(r"^- \*\*([a-z0-9-]+)\*\* ", BIBLIOGRAPHY.read_text(encoding="utf-8"), re.M)
A_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)+")
TABLES = [(p.parent.name, p.stem) for p in sorted(tables.folder().glob("*/*.csv")) if p.with_suffix(".toml").is_file()]


def test_keys_are_unique() -> None:
    assert len(KEYS) == len(set(KEYS)) > 60


@pytest.mark.parametrize(("kind", "name"), TABLES)
def test_cited_keys_stand_in_the_bibliography(kind: str, name: str) -> None:
    with (tables.folder() / kind / f"{name}.toml").open("rb") as stream:
        cited = [part.strip() for part in re.split("[,;]", tomllib.load(stream)["source"])]
    keys = [part for part in cited if A_KEY.fullmatch(part)]
    assert set(keys) <= set(KEYS)


@pytest.mark.parametrize("name", [n for k, n in TABLES if k == "rules" and n != "colour_terms"])
def test_every_row_of_a_regulation_cites_a_key(name: str) -> None:
    assert {key for cell in tables.load("rules", name)["source"] for key in cell.split(", ")} <= set(KEYS)
