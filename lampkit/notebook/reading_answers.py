"""What the readings on the desk mean: the fair ratio, what is to blame, what to read next, in words and pictures."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from html import escape
from typing import TYPE_CHECKING

import numpy as np

from lampkit import conversion
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import Lens
from lampkit.measurement import fair_ratio, lens_identification, shortfall
from lampkit.measurement.fair_ratio import Comparison
from lampkit.measurement.illuminance_log import IlluminanceLog
from lampkit.measurement.shortfall import Blame
from lampkit.page import small_charts
from lampkit.page.small_charts import Bar
from lampkit.sources import filament_lamps, leds
from lampkit.sources.light_source import LightSource, SourceKind

if TYPE_CHECKING:
    import pandas as pd

DRAWS, SEED = 4000, 1
"""Draws and seed of the desk [1]."""


@dataclass(frozen=True, eq=False)
class Answer:
    """What the readings on the desk mean."""

    comparison: Comparison
    splits: Mapping[tuple[str, str], Blame | str]
    next_readings: Mapping[str, "pd.DataFrame"]


def answer(
    log: IlluminanceLog,
    lamp_lenses: Mapping[str, Lens],
    light_sources: Mapping[tuple[str, str], LightSource],
    *,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Answer:
    """Compare what was read, split what is missing, and say what to read next.

    Source: as for lampkit.readings.compare, lampkit.shortfall.blame and lampkit.probing.next_reading.
    """
    fitted = replace(log, readings=tuple(r for r in log.readings if r.lens_fitted))
    groups = dict.fromkeys((r.lamp, r.source) for r in fitted.readings)
    known = all(key in light_sources and key[0] in lamp_lenses for key in groups)
    light = {key: lamp_lenses[key[0]].transmittance * light_sources[key].spectrum for key in groups} if known else None
    comparison = fair_ratio.compare_readings(fitted, light=light, draws=draws, seed=seed)
    splits: dict[tuple[str, str], Blame | str] = {}
    claimed = {(r.lamp, r.source) for r in log.readings if r.claimed_lumens is not None}
    for ratio in comparison.ratios:
        old, new = (light_sources.get((ratio.lamp, name)) for name in (ratio.old, ratio.new))
        if old is None or new is None or ratio.lamp not in lamp_lenses:
            splits[ratio.lamp, ratio.new] = (
                "Say below what the light sources and the lens are, to see what is to blame."
            )
            continue
        if new.kind is not SourceKind.FILAMENT and (ratio.lamp, ratio.new) not in claimed:
            splits[ratio.lamp, ratio.new] = "Write down the claimed lumens of the new lamp, to see what is to blame."
            continue
        job = conversion.assess(old, [new], lamp_lenses[ratio.lamp], rules=None, draws=draws, seed=seed)
        flux = [r.draws["flux"] / r.draws["transmittance"] for r in (job.results[0], job.old)]
        try:
            splits[ratio.lamp, ratio.new] = shortfall.blame(
                ratio.uncorrected,
                job.results[0].draws["k"],
                flux[0] / flux[1],
                shortfall.beam_belief(new.layout),
                mismatch=ratio.mismatch,
                seed=seed,
                owner=f"{new.name} in {ratio.lamp}",
            )
        except InputError as error:
            splits[ratio.lamp, ratio.new] = str(error)
    return Answer(comparison, splits, _next_readings(log, lamp_lenses, light_sources, draws, seed))


def _next_readings(
    log: IlluminanceLog,
    lamp_lenses: Mapping[str, Lens],
    light_sources: Mapping[tuple[str, str], LightSource],
    draws: int,
    seed: int,
) -> dict[str, "pd.DataFrame"]:
    found = {}
    for lamp in dict.fromkeys(r.lamp for r in log.readings):
        mine = tuple(r for r in log.readings if r.lamp == lamp)
        names = {r.source for r in mine}
        lens = lamp_lenses.get(lamp)
        if lens is None or lens.colour == "clear" or any((lamp, name) not in light_sources for name in names):
            continue
        named = {name: light_sources[lamp, name] for name in names}
        learnt = lens_identification.learn_lens(replace(log, readings=mine), lens, named, draws=draws, seed=seed)
        probes = [
            filament_lamps.filament("P21W", 13.5, name="probe: filament lamp"),
            leds.white_led(6000, luminous_flux=400, name="probe: cool white LED"),
            *(
                leds.coloured_led(colour, luminous_flux=200, name=f"probe: {colour} LED")
                for colour in ("red", "red-orange", "amber", "green")
            ),
        ]
        found[lamp] = lens_identification.next_reading(learnt, probes)
    return found


def shown(answer: Answer) -> str:
    """Write an answer as a piece of a page."""
    ratios = answer.comparison.ratios
    bars = [
        Bar(f"{r.lamp}: {r.new} to {r.old}", np.append(r.ratio[:2], np.inf) if r.unbounded else r.ratio, r.naive)
        for r in ratios
    ]
    parts = [
        "<h4>Fair ratio</h4>",
        small_charts.intervals(
            bars, "times the light of the old lamp [1]", "bar: 95 % interval; ×: what the raw readings would have said"
        ),
    ]
    parts += [f'<p class="lampkit-ratio">{escape(r.sentence)}</p>' for r in ratios]
    parts.append("<h4>What is to blame</h4>")
    for (lamp, new), split in answer.splits.items():
        if isinstance(split, str):
            parts.append(f"<p>{escape(lamp)}, {escape(new)}: {escape(split)}</p>")
            continue
        names = ("the lens (K)", "the lumens", "where the light goes")
        factors = [Bar(name, limits) for name, limits in zip(names, split.after, strict=True)]
        parts.append(f"<p><b>{escape(lamp)}, {escape(new)}.</b> {escape(split.sentence)}</p>")
        parts.append(
            small_charts.intervals(
                factors, "factor of the ratio [1]", "the three multiplied give the ratio; grey side: takes light away"
            )
        )
    parts.append("<h4>What to read next</h4>")
    if not answer.next_readings:
        parts.append(
            "<p>Say what lens and light sources these are, to learn which reading tells most about the lens.</p>"
        )
    for lamp, table in answer.next_readings.items():
        parts.append(
            f"<p>{escape(lamp)}: read one of these with the lens and without it, the best first.</p>"
            + small_charts.plain_table(table.head(3).replace({"probe": {"^probe: ": ""}}, regex=True))
        )
    if answer.comparison.remarks:
        parts.append("<h4>Remarks</h4><ul>")
        parts += [f"<li>{escape(remark)}</li>" for remark in answer.comparison.remarks]
        parts.append("</ul>")
    return (
        f'<div class="lampkit-answer" style="color:{small_charts.INK};line-height:1.4;overflow-x:auto">'
        f"{''.join(parts)}<p>{DRAWS} draws, seed {SEED}. "
        "A reading in a garage is no approval.</p></div>"
    )
