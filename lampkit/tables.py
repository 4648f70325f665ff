"""Reads the tables under data/ together with where they come from; cached and read-only."""

import csv
import os
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lampkit.errors import InputError, nearest

REQUIRED = ("quantity", "source", "licence", "obtained", "columns")


@dataclass(frozen=True, eq=False)
class Table:
    """A table of data/ with its provenance."""

    name: str
    columns: Mapping[str, NDArray[Any]]
    provenance: Mapping[str, Any]

    def __getitem__(self, column: str) -> NDArray[Any]:
        try:
            return self.columns[column]
        except KeyError:
            raise InputError(
                f"table {self.name} has no column '{column}'", expected=nearest(column, self.columns)
            ) from None

    def __len__(self) -> int:
        return len(next(iter(self.columns.values())))

    def rows(self) -> list[dict[str, Any]]:
        """List the rows, each a dictionary from column to value."""
        columns = [column.tolist() for column in self.columns.values()]
        return [dict(zip(self.columns, values, strict=True)) for values in zip(*columns, strict=True)]


@cache
def folder() -> Path:
    """Find the folder data/: the one that LAMPKIT_DATA names, or that of the installed kit or of the checkout."""
    named = os.environ.get("LAMPKIT_DATA")
    if not named:
        return shipped("data", "data", "observers")
    own = Path(named)
    if not (own / "observers").is_dir():
        raise InputError(
            "this holds no tables of the kit",
            file=own,
            key="LAMPKIT_DATA",
            expected="a copy of the kit's folder data, with your rows added",
        )
    return own


def shipped(installed: str, in_checkout: str, holds: str) -> Path:
    """Find a folder that ships with the kit, of the installed kit or of the checkout."""
    here = Path(__file__).resolve().parent
    for candidate in (here / installed, here.parent / in_checkout):
        if (candidate / holds).exists():
            return candidate
    raise InputError(
        f"the kit's folder '{installed}' is missing", remedy="install lampkit again, from its wheel or its checkout"
    )


@cache
def load(kind: str, name: str) -> Table:
    """Read data/<kind>/<name>.csv and the provenance beside it."""
    path = folder() / kind / f"{name}.csv"
    if not path.is_file():
        known = [p.stem for p in (folder() / kind).glob("*.csv")]
        raise InputError(f"there is no table '{name}' under data/{kind}", expected=nearest(name, known))
    with path.with_suffix(".toml").open("rb") as stream:
        provenance = tomllib.load(stream)
    missing = [key for key in REQUIRED if key not in provenance]
    if missing:
        raise InputError(f"the provenance lacks {', '.join(missing)}", file=path.with_suffix(".toml"))
    with path.open(newline="", encoding="utf-8") as stream:
        heading, *body = list(csv.reader(stream))
    columns: dict[str, NDArray[Any]] = {}
    for i, title in enumerate(heading):
        cells = [row[i].strip() for row in body]
        columns[title] = column = _as_array(cells, numeric=provenance["columns"].get(title) != "text")
        column.setflags(write=False)
    return Table(f"{kind}/{name}", MappingProxyType(columns), MappingProxyType(provenance))


def _as_array(cells: list[str], *, numeric: bool) -> NDArray[Any]:
    if not numeric:
        return np.array(cells, dtype=object)
    return np.array([float(cell) if cell else np.nan for cell in cells])


def split_cell(cell: str) -> tuple[str, ...]:
    """Take the words apart that one cell of a table holds, between semicolons."""
    return tuple(word.strip() for word in cell.split(";") if word.strip())
