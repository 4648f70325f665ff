"""The controls that the panels share: each with its label, its unit, its limits and a place for what is wrong."""

import asyncio
import math
from collections.abc import Callable, Iterable
from enum import Enum
from functools import lru_cache
from typing import Any

import ipywidgets as widgets
from IPython import get_ipython

from lampkit import numbers, show, tables
from lampkit.errors import InputError
from lampkit.page import frame
from lampkit.page.style import NOTEBOOK_INK
from lampkit.sources import leds
from lampkit.sources.light_source import LightSource
from lampkit.statements import Statement, named, say

LABEL = "12.5em"
"""Width of the labels, so that controls stand in line."""


class LedKind(Enum):
    """Kinds of LED that can be chosen."""

    WHITE = "white"
    BY_COLOUR = "by_colour"
    BY_PEAK = "by_peak"


def filled(template: str, **content: Any) -> str:
    """Fill a template of the panels."""
    return frame.environment("lampkit.notebook").get_template(template).render(ink=NOTEBOOK_INK, **content)


def heading(words: Statement | str) -> widgets.HTML:
    """Make a heading of a part of a panel."""
    return widgets.HTML(filled("heading.html", words=words))


def slider(
    label: Statement, unit: str, value: float, low: float, high: float, step: float, digits: int = 0
) -> widgets.FloatSlider:
    """Make a slider with its label, unit and limits."""
    return widgets.FloatSlider(
        value=value,
        min=low,
        max=high,
        step=step,
        description=str(say("controls.with_unit", label=label, unit=unit)),
        readout_format=f".{digits}f",
        style={"description_width": LABEL},
        layout={"width": "auto"},
        tooltip=str(say("controls.limits", label=label, low=low, high=high, unit=unit)),
    )


def choice(
    label: Statement | str, options: Iterable[str | tuple[Statement | str, object]], value: object = None
) -> widgets.Dropdown:
    """Make a list to choose one thing from."""
    listed = [(str(o[0]), o[1]) if isinstance(o, tuple) else (o, o) for o in options]
    return widgets.Dropdown(
        options=listed,
        value=listed[0][1] if value is None else value,
        description=str(label),
        style={"description_width": LABEL},
        layout={"width": "auto"},
    )


def typed(moved: widgets.FloatSlider) -> widgets.VBox:
    """Put a box beside a slider in which its number can be typed; one beyond its ends is told, and not used."""
    moved.readout = False
    moved.layout.flex = "1 1 auto"
    unit = moved.description.rpartition("[")[2].rstrip("]")
    digits_shown = int(moved.readout_format[1:-1])
    box = widgets.Text(
        value=f"{moved.value:.{digits_shown}f}",
        description=moved.description,
        continuous_update=False,
        style={"description_width": "0"},
        layout={"width": "4.6em", "flex": "0 0 auto"},
    )
    message = notice()

    def follow(_: object = None) -> None:
        box.value = f"{moved.value:.{digits_shown}f}"
        show_message(message, None)

    def read(change: dict[str, Any]) -> None:
        if change["new"] == f"{moved.value:.{digits_shown}f}":
            return
        moved.value = number(box, say("controls.of_slider"), unit, moved.min, moved.max)
        follow()

    def tell(change: dict[str, Any]) -> None:
        guarded_read = guarded(message, lambda: read(change))
        guarded_read()

    moved.observe(follow, "value")
    box.observe(tell, "value")
    row = widgets.HBox([moved, box], layout={"width": "auto"})
    whole = widgets.VBox([row, message])
    moved.layout.observe(lambda change: setattr(whole.layout, "display", change["new"]), "display")
    whole.layout.display = moved.layout.display
    return whole


SLIDER_NAMES = """
for (const slider of document.querySelectorAll('.widget-slider')) {
  const label = slider.querySelector('.widget-label');
  for (const handle of slider.querySelectorAll('.noUi-handle'))
    if (label && !handle.hasAttribute('aria-label')) handle.setAttribute('aria-label', label.textContent);
}
"""
"""What gives each slider on the page its name for those who hear it: the drawing library leaves its handle without."""


