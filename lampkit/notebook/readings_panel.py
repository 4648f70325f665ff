"""The readings desk: a panel that takes lux readings, typed or pasted, and says what they mean."""

import base64
import csv
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets as widgets

from lampkit import conversion, show
from lampkit.errors import InputError
from lampkit.lenses import coloured_lens
from lampkit.lenses.coloured_lens import Lens
from lampkit.measurement import fair_ratio, illuminance_log, lens_identification, log_file, old_lamp, shortfall
from lampkit.measurement.fair_ratio import Comparison
from lampkit.measurement.illuminance_log import IlluminanceLog
from lampkit.measurement.shortfall import Blame
from lampkit.notebook import controls
from lampkit.page import reading_charts, style
from lampkit.plan import agreement
from lampkit.rules import functions
from lampkit.sources import filament_lamps, leds
from lampkit.sources.light_source import LightSource, SourceKind
from lampkit.statements import Statement, say
from lampkit.vehicle import vehicle

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
    leds_read = {name for (_, name), source in light_sources.items() if source.kind is not SourceKind.FILAMENT}
    comparison = fair_ratio.compare_readings(fitted, light=light, leds=leds_read, draws=draws, seed=seed)
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
    pictures = {
        key: style.within(reading_charts.split(one, title=say("readings_desk.of_pair", lamp=key[0], new=key[1])))
        for key, one in answer.splits.items()
        if one.split
    }
    return controls.filled(
        "reading_answer.html",
        answer=answer,
        ratio_picture=style.within(reading_charts.fair_ratios(answer.comparison)),
        pictures=pictures,
        written=show.written,
        draws=DRAWS,
        seed=SEED,
    )


START = """lamp,source,illuminance_lx,dark_lx,distance_m,claimed_lumens_lm
Tail lamp left,filament R5W,9.1,6.1,0.60,
Tail lamp left,red LED,7.6,6.1,0.60,12
"""
"""What stands on the desk when nothing was brought along: invented."""

LENS_START = """lamp,source,illuminance_lx,dark_lx,distance_m,lens,claimed_lumens_lm
stop lamp,filament,40.4,2.2,1.00,fitted,
stop lamp,filament,133.8,1.9,1.00,removed,
stop lamp,red LED,30.1,2.2,1.00,fitted,120
stop lamp,red LED,35.4,2.0,1.00,removed,120
stop lamp,amber LED,16.3,2.0,1.00,fitted,640
stop lamp,amber LED,100.0,2.0,1.00,removed,640
"""
"""What stands on the desk where a lens is to be learnt: each light source with the lens and without it; invented."""

WHITES = (
    (say("readings_desk.warm_white", cct=2900.0), ("white", 2900.0)),
    (say("readings_desk.neutral_white", cct=4000.0), ("white", 4000.0)),
    (say("readings_desk.cool_white", cct=6000.0), ("white", 6000.0)),
)
"""White LEDs by what people call them [K]. Source: common practice, no source."""


