"""Runs every published check that the kit is held against, so that anyone can see it pass or fail."""

import ast
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from lampkit import tables
from lampkit.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

KNOWN = (
    "published",
    "read in a secondary text",
    "from memory",
    "computed independently",
    "identity",
    "common practice, no source",
)
"""How an expected value is known."""


@dataclass(frozen=True)
class PublishedCheck:
    """One printed value that the kit must reproduce."""

    topic: str
    name: str
    compute: str
    expected: tuple[float, ...]
    tolerance: tuple[float, ...]
    unit: str
    source: str
    known: str
    reason: str
    holds: tuple[str, ...]

    def obtained(self, **references: object) -> np.ndarray:
        """Compute the kit's value; a computation may also name references from outside the kit."""
        import lampkit

        tree = ast.parse(self.compute, mode="eval")
        value = eval(compile(tree, self.topic, "eval"), {"lk": lampkit, "np": np, **references})
        return np.atleast_1d(np.asarray(value, dtype=float)).ravel()

    def passes(self) -> bool:
        """Tell whether the kit's value lies within the tolerance."""
        return self.agrees(self.obtained())

    def agrees(self, found: np.ndarray) -> bool:
        """Tell whether numbers lie within the tolerance."""
        return found.shape == (len(self.expected),) and bool(
            np.all(np.abs(found - self.expected) <= np.array(self.tolerance) * (1 + 1e-9))
        )

    def rounded(self, found: np.ndarray) -> list[float]:
        """Round numbers to a thousandth of the tolerance: what the last bits hold is no answer."""
        decimals = 3 - int(np.floor(np.log10(min(self.tolerance))))
        return [round(v, decimals) + 0.0 for v in found.tolist()]


def folder() -> Path:
    """Find the folder of printed values, of the installed kit or of the checkout."""
    return tables.shipped("published", "tests/published", "photometry.toml")


@cache
def checks() -> tuple[PublishedCheck, ...]:
    """Read every published check."""
    return tuple(check for path in sorted(folder().glob("*.toml")) for check in read(path))


def read(path: Path) -> tuple[PublishedCheck, ...]:
    """Read the checks of one file."""
    with path.open("rb") as stream:
        return tuple(_read(path, entry) for entry in tomllib.load(stream)["check"])


def _read(path: Path, entry: dict[str, Any]) -> PublishedCheck:
    key = entry.get("name", "a check without a name")
    for needed in ("name", "compute", "expected", "unit", "source", "known"):
        if not entry.get(needed):
            raise InputError(f"the check has no '{needed}'", file=path, key=key)
    if entry["known"] not in KNOWN:
        raise InputError(f"known = '{entry['known']}'", file=path, key=key, expected=f"one of {', '.join(KNOWN)}")
    printed: Sequence[str] = entry["expected"] if isinstance(entry["expected"], list) else [entry["expected"]]
    if not all(isinstance(number, str) for number in printed):
        raise InputError("the expected value is not in quotes", file=path, key=key, expected="the digits as printed")
    half_units = [0.5 * 10.0 ** int(Decimal(number).as_tuple().exponent) for number in printed]
    given = entry.get("tolerance")
    tolerance = half_units if given is None else [float(given)] * len(printed)
    if any(t > h * (1 + 1e-9) for t, h in zip(tolerance, half_units, strict=True)) and not entry.get("reason"):
        raise InputError("the tolerance is wider than the print, without a reason", file=path, key=key)
    return PublishedCheck(
        topic=path.stem,
        name=entry["name"],
        compute=entry["compute"],
        expected=tuple(float(number) for number in printed),
        tolerance=tuple(tolerance),
        unit=entry["unit"],
        source=entry["source"],
        known=entry["known"],
        reason=entry.get("reason", ""),
        holds=tuple(entry.get("holds", ())),
    )


KINDS = {
    "printed": ("published", "read in a secondary text"),
    "from memory or usage": ("from memory", "common practice, no source"),
    "cross-check": ("computed independently", "identity"),
}
"""What a check is worth: print of others, what is said in the trade, or the same worked out a second time."""


def counts() -> "pd.DataFrame":
    """Count the printed values and the cross-checks apart, and how many of each agree now."""
    import pandas as pd

    rows = []
    for kind, known in KINDS.items():
        of_kind = [check for check in checks() if check.known in known]
        agreeing = sum(check.passes() for check in of_kind)
        numbers = sum(len(check.expected) for check in of_kind)
        rows.append({"kind": kind, "checks": len(of_kind), "numbers": numbers, "agree": agreeing})
    return pd.DataFrame(rows)


def table() -> "pd.DataFrame":
    """Compute every check and list it beside what is printed, what others have printed first."""
    import pandas as pd

    return pd.DataFrame(
        {
            "topic": check.topic,
            "check": check.name,
            "source": check.source,
            "known": check.known,
            "unit": check.unit,
            "expected": ", ".join(f"{v:g}" for v in check.expected),
            "obtained": ", ".join(f"{v:.6g}" for v in check.rounded(found)),
            "tolerance": ", ".join(dict.fromkeys(f"{v:.2g}" for v in check.tolerance)),
            "verdict": "agrees" if check.agrees(found) else "DIFFERS",
        }
        for check in sorted(checks(), key=lambda check: KNOWN.index(check.known))
        for found in (check.obtained(),)
    )
