"""The study of lenses that are not of the kit's own shape: a small run, and the table that a large one left."""

import csv

import numpy as np
from scipy.stats import binom, chi2

from tests.studies import other_lenses

EDGE, COVERAGE = 2.5, 0.93
"""Goals with a lux meter: error of the edge of a plain red lens [nm], share of cool whites of which K is held [1]."""


def test_a_small_run_finds_the_edge_and_holds_k() -> None:
    """Fourteen garages: no larger error, no fewer hits than an honest run has in all but a few of a thousand."""
    garages = 14
    found = list(other_lenses.run(garages, seed=3, draws=800, cells=[("lux meter", "red", "plain")]))
    used = [one for one in found if "refused" not in one]
    assert len(used) >= garages - 2
    low, middle, high, truth = np.array([one["edge"] for one in used]).T
    assert np.sqrt(np.mean((middle - truth) ** 2)) < EDGE * np.sqrt(chi2.ppf(0.999, len(used)) / len(used))
    low, middle, high, truth = np.array([one["white"] for one in used]).T
    assert np.sum((low <= truth) & (truth <= high)) >= binom.ppf(5e-4, len(used), COVERAGE)


def test_the_large_run_keeps_its_goals() -> None:
    with other_lenses.RESULT.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert [tuple(row[key] for key in ("meter", "lens", "pattern")) for row in rows] == list(other_lenses.CELLS)
    for row in rows:
        assert int(row["garages"]) >= 190
        if row["meter"] == "lux meter":
            assert float(row["cover_K_white_6000_K"]) >= COVERAGE, row
        assert float(row["cover_edge"]) >= 0.90 and float(row["cover_K_spectrum_given"]) >= 0.90, row
    assert float(rows[0]["rms_edge_nm"]) <= EDGE
    # Elsewhere even one who knows how these garages are made stays above the goal or near it; nobody is better.
    for row in rows:
        known, found = float(row["rms_edge_of_one_who_knew_nm"]), float(row["rms_edge_nm"])
        assert 0.95 * known <= found <= 1.35 * known, row
    assert [float(row["rms_edge_of_one_who_knew_nm"]) > EDGE for row in rows] == [False, True, False, True, True, True]


def test_what_one_who_knew_would_find_is_what_the_table_says() -> None:
    """Anew in fewer garages of another seed: a root mean square of 800 is known to 2.5 %, the fit costs as much."""
    with other_lenses.RESULT.open(encoding="utf-8") as stream:
        tabled = float(list(csv.DictReader(stream))[1]["rms_edge_of_one_who_knew_nm"])
    assert 0.88 < other_lenses.best_possible(other_lenses.CELLS[1], 800, seed=5) / tabled < 1.15


def test_the_amber_die_makes_edges_behind_red_too_long() -> None:
    with other_lenses.CAUSES.open(encoding="utf-8") as stream:
        rows = {(row["as_believed"], row["lens"]): float(row["mean_edge_error_nm"]) for row in csv.DictReader(stream)}
    assert rows["amber LED", "red"] < rows["nothing", "red"] - 1.0
    assert abs(rows["meter", "red"] - rows["nothing", "red"]) < 0.5
    assert rows["width", "amber"] < rows["nothing", "amber"] - 0.3