class ReadingsDesk:
    """The panel."""

    def __init__(self, place: str | Path | None = None, *, example: str = START) -> None:
        self.vehicle = None
        text = example
        if place is not None:
            path = Path(place)
            if path.is_dir():
                self.vehicle = vehicle.load(path)
                path = path / agreement.FILE
            if path.is_file():
                text, _ = log_file.text_of(path)
        self.text = widgets.Textarea(
            value=text,
            rows=12,
            description=str(say("readings_desk.readings")),
            continuous_update=False,
            style={"description_width": "0"},
            layout={"width": "auto"},
        )
        self.text_message, self.form_message, self.message = (controls.notice() for _ in range(3))
        self.lamp = controls.entry(say("readings_desk.lamp"), "", "Stop lamp left")
        self.source = controls.entry(say("readings_desk.source"), "", "", say("readings_desk.source_hint"))
        self.lit = controls.entry(say("readings_desk.lamp_on"), "lx", "")
        self.dark = controls.entry(say("readings_desk.lamp_off"), "lx", "")
        self.distance = controls.entry(say("readings_desk.distance"), "m", "")
        self.claimed = controls.entry(say("controls.claimed_lumens"), "lm", "", say("readings_desk.claimed_hint"))
        self.fitted = controls.choice(
            say("readings_desk.lens"),
            ((say("readings_desk.fitted"), "fitted"), (say("readings_desk.removed"), "removed")),
        )
        self.add = controls.button(say("readings_desk.add"), "plus")
        self.clear = controls.button(say("readings_desk.clear"), "trash")
        self.work = controls.button(say("readings_desk.work"), "play", button_style="primary")
        self.rows = widgets.VBox()
        self.result, self.added = controls.page(), controls.page()
        self.download, self.stale = widgets.HTML(), widgets.HTML()
        self._cleared, self._worked = "", ""
        self.answer: Answer | None = None
        self._choices: dict[tuple[str, str], widgets.Dropdown] = {}
        controls.when_pressed(self.add, self.form_message, self._add)
        controls.when_pressed(self.work, self.message, self._work)
        self.clear.on_click(lambda _: self._clear())
        self.text.observe(controls.guarded(self.text_message, self.read), "value")
        form = [self.lamp, self.source, self.lit, self.dark, self.distance, self.claimed, self.fitted, self.add]
        left = widgets.VBox(
            [
                controls.heading(say("readings_desk.form")),
                *form,
                self.form_message,
                self.added,
                controls.heading(say("readings_desk.which")),
                self.rows,
            ],
            layout={"flex": "1 1 320px", "min_width": "0", "max_width": "420px"},
        )
        right = widgets.VBox(
            [
                controls.heading(say("readings_desk.all")),
                self.text,
                self.text_message,
                self.download,
                widgets.HTML(controls.filled("log_columns.html", columns=log_file.COLUMNS)),
                widgets.HBox([self.work, self.clear], layout={"flex_flow": "row wrap"}),
                self.message,
                self.stale,
                self.result,
            ],
            layout={"flex": "2 1 420px", "min_width": "0"},
        )
        both = widgets.Box([left, right], layout={"display": "flex", "flex_flow": "row wrap", "width": "100%"})
        self.box = controls.panel("readings-desk", both)
        controls.guarded(self.text_message, self.read)()
        if not self.text_message.value:
            controls.guarded(self.message, self.update)()

    def read(self) -> IlluminanceLog:
        """Read the log from the desk, and offer a choice for each lamp and each source in it."""
        data = base64.b64encode(self.text.value.encode()).decode()
        self.download.value = controls.filled("log_download.html", data=data)
        changed = bool(self._worked) and self._worked != self.text.value
        self.stale.value = controls.filled("stale.html") if changed else ""
        if self.text.value.strip().count("\n") == 0:
            remedy = "type one in the form, or paste some with their headings"
            raise InputError("there are no readings yet", remedy=remedy)
        log = illuminance_log.read_log(self.text.value)
        wanted = dict.fromkeys(("lamp", r.lamp) for r in log.readings)
        wanted |= dict.fromkeys(("source", r.source) for r in log.readings)
        for kind, name in wanted:
            if (kind, name) not in self._choices:
                box = self._lens_choice(name) if kind == "lamp" else self._source_choice(name)
                self._choices[kind, name] = box
        self.rows.children = [self._choices[key] for key in wanted]
        return log

    def _lens_choice(self, lamp: str) -> widgets.Dropdown:
        options: list[tuple[Statement, object]] = [
            (say("readings_desk.lens_of_colour", colour=colour), colour) for colour in coloured_lens.COLOURS
        ]
        options.append((say("readings_desk.lens_unknown"), ""))
        does = functions.suggested_by(lamp)
        guess: object = does.lenses[0] if does and does.lenses else "red"
        if self.vehicle is not None:
            mine = [one.lens for one in self.vehicle.lamps if one.name == lamp]
            if mine:
                options.insert(0, (say("readings_desk.of_vehicle", name=mine[0].name), mine[0]))
                guess = mine[0]
        return _named(controls.choice(say("readings_desk.lens_of_lamp", lamp=lamp), options, guess))

    def _source_choice(self, name: str) -> widgets.Dropdown:
        options: list[tuple[Statement, object]] = [
            (say("readings_desk.filament", rating=rating), key) for rating, key in controls.filament_choices()
        ]
        options += WHITES
        options += [(say("controls.coloured_led", colour=colour), ("colour", colour)) for colour in leds.colours()]
        options.append((say("readings_desk.unknown"), ""))
        words = name.lower()
        guess: object = ""
        filaments = [key for _, key in controls.filament_choices()]
        if old_lamp.is_old_lamp(name):
            known = [key for key in filaments if key[0] == old_lamp.designation_in(name)]
            guess = known[0] if known else ("P21W", None, 12.0)
        elif "white" in words:
            guess = ("white", 2900.0 if "warm" in words else 6000.0)
        else:
            found = [c for c in leds.colours() if c in words]
            guess = ("colour", max(found, key=len)) if found else ""
        if self.vehicle is not None:
            offered = {offer.name: offer.source for offer in self.vehicle.offers}
            if name in offered:
                options.insert(0, (say("readings_desk.of_vehicle", name=name), offered[name]))
                guess = offered[name]
            elif guess in filaments:
                options.insert(0, (say("readings_desk.filament_of_vehicle"), "filament"))
                guess = "filament"
        return _named(controls.choice(say("readings_desk.source_is", name=name), options, guess))

    def _add(self) -> None:
        """Write the reading of the form into the readings, in the columns that stand there."""
        self.added.value = ""
        lit = controls.number(self.lit, say("readings_desk.lamp_on"), "lx", 0.0, 200000.0)
        dark = controls.number(self.dark, say("readings_desk.lamp_off"), "lx", 0.0, 200000.0)
        distance = controls.number(self.distance, say("readings_desk.distance"), "m", 0.02, 50.0)
        for label, box in ((say("readings_desk.lamp"), self.lamp), (say("readings_desk.source"), self.source)):
            if not box.value.strip():
                raise InputError("nothing is typed here", key=str(label), expected="its name")
        if lit <= dark:
            key = str(say("readings_desk.lamp_on"))
            raise InputError("the lamp on reads no more than the lamp off", key=key, expected="more light")
        claim = ""
        if self.claimed.value.strip():
            claim = f"{controls.number(self.claimed, say('controls.claimed_lumens'), 'lm', 0.1, 2e4):g}"
        lines = self.text.value.rstrip("\n").split("\n")
        top = log_file.heading_of(lines, log_file.COLUMNS)
        separator = log_file.separator_of(lines[top])
        columns = list(log_file.names_in(lines[top], log_file.COLUMNS))
        unit = next((name for name in log_file.DISTANCES if name in columns), "distance_m")
        cells = {
            "lamp": self.lamp.value.strip(),
            "source": self.source.value.strip(),
            unit: f"{distance / log_file.DISTANCES[unit]:.6g}",
            "claimed_lumens_lm": claim,
            "lens": self.fitted.value,
        }
        on, off = controls.digits(self.lit, "lx"), controls.digits(self.dark, "lx")
        if "state" in columns:
            added = [{**cells, "state": "off", "illuminance_lx": off}, {**cells, "state": "on", "illuminance_lx": on}]
        else:
            added = [{**cells, "illuminance_lx": on, "dark_lx": off}]
        needed = [
            name for name in ("claimed_lumens_lm", "lens") if name not in columns and cells[name] not in ("", "fitted")
        ]
        if needed:
            lines[top] += "".join(f"{separator}{name}" for name in needed)
            columns += needed
        sheet = StringIO()
        writer = csv.DictWriter(sheet, columns, extrasaction="ignore", delimiter=separator, lineterminator="\n")
        writer.writerows(added)
        told = say("readings_desk.added", lamp=cells["lamp"], source=cells["source"], on=on, off=off, distance=distance,
                   claim=claim)  # fmt: skip
        self.added.value = controls.filled("sentences.html", sentences=[told])
        self.text.value = "\n".join(lines) + "\n" + sheet.getvalue()

    def _clear(self) -> None:
        """Take the readings away, or bring back those that were taken away."""
        empty = START.split("\n")[0] + "\n"
        shown = self._cleared or empty
        self._cleared = "" if self.text.value.strip() in ("", empty.strip()) else self.text.value
        self.text.value = shown
        label = say("readings_desk.bring_back" if self._cleared else "readings_desk.clear")
        self.clear.icon = "undo" if self._cleared else "trash"
        self.clear.description = self.clear.tooltip = str(label)

    def _work(self) -> None:
        # What is wrong with the readings is said under them, and not twice.
        controls.guarded(self.text_message, self.read)()
        if not self.text_message.value:
            self.update()

    def update(self) -> None:
        """Read the desk, work it out, and show it."""
        log = self.read()
        lamp_lenses: dict[str, Lens] = {}
        for lamp in dict.fromkeys(r.lamp for r in log.readings):
            chosen = self._choices["lamp", lamp].value
            if isinstance(chosen, Lens):
                lamp_lenses[lamp] = chosen
            elif chosen:
                lamp_lenses[lamp] = coloured_lens.load(chosen, name=f"lens of {lamp}")
        lit: dict[tuple[str, str], LightSource] = {}
        for r in log.readings:
            key = (r.lamp, r.source)
            if key not in lit:
                made = self._light_source(r.lamp, r.source, log)
                if made is not None:
                    lit[key] = made
        self.answer = answer(log, lamp_lenses, lit)
        self.result.value = shown(self.answer)
        self._worked, self.stale.value = self.text.value, ""

    def _light_source(self, lamp: str, name: str, log: IlluminanceLog) -> LightSource | None:
        chosen = self._choices["source", name].value
        if isinstance(chosen, LightSource):
            return chosen
        if not chosen:
            return None
        if chosen == "filament":
            assert self.vehicle is not None
            found = [one.filament for one in self.vehicle.lamps if one.name == lamp]
            return found[0] if found else None
        claims = [r.claimed_lumens for r in log.readings if r.source == name and r.claimed_lumens]
        lumens = claims[0] if claims else 100.0  # where no lumens are claimed only the colour of the light counts
        if chosen[0] == "white":
            return leds.white_led(chosen[1], luminous_flux=lumens, name=name)
        if chosen[0] == "colour":
            return leds.coloured_led(chosen[1], luminous_flux=lumens, name=name)
        designation, part, rated = chosen
        return filament_lamps.filament(designation, part=part, rated_voltage=rated, name=name)


