"""Is one reading one interval, and does it hang on the seed?

A stop lamp of the usual kind, filament and red LED behind a red lens, read in a dark garage with steps of 0.1 lx. The
LED gives from a tenth to four times the filament's light, while its box claims 120 lm throughout. Each log goes through
the kit with twenty seeds, as fair ratio and as split into lens, lumens and beam. Counted are how far the medians of
single seeds lie from the middle of all of them, how narrow the narrowest interval is, and how far the product of the
split is from the fair ratio, which it should be to the last digit. All readings are invented. Run it to write the table
beside it:

    python tests/studies/one_interval.py
"""

import csv
from collections.abc import Iterable
from pathlib import Path

import numpy as np

import lampkit as lk
from lampkit.measurement import fair_ratio, shortfall
from lampkit.measurement.colour_response import light_at_meter
from lampkit.measurement.shortfall import Blame

RATIOS = (0.1, 0.15, 0.2, 0.22, 0.3, 0.4, 0.5, 0.7, 0.8, 1.0, 1.2, 1.5, 2.0, 3.0, 4.0)
SEEDS = range(1, 21)
RESULT = Path(__file__).with_suffix(".csv")

OLD = lk.sources.filament("P21W", voltage=13.5, name="filament")
NEW = lk.sources.coloured_led("red", luminous_flux=120, electrical_power=2.0, name="red LED")
LENS = lk.lenses.load("red")


def log_of(ratio: float) -> str:
    """What would be written down, two readings of each: 40 lx with the filament, 2 lx of background."""
    head = "lamp,source,state,illuminance_lx,distance_m"
    lit = [("filament", 40.0), ("filament", 40.4), ("red LED", 40.0 * ratio), ("red LED", 40.4 * ratio)]
    lines = [
        f"Stop,{source},off,2.1,1\nStop,{source},on,{net + 2.1:.1f},1\nStop,{source},off,2.1,1" for source, net in lit
    ]
    return "\n".join([head, *lines])


def one(ratio: float, seed: int, draws: int) -> tuple[fair_ratio.FairRatio, Blame]:
    """The fair ratio of one log with one seed, and its split."""
    log = lk.measurement.read_log(log_of(ratio))
    light = light_at_meter(log, {"filament": OLD, "red LED": NEW}, {"Stop": LENS}, draws=draws, seed=seed)
    (found,) = lk.measurement.compare_readings(log, light=light, draws=draws, seed=seed).ratios
    job = lk.conversion.assess(OLD, [NEW], LENS, rules=None, draws=draws, seed=seed)
    lumens = [r.draws["flux"] / r.draws["transmittance"] for r in (job.results[0], job.old)]
    beam = shortfall.beam_belief(None)
    split = shortfall.blame(
        found.draws, job.results[0].draws["k"], lumens[0] / lumens[1], beam, claimed=120, seed=seed, owner="red LED"
    )
    return found, split


def run(ratios: Iterable[float] = RATIOS, seeds: Iterable[int] = SEEDS, draws: int = 4000) -> list[dict[str, object]]:
    """One row for each ratio."""
    rows: list[dict[str, object]] = []
    for ratio in ratios:
        found = [one(ratio, seed, draws) for seed in seeds]
        fair = np.array([f.ratio for f, _ in found])
        product = np.array([split.product for _, split in found])
        factors = np.array([np.prod(split.draws, axis=0) for _, split in found])
        after = np.array([split.after for _, split in found])
        middle = np.median(after[:, :, 1], axis=0)
        off = np.abs(fair[:, 1] / np.median(fair[:, 1]) - 1)
        rows.append(
            {
                "ratio": ratio,
                "fair_median": round(float(np.median(fair[:, 1])), 4),
                "fair_low": round(float(np.median(fair[:, 0])), 4),
                "fair_high": round(float(np.median(fair[:, 2])), 4),
                "median_off_by_seed_percent": round(100 * float(off.max()), 2),
                "narrowest_interval_percent": round(100 * float((fair[:, 2] / fair[:, 0] - 1).min()), 1),
                "split_off_fair": float(np.abs(product / fair - 1).max()),
                "factors_off_product": float(
                    max(np.abs(drawn / f.draws - 1).max() for drawn, (f, _) in zip(factors, found, strict=True))
                ),
                "outcome": " or ".join(sorted({split.outcome.value for _, split in found})),
                "lens": round(float(middle[0]), 3),
                "lumens": round(float(middle[1]), 3),
                "beam": round(float(middle[2]), 3),
                "factor_off_by_seed_percent": round(100 * float(np.abs(after[:, :, 1] / middle - 1).max()), 2),
                "narrowest_factor_percent": round(100 * float((after[:, :, 2] / after[:, :, 0] - 1).min()), 1),
            }
        )
    return rows


if __name__ == "__main__":
    table = run()
    with RESULT.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, fieldnames=list(table[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(table)
