"""The readings desk: a panel that takes lux readings, typed or pasted, and says what they mean."""

import base64
import csv
import tempfile
from dataclasses import replace
from io import StringIO
from pathlib import Path

import ipywidgets as widgets

from lampkit.errors import InputError
from lampkit.lenses import coloured_lens
from lampkit.lenses.coloured_lens import Lens
from lampkit.measurement import illuminance_log
from lampkit.measurement.illuminance_log import IlluminanceLog
from lampkit.notebook import controls
from lampkit.notebook.reading_answers import Answer, answer, shown
from lampkit.page import small_charts
from lampkit.plan import agreement
from lampkit.rules import functions
from lampkit.sources import filament_lamps, leds
from lampkit.sources.light_source import LightSource
from lampkit.vehicle import vehicle

START = """lamp,source,illuminance_lx,dark_lx,distance_m,claimed_lumens_lm
Stop lamp left,filament,92,17,0.75,
Stop lamp left,white LED,31,9,0.75,250
"""
"""What stands on the desk when nothing was brought along: invented."""

UNKNOWN = "not known"

CLEAR = ("Clear all readings", "trash")
"""Words and icon of the button that clears the desk."""

WHITES = {"white LED, warm (2900 K)": 2900.0, "white LED, neutral (4000 K)": 4000.0, "white LED, cool (6000 K)": 6000.0}
"""White LEDs by what people call them [K]. Source: common practice, no source."""