def _named(box: widgets.Dropdown) -> widgets.Dropdown:
    """Let a name that is too long for its place be read where the pointer rests on it."""
    box.tooltip = box.description
    return box


def readings_desk(place: str | Path | None = None) -> widgets.Box:
    """Open the readings desk.

    Parameters
    ----------
    place : str or Path, optional
        A log in CSV, or the folder of a vehicle with a readings.csv; an example when left out.

    Returns
    -------
    Box
        The panel, which shows itself when it is the last line of a cell.

    Raises
    ------
    InputError
        The place does not exist, or the vehicle file cannot be used.

    Examples
    --------
    >>> import lampkit as lk
    >>> type(lk.notebook.readings_desk()).__name__
    'VBox'
    """
    if place is not None and not Path(place).exists():
        raise InputError("there is nothing of that name", file=place, expected="a CSV log, or the folder of a vehicle")
    return ReadingsDesk(place).box


def lens_desk() -> ReadingsDesk:
    """Open a readings desk with an example in which each light source was read with the lens and without it.

    Returns
    -------
    ReadingsDesk
        The desk: its `box` shows it, its `read` gives the log that stands on it.

    Examples
    --------
    >>> import lampkit as lk
    >>> len(lk.notebook.lens_desk().read().readings)
    6
    """
    return ReadingsDesk(example=LENS_START)
