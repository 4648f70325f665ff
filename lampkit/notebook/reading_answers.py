"""What the readings on the desk mean: the fair ratio, what is to blame, what to read next, in words and pictures."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from lampkit import conversion, show
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import Lens
from lampkit.measurement import fair_ratio, lens_identification, shortfall
from lampkit.measurement.fair_ratio import Comparison
from lampkit.measurement.illuminance_log import IlluminanceLog
from lampkit.measurement.shortfall import Blame
from lampkit.notebook import controls
from lampkit.page import live_pictures
from lampkit.page.live_pictures import Bar
from lampkit.sources import filament_lamps, leds
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    import pandas as pd

DRAWS, SEED = 4000, 1
"""Draws and seed of the desk [1]."""


@dataclass(frozen=True, eq=False)
class Answer:
    """What the readings on the desk mean; what is to blame by lamp and new source, or why it cannot be told."""

    comparison: Comparison
    splits: Mapping[tuple[str, str], Blame]
    unsplit: Mapping[tuple[str, str], Statement]
    next_readings: Mapping[str, "pd.DataFrame"]
    untaught: Mapping[str, InputError | Statement]


def answer(
    log: IlluminanceLog,
    lamp_lenses: Mapping[str, Lens],
    light_sources: Mapping[tuple[str, str], LightSource],
    *,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Answer:
    """Compare what was read, split what is missing, and say what to read next."""
    fitted = replace(log, readings=tuple(r for r in log.readings if r.lens_fitted))
    groups = dict.fromkeys((r.lamp, r.source) for r in fitted.readings)
    known = all(key in light_sources and key[0] in lamp_lenses for key in groups)
    light = {key: lamp_lenses[key[0]].transmittance * light_sources[key].spectrum for key in groups} if known else None
    leds = {name for (_, name), source in light_sources.items() if source.kind is not SourceKind.FILAMENT}
    comparison = fair_ratio.compare_readings(fitted, light=light, leds=leds, draws=draws, seed=seed)
    splits: dict[tuple[str, str], Blame] = {}
    unsplit: dict[tuple[str, str], Statement] = {}
    claimed = {(r.lamp, r.source) for r in log.readings if r.claimed_lumens is not None}
    for ratio in comparison.ratios:
        old, new = (light_sources.get((ratio.lamp, name)) for name in (ratio.old, ratio.new))
        if old is None or new is None or ratio.lamp not in lamp_lenses:
            unsplit[ratio.lamp, ratio.new] = say("readings_desk.light_unknown")
            continue
        if new.kind is not SourceKind.FILAMENT and (ratio.lamp, ratio.new) not in claimed:
            unsplit[ratio.lamp, ratio.new] = say("readings_desk.claim_unknown")
            continue
        job = conversion.assess(old, [new], lamp_lenses[ratio.lamp], rules=None, draws=draws, seed=seed)
        flux = [r.draws["flux"] / r.draws["transmittance"] for r in (job.results[0], job.old)]
        splits[ratio.lamp, ratio.new] = shortfall.blame(
            ratio.draws,
            job.results[0].draws["k"],
            flux[0] / flux[1],
            shortfall.beam_of(new),
            claimed=None if new.kind is SourceKind.FILAMENT else new.luminous_flux,
            seed=seed,
            owner=f"{new.name} in {ratio.lamp}",
        )
    return Answer(comparison, splits, unsplit, *_next_readings(log, lamp_lenses, light_sources, draws, seed))


def _next_readings(
    log: IlluminanceLog,
    lamp_lenses: Mapping[str, Lens],
    light_sources: Mapping[tuple[str, str], LightSource],
    draws: int,
    seed: int,
) -> tuple[dict[str, "pd.DataFrame"], dict[str, InputError | Statement]]:
    """List what to read next by lamp; of a lamp whose readings teach nothing of its lens, say why."""
    found, untaught = {}, dict[str, InputError | Statement]()
    for lamp in dict.fromkeys(r.lamp for r in log.readings):
        mine = tuple(r for r in log.readings if r.lamp == lamp)
        names = {r.source for r in mine}
        lens = lamp_lenses.get(lamp)
        if lens is None or lens.colour == "clear" or any((lamp, name) not in light_sources for name in names):
            continue
        named = {name: light_sources[lamp, name] for name in names}
        try:
            learnt = lens_identification.learn_lens(replace(log, readings=mine), lens, named, draws=draws, seed=seed)
        except InputError as error:
            untaught[lamp] = error
            continue
        misfit = [said for said in learnt.remarks if said.key == "lens_identification.misfit"]
        if misfit:  # what to read next would rest on what is wrong
            untaught[lamp] = misfit[0]
            continue
        probes = [probe for probe, _ in _probes().values()]
        table = lens_identification.next_reading(learnt, probes).head(3)
        found[lamp] = table.assign(probe=[str(_probes()[name][1]) for name in table["probe"]])
    return found, untaught


@cache
def _probes() -> dict[str, tuple[LightSource, Statement]]:
    """List light sources that are easily had, by names that no log has, each with what people call it."""
    filament = filament_lamps.filament("P21W", 13.5, name="probe: filament lamp")
    white = leds.white_led(6000, luminous_flux=400, name="probe: cool white LED")
    called = {filament: say("readings_desk.any_filament"), white: say("readings_desk.any_cool_white")}
    for colour in ("red", "red-orange", "amber", "green"):
        probe = leds.coloured_led(colour, luminous_flux=200, name=f"probe: {colour} LED")
        called[probe] = say("controls.coloured_led", colour=colour)
    return {probe.name: (probe, words) for probe, words in called.items()}


def shown(answer: Answer) -> str:
    """Write an answer as a piece of a page."""
    ratios = answer.comparison.ratios
    bars = [
        Bar(
            str(say("readings_desk.pair", lamp=r.lamp, new=r.new, old=r.old)),
            np.append(r.ratio[:2], np.inf) if r.unbounded else r.ratio,
            r.naive,
        )
        for r in ratios
    ]
    factors = (say("readings_desk.lens_factor"), say("readings_desk.lumens_factor"), say("readings_desk.beam_factor"))
    pictures = {
        key: live_pictures.intervals(
            [Bar(str(name), limits) for name, limits in zip(factors, split.after, strict=True)],
            str(say("readings_desk.factor_axis")),
            str(say("readings_desk.factor_note")),
        )
        for key, split in answer.splits.items()
        if split.split
    }
    return controls.filled(
        "reading_answer.html",
        answer=answer,
        ratio_picture=live_pictures.intervals(
            bars, str(say("readings_desk.ratio_axis")), str(say("readings_desk.ratio_note"))
        ),
        pictures=pictures,
        written=show.written,
        draws=DRAWS,
        seed=SEED,
    )
