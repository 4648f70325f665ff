"""The controls that the panels share: each with its label, its unit, its limits and a place for what is wrong."""

import math
from collections.abc import Callable, Iterable
from functools import lru_cache
from html import escape

import ipywidgets as widgets

from lampkit import tables
from lampkit.errors import InputError
from lampkit.sources import leds
from lampkit.sources.light_source import LightSource

LABEL = "12.5em"
"""Width of the labels, so that controls stand in line."""

KINDS = ("white LED", "coloured LED, by colour", "coloured LED, by peak")
"""Kinds of LED that can be chosen."""


def slider(
    label: str, unit: str, value: float, low: float, high: float, step: float, digits: int = 0
) -> widgets.FloatSlider:
    """Make a slider with its label, unit and limits."""
    return widgets.FloatSlider(
        value=value,
        min=low,
        max=high,
        step=step,
        description=f"{label} [{unit}]",
        readout_format=f".{digits}f",
        style={"description_width": LABEL},
        layout={"width": "auto"},
        tooltip=f"{label}, {low:g} to {high:g} {unit}",
    )


def choice(label: str, options: Iterable[str | tuple[str, object]], value: object = None) -> widgets.Dropdown:
    """Make a list to choose one thing from."""
    listed = list(options)
    values = [o[1] if isinstance(o, tuple) else o for o in listed]
    return widgets.Dropdown(
        options=listed,
        value=values[0] if value is None else value,
        description=label,
        style={"description_width": LABEL},
        layout={"width": "auto"},
    )


def entry(label: str, unit: str, value: str, hint: str = "") -> widgets.Text:
    """Make a box to type a number in; whoever reads it says in place what is wrong with it."""
    return widgets.Text(
        value=value,
        placeholder=hint,
        description=f"{label} [{unit}]" if unit else label,
        style={"description_width": LABEL},
        layout={"width": "auto"},
    )


def button(label: str, icon: str, **look: str) -> widgets.Button:
    """Make a button as wide as its label."""
    return widgets.Button(description=label, icon=icon, tooltip=label, layout={"width": "max-content"}, **look)


def number(box: widgets.Text, what: str) -> float:
    """Read the number that was typed; a decimal comma will do, and the unit of the box may stand behind it."""
    text = digits(box)
    try:
        found = float(text)
    except ValueError:
        found = math.nan
    if not math.isfinite(found):
        given = f"'{box.value.strip()}' is not a number" if text else "nothing is typed here"
        raise InputError(given, key=what, expected="digits with a decimal point")
    return found


def digits(box: widgets.Text) -> str:
    """Give the digits as typed, since the last one tells the resolution, with a decimal point and without the unit."""
    text = box.value.strip().replace("\N{MINUS SIGN}", "-")
    unit = box.description.rpartition("[")[2].rstrip("]")
    if unit and text.endswith(unit) and unit != text and unit != "1":
        text = text.removesuffix(unit).rstrip()
    return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text


def notice() -> widgets.HTML:
    """Make a place for a message about what was typed above it."""
    return widgets.HTML(layout={"margin": "0"})


def page() -> widgets.HTML:
    """Make a place for pictures and tables that keeps to the width it is given."""
    return widgets.HTML(layout={"display": "block", "width": "auto", "min_width": "0", "margin": "2px"})


def show_message(place: widgets.HTML, error: Exception | None) -> None:
    """Show what is wrong, with a sign and in words, or clear the place."""
    if error is None:
        place.value = ""
        return
    words = str(error)
    if not isinstance(error, InputError):
        words = f"something went wrong inside the kit, please report it: {type(error).__name__}: {error}"
    told = escape(words).replace("\n", "<br>")
    place.value = (
        '<div class="lampkit-message" role="alert" style="border-left:4px solid #d55e00;padding:2px 8px;'
        'line-height:1.35;color:var(--jp-content-font-color1, currentColor)">'
        f"<b>⚠ Not used:</b> {told}</div>"
    )