def slider_names() -> widgets.Output:
    """Make an unseen part of a panel that gives its sliders their names, once the panel is on the page."""
    later = f"const name = () => {{{SLIDER_NAMES}}}; for (const wait of [0, 300, 1500, 5000]) setTimeout(name, wait);"
    shown = {"output_type": "display_data", "data": {"application/javascript": later}, "metadata": {}}
    return widgets.Output(outputs=(shown,), layout={"height": "0", "margin": "0", "overflow": "hidden"})


def panel(name: str, *parts: widgets.Widget, look: str = "panel_look.html") -> widgets.VBox:
    """Put a panel together: its parts, and unseen how they stand on a narrow page and what names its sliders."""
    unseen = widgets.HTML(filled(look, room=show.ROOM), layout={"margin": "0", "height": "0"})
    whole = widgets.VBox([*parts, unseen, slider_names()])
    whole.add_class("lampkit-panel")
    whole.add_class(f"lampkit-{name}")
    return whole


def entry(label: Statement, unit: str, value: str, hint: Statement | str = "", *, live: bool = False) -> widgets.Text:
    """Make a box to type a number in, which is read when it is left, or while one types.

    Whoever reads it says in place what is wrong with it.
    """
    return widgets.Text(
        value=value,
        continuous_update=live,
        placeholder=str(hint),
        description=str(say("controls.with_unit", label=label, unit=unit) if unit else label),
        style={"description_width": LABEL},
        layout={"width": "auto"},
    )


def button(label: Statement, icon: str, **look: str) -> widgets.Button:
    """Make a button as wide as its label."""
    words = str(label)
    return widgets.Button(description=words, icon=icon, tooltip=words, layout={"width": "max-content"}, **look)


def number(box: widgets.Text, label: Statement, unit: str, low: float = -math.inf, high: float = math.inf) -> float:
    """Read the number that was typed; a decimal comma will do, and the unit of the box may stand behind it."""
    text, key = digits(box, unit), str(label)
    try:
        found = float(text)
    except ValueError:
        found = math.nan
    if not math.isfinite(found):
        given = f"'{box.value.strip()}' is not a number" if text else "nothing is typed here"
        raise InputError(given, key=key, expected="digits with a decimal point")
    if not low <= found <= high:
        raise InputError(f"{found:g} {unit} cannot be used", key=key, expected=f"{low:g} {unit} to {high:g} {unit}")
    return found


def digits(box: widgets.Text, unit: str) -> str:
    """Give the digits as typed, since the last one tells the resolution, with a decimal point and without the unit."""
    text = box.value.strip().replace("\N{MINUS SIGN}", "-")
    if unit not in ("", "1", text):
        text = text.removesuffix(unit).removesuffix(numbers.printed(unit)).rstrip()
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
    words: object = error
    if not isinstance(error, InputError):
        words = say("controls.fault", kind=type(error).__name__, error=str(error))
    place.value = filled("message.html", words=words)


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


def when_pressed(pressed: widgets.Button, place: widgets.HTML, work: Callable[[], object]) -> None:
    """Set something going with a button, which says so until it is done; what goes wrong is said in its place."""
    working = str(say("controls.working"))

    def busy(_: object) -> None:
        if pressed.disabled:
            return
        label = pressed.description
        pressed.description, pressed.disabled = working, True

        def done() -> None:
            try:
                work()
            finally:
                # What was done may have given it another label.
                pressed.description = label if pressed.description == working else pressed.description
                pressed.disabled = False

        after_what_was_typed(guarded(place, done))

    _echo()
    pressed.on_click(busy)


ANSWER = 3.0
"""How long a page may take to answer, after which a button does without [s]. Source: own judgement."""


_ECHO: list[widgets.IntText] = []


def _echo() -> list[widgets.IntText]:
    """Give a number that the kernel changes, and one that the page then sets to the same; anew where all was closed."""
    if not _ECHO or _ECHO[0].comm is None:
        _ECHO[:] = widgets.IntText(), widgets.IntText()
        widgets.jsdlink(*((number, "value") for number in _ECHO))
    return _ECHO


