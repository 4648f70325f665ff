"""The study of garages that are not of the kit's own shapes: a small run, and the table that a large one left."""

import csv

import numpy as np
from scipy.stats import binom

from tests.studies import other_garages


def test_a_small_run_holds_the_truth() -> None:
    """Six garages of each cell and meter: no fewer hits than an honest 93 % has in all but a few of ten thousand."""
    found = list(other_garages.run(6, seed=7, draws=300))
    assert len(found) >= 55
    assert np.sum([bool(r["held"]) for r in found]) >= binom.ppf(5e-4, len(found), 0.93)
    widths = {m: np.median([float(r["width"]) for r in found if r["meter"] == m]) for m in other_garages.METERS}  # type: ignore[arg-type]
    assert widths["lux meter"] < widths["phone"]


def test_the_large_run_keeps_its_goals() -> None:
    with other_garages.RESULT.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    whole = rows[0]
    assert int(whole["garages"]) >= 900 and 0.93 <= float(whole["coverage"]) <= 0.97
    for row in rows[1:]:
        assert float(row["coverage"]) >= 0.90, row