class ReadingsDesk:
    """The panel.

    Source: as for `answer`.
    """

    def __init__(self, place: str | Path | None = None) -> None:
        self.vehicle = None
        text = START
        if place is not None:
            path = Path(place)
            if path.is_dir():
                self.vehicle = vehicle.load(path)
                path = path / agreement.FILE
            if path.is_file():
                text = path.read_text(encoding="utf-8-sig")
        self.text = widgets.Textarea(
            value=text,
            rows=12,
            description="readings, one line each",
            continuous_update=False,
            style={"description_width": "0"},
            layout={"width": "auto"},
        )
        self.text_message, self.form_message, self.message = (controls.notice() for _ in range(3))
        self.lamp = controls.entry("lamp", "", "Stop lamp left")
        self.source = controls.entry("what is fitted in it", "", "", "filament, or red LED")
        self.lit = controls.entry("lamp on", "lx", "")
        self.dark = controls.entry("lamp off", "lx", "")
        self.distance = controls.entry("distance", "m", "")
        self.claimed = controls.entry("claimed lumens", "lm", "", "of an LED, from the box")
        self.fitted = controls.choice("lens", (("fitted", "fitted"), ("removed", "removed")))
        self.add = controls.button("Add this reading", "plus")
        self.clear = controls.button(*CLEAR)
        self.work = controls.button("Work it out", "play", button_style="primary")
        self.rows = widgets.VBox()
        self.result, self.download, self.stale = controls.page(), widgets.HTML(), widgets.HTML()
        self._cleared, self._worked = "", ""
        self.answer: Answer | None = None
        self._choices: dict[tuple[str, str], widgets.Dropdown] = {}
        self.add.on_click(controls.guarded(self.form_message, self._add))
        self.clear.on_click(lambda _: self._clear())
        self.work.on_click(controls.guarded(self.message, self._work))
        self.text.observe(controls.guarded(self.text_message, self._read), "value")
        form = [self.lamp, self.source, self.lit, self.dark, self.distance, self.claimed, self.fitted, self.add]
        heading = '<b style="color:{}">{}</b>'.format
        columns = ", ".join(f"<code>{name}</code>" for name in illuminance_log.COLUMNS)
        left = widgets.VBox(
            [
                widgets.HTML(heading(small_charts.INK, "Type a reading")),
                *form,
                self.form_message,
                widgets.HTML(heading(small_charts.INK, "Which lens and light source these are")),
                self.rows,
            ],
            layout={"flex": "1 1 320px", "min_width": "0", "max_width": "420px"},
        )
        right = widgets.VBox(
            [
                widgets.HTML(heading(small_charts.INK, "All readings: paste them here, or change them")),
                self.text,
                self.text_message,
                self.download,
                widgets.HTML(
                    f'<details style="color:{small_charts.INK}"><summary>Columns that may stand there</summary>'
                    f"{columns}</details>"
                ),
                widgets.HBox([self.work, self.clear], layout={"flex_flow": "row wrap"}),
                self.message,
                self.stale,
                self.result,
            ],
            layout={"flex": "2 1 420px", "min_width": "0"},
        )
        self.box = widgets.Box([left, right], layout={"display": "flex", "flex_flow": "row wrap", "width": "100%"})
        self.box.add_class("lampkit-readings-desk")
        controls.guarded(self.text_message, self._read)()
        if not self.text_message.value:
            controls.guarded(self.message, self.update)()

    def _read(self) -> IlluminanceLog:
        """Read the log from the desk, and offer a choice for each lamp and each source in it."""
        data = base64.b64encode(self.text.value.encode()).decode()
        self.download.value = (
            f'<a class="lampkit-download" download="readings.csv" href="data:text/csv;base64,{data}" '
            'style="text-decoration:underline">Download as readings.csv</a>'
        )
        changed = bool(self._worked) and self._worked != self.text.value
        words = "<b>⚠ The readings have changed since.</b> Press <i>Work it out</i>."
        self.stale.value = f'<p style="color:{small_charts.INK}">{words}</p>' if changed else ""
        log = log_of(self.text.value)
        wanted = dict.fromkeys(("lamp", r.lamp) for r in log.readings)
        wanted |= dict.fromkeys(("source", r.source) for r in log.readings)
        for kind, name in wanted:
            if (kind, name) not in self._choices:
                box = self._lens_choice(name) if kind == "lamp" else self._source_choice(name)
                self._choices[kind, name] = box
        self.rows.children = [self._choices[key] for key in wanted]
        return log

    def _lens_choice(self, lamp: str) -> widgets.Dropdown:
        options: list[tuple[str, object]] = [(f"{colour} lens", colour) for colour in coloured_lens.COLOURS]
        options.append((f"lens {UNKNOWN}", None))
        does = functions.suggested_by(lamp)
        guess: object = does.lenses[0] if does and does.lenses else "red"
        if self.vehicle is not None:
            mine = [one.lens for one in self.vehicle.lamps if one.name == lamp]
            if mine:
                options.insert(0, (f"{mine[0].name}, as in the vehicle file", mine[0]))
                guess = mine[0]
        return _stacked(controls.choice(f"{lamp}: lens", options, guess))

    def _source_choice(self, name: str) -> widgets.Dropdown:
        options: list[tuple[str, object]] = [(f"filament {words}", key) for words, key in controls.filament_choices()]
        options += [(words, ("white", cct)) for words, cct in WHITES.items()]
        options += [(f"{colour} LED", ("colour", colour)) for colour in leds.colours()]
        options.append((UNKNOWN, None))
        words = name.lower()
        guess: object = None
        if any(word in words for word in agreement.FILAMENT_WORDS):
            guess = ("P21W", None, 12.0)
        elif "white" in words:
            guess = ("white", 2900.0 if "warm" in words else 6000.0)
        else:
            found = [c for c in leds.colours() if c in words]
            guess = ("colour", max(found, key=len)) if found else None
        if self.vehicle is not None:
            offered = {offer.name: offer.source for offer in self.vehicle.offers}
            if name in offered:
                options.insert(0, (f"{name}, as in the vehicle file", offered[name]))
                guess = offered[name]
            elif guess == ("P21W", None, 12.0):
                options.insert(0, ("filament lamp, as in the vehicle file", "filament"))
                guess = "filament"
        box = widgets.Dropdown(options=options, description=f"{name}: is", layout={"width": "auto"})
        box.value = guess
        return _stacked(box)

    def _add(self) -> None:
        """Write the reading of the form into the readings, in the columns that stand there."""
        values = {
            name: controls.within(controls.number(box, name), name, low, high, unit)
            for name, box, low, high, unit in (
                ("lamp on", self.lit, 0.0, 200000.0, "lx"),
                ("lamp off", self.dark, 0.0, 200000.0, "lx"),
                ("distance", self.distance, 0.02, 50.0, "m"),
            )
        }
        for name, box in (("lamp", self.lamp), ("what is fitted in it", self.source)):
            if not box.value.strip():
                raise InputError("nothing is typed here", key=name, expected="its name")
        if values["lamp on"] <= values["lamp off"]:
            raise InputError("the lamp on reads no more than the lamp off", key="lamp on", expected="more light")
        claim = ""
        if self.claimed.value.strip():
            lumens = controls.number(self.claimed, "claimed lumens")
            claim = f"{controls.within(lumens, 'claimed lumens', 0.1, 2e4, 'lm'):g}"
        lines = self.text.value.rstrip("\n").split("\n")
        columns = [cell.strip().lower() for cell in lines[0].split(",")]
        unit = next((name for name in illuminance_log.DISTANCES if name in columns), "distance_m")
        cells = {
            "lamp": self.lamp.value.strip(),
            "source": self.source.value.strip(),
            unit: f"{values['distance'] / illuminance_log.DISTANCES[unit]:.6g}",
            "claimed_lumens_lm": claim,
            "lens": self.fitted.value,
        }
        on, off = controls.digits(self.lit), controls.digits(self.dark)
        if "state" in columns:
            added = [{**cells, "state": "off", "illuminance_lx": off}, {**cells, "state": "on", "illuminance_lx": on}]
        else:
            added = [{**cells, "illuminance_lx": on, "dark_lx": off}]
        needed = [
            name for name in ("claimed_lumens_lm", "lens") if name not in columns and cells[name] not in ("", "fitted")
        ]
        if needed:
            lines[0] += "".join(f",{name}" for name in needed)
            columns += needed
        sheet = StringIO()
        writer = csv.DictWriter(sheet, columns, extrasaction="ignore", lineterminator="\n")
        writer.writerows(added)
        self.text.value = "\n".join(lines) + "\n" + sheet.getvalue()

    def _clear(self) -> None:
        """Take the readings away, or bring back those that were taken away."""
        empty = START.split("\n")[0] + "\n"
        shown = self._cleared or empty
        self._cleared = "" if self.text.value.strip() in ("", empty.strip()) else self.text.value
        self.text.value = shown
        words, self.clear.icon = ("Bring the others back", "undo") if self._cleared else CLEAR
        self.clear.description = self.clear.tooltip = words

    def _work(self) -> None:
        self.work.description, self.work.disabled = "Working…", True
        try:
            # What is wrong with the readings is said under them, and not twice.
            controls.guarded(self.text_message, self._read)()
            if not self.text_message.value:
                self.update()
        finally:
            self.work.description, self.work.disabled = "Work it out", False

    def update(self) -> None:
        """Read the desk, work it out, and show it.

        Source: as for `answer`.
        """
        log = self._read()
        lamp_lenses: dict[str, Lens] = {}
        for lamp in dict.fromkeys(r.lamp for r in log.readings):
            chosen = self._choices["lamp", lamp].value
            if isinstance(chosen, Lens):
                lamp_lenses[lamp] = chosen
            elif chosen is not None:
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
        if chosen is None or isinstance(chosen, LightSource):
            return chosen
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


def _stacked(box: widgets.Dropdown) -> widgets.Dropdown:
    box.style.description_width = controls.LABEL
    box.tooltip = box.description
    return box


def log_of(text: str) -> IlluminanceLog:
    """Read a log that was typed or pasted.

    Parameters
    ----------
    text : str
        The lines.

    Returns
    -------
    IlluminanceLog
        The log.

    Raises
    ------
    InputError
        It cannot be used; the sentence names the line and says why.

    Source: as for lampkit.illuminance_log.load.
    """
    if text.strip().count("\n") == 0:
        raise InputError("there are no readings yet", remedy="type one in the form, or paste some with their headings")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "readings.csv"
        path.write_text(text, encoding="utf-8")
        try:
            return replace(illuminance_log.load_log(path), file=Path(agreement.FILE))
        except InputError as error:
            # The file is the desk's own; its lines are those that the user sees.
            raise InputError(
                error.what, line=error.line, key=error.key, expected=error.expected, remedy=error.remedy
            ) from None


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

    Source: as for `answer`.
    """
    if place is not None and not Path(place).exists():
        raise InputError("there is nothing of that name", file=place, expected="a CSV log, or the folder of a vehicle")
    return ReadingsDesk(place).box