def after_what_was_typed(work: Callable[[], None]) -> None:
    """Do what a click asks for when all that was typed before the click has come.

    A page that waits for the kernel holds back what is typed into a box for the second time, but never a click. So the
    page is asked for an answer first: what it held back goes before that.
    """
    kernel = getattr(get_ipython(), "kernel", None)
    if kernel is None or kernel.get_parent().get("header", {}).get("msg_type") != "comm_msg":
        work()  # it was no page that clicked
        return
    asked, heard = _echo()
    number, left = asked.value + 1, [work]

    def go(change: dict[str, Any] | None = None) -> None:
        if left and (change is None or change["new"] >= number):
            heard.unobserve(go, "value")
            left.pop()()

    heard.observe(go, "value")
    asyncio.get_running_loop().call_later(ANSWER, go)
    asked.value = number


def filament_choices() -> list[tuple[Statement, tuple[str, str | None, float]]]:
    """List the filament lamps by what people call them.

    Source: data/lamps/ratings.csv.
    """
    found = dict.fromkeys(
        (row["designation"], None if row["filament"] == "single" else row["filament"], row["class_V"])
        for row in tables.load("lamps", "ratings").rows()
    )
    return [
        (say("controls.rating", name=filament_name(lamp, part), volts=volts), (lamp, part, volts))
        for lamp, part, volts in sorted(found, key=lambda held: (held[2] != 12.0, held[2]))
    ]


def filament_name(designation: str, part: str | None) -> Statement:
    """Name a filament lamp, or one of its two filaments."""
    return say("controls.filament", designation=designation, part=part)


@lru_cache(maxsize=64)
def led(kind: LedKind, value: float | str, luminous_flux: float, name: str) -> LightSource:
    """Make the LED that was chosen; the same choice gives the same object, whose draws are kept."""
    if kind is LedKind.WHITE:
        return leds.white_led(float(value), luminous_flux=luminous_flux, name=name)
    if kind is LedKind.BY_COLOUR:
        return leds.coloured_led(str(value), luminous_flux=luminous_flux, name=name)
    return leds.coloured_led(peak=float(value), luminous_flux=luminous_flux, name=name)


class SourceControls:
    """Controls for one LED: its kind, what that kind needs, and what the box claims."""

    def __init__(self, name: str, *, kind: LedKind, lumens: str, optional: bool = False) -> None:
        self.name = name
        kinds: list[tuple[Statement, LedKind | str]] = [(named(one), one) for one in LedKind]
        if optional:
            kinds.append((say("controls.none"), ""))
        self.kind = choice(say("controls.kind"), kinds, kind)
        self.cct = slider(say("controls.colour_temperature"), "K", 6000, 2200, 8000, 100)
        self.colour = choice(say("controls.colour"), leds.colours(), "red")
        self.peak = slider(say("controls.peak_wavelength"), "nm", 625, 400, 720, 1)
        self._of_kind = {LedKind.WHITE: self.cct, LedKind.BY_COLOUR: self.colour, LedKind.BY_PEAK: self.peak}
        self.lumens = entry(say("controls.claimed_lumens"), "lm", lumens, say("controls.from_the_box"), live=True)
        self.message = notice()
        sliders = [typed(self.cct), self.colour, typed(self.peak)]
        self.box = widgets.VBox([heading(name), self.kind, *sliders, self.lumens, self.message])
        self.kind.observe(lambda _: self._show(), "value")
        self._show()

    def _show(self) -> None:
        for kind, control in self._of_kind.items():
            control.layout.display = "" if kind is self.kind.value else "none"
        self.lumens.layout.display = "" if self.kind.value else "none"

    def watch(self, work: Callable[..., None]) -> None:
        """Call something whenever a control changes."""
        for control in (self.kind, self.cct, self.colour, self.peak, self.lumens):
            control.observe(work, "value")

    def chosen(self) -> tuple[LedKind, float | str, float] | None:
        """Read the controls; what is wrong with them is said beside them."""
        show_message(self.message, None)
        if not self.kind.value:
            return None
        try:
            lumens = number(self.lumens, say("controls.claimed_lumens"), "lm", 0.1, 20000.0)
        except InputError as error:
            show_message(self.message, error)
            raise
        return self.kind.value, self._of_kind[self.kind.value].value, lumens


def led_name(kind: LedKind, value: float | str) -> Statement:
    """Name the LED that was chosen."""
    if kind is LedKind.WHITE:
        return say("controls.white_led", cct=value)
    if kind is LedKind.BY_COLOUR:
        return say("controls.coloured_led", colour=value)
    return say("controls.led_of_peak", peak=value)