def guarded(place: widgets.HTML, work: Callable[[], object]) -> Callable[..., None]:
    """Wrap what a control sets going: whatever goes wrong is said in place, never hidden."""

    def run(*_: object) -> None:
        try:
            work()
        except Exception as error:
            show_message(place, error)
        else:
            show_message(place, None)

    return run


def filament_choices() -> list[tuple[str, tuple[str, str | None, float]]]:
    """List the filament lamps by what people call them.

    Source: data/lamps/ratings.csv.
    """
    found = {}
    for row in tables.load("lamps", "ratings").rows():
        part = None if row["filament"] == "single" else row["filament"]
        words = f"{row['designation']}{f' {part}' if part else ''}, {row['class_V']:g} V"
        found[words] = (row["designation"], part, row["class_V"])
    return sorted(found.items(), key=lambda item: (item[1][2] != 12.0, item[1][2]))


@lru_cache(maxsize=64)
def led(kind: str, value: float | str, luminous_flux: float, name: str) -> LightSource:
    """Make the LED that was chosen; the same choice gives the same object, whose draws are kept.

    Source: as for lampkit.sources.
    """
    if kind == "white LED":
        return leds.white_led(float(value), luminous_flux=luminous_flux, name=name)
    if kind == "coloured LED, by colour":
        return leds.coloured_led(str(value), luminous_flux=luminous_flux, name=name)
    return leds.coloured_led(peak=float(value), luminous_flux=luminous_flux, name=name)


class SourceControls:
    """Controls for one LED: its kind, what that kind needs, and what the box claims."""

    def __init__(self, name: str, *, kind: str, lumens: str, optional: bool = False) -> None:
        self.name = name
        self.kind = choice("kind", (*KINDS, "none") if optional else KINDS, kind)
        self.cct = slider("colour temperature", "K", 6000, 2200, 8000, 100)
        self.colour = choice("colour", leds.colours(), "red")
        self.peak = slider("peak wavelength", "nm", 625, 400, 720, 1)
        self.lumens = entry("claimed lumens", "lm", lumens, "from the box")
        self.message = notice()
        heading = widgets.HTML(f"<b>{escape(name)}</b>")
        self.box = widgets.VBox([heading, self.kind, self.cct, self.colour, self.peak, self.lumens, self.message])
        self.kind.observe(lambda _: self._show(), "value")
        self._show()

    def _show(self) -> None:
        for kind, control in zip(KINDS, (self.cct, self.colour, self.peak), strict=True):
            control.layout.display = "" if kind == self.kind.value else "none"
        self.lumens.layout.display = "none" if self.kind.value == "none" else ""

    def watch(self, work: Callable[..., None]) -> None:
        """Call something whenever a control changes."""
        for control in (self.kind, self.cct, self.colour, self.peak, self.lumens):
            control.observe(work, "value")

    def chosen(self) -> tuple[str, float | str, float] | None:
        """Read the controls; what is wrong with them is said beside them."""
        show_message(self.message, None)
        if self.kind.value == "none":
            return None
        try:
            lumens = within(number(self.lumens, "claimed lumens"), "claimed lumens", 0.1, 20000.0, "lm")
        except InputError as error:
            show_message(self.message, error)
            raise
        value = {KINDS[0]: self.cct, KINDS[1]: self.colour, KINDS[2]: self.peak}[self.kind.value].value
        return self.kind.value, value, lumens


def within(value: float, what: str, low: float, high: float, unit: str) -> float:
    """Refuse a number outside its sensible limits."""
    if not low <= value <= high:
        raise InputError(f"{value:g} {unit} cannot be used", key=what, expected=f"{low:g} {unit} to {high:g} {unit}")
    return value


def words_for(kind: str, value: float | str) -> str:
    """Name the LED that was chosen."""
    if kind == KINDS[0]:
        return f"white LED {float(value):.0f} K"
    return f"{value} LED" if kind == KINDS[1] else f"LED {float(value):.0f} nm"
