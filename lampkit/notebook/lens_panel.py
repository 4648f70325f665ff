"""The lens bench: a panel to try light sources behind a lens, with every number answering as a slider moves."""

from collections.abc import Sequence
from functools import lru_cache

import ipywidgets as widgets

from lampkit import conversion
from lampkit.conversion.assessment import Assessment
from lampkit.errors import InputError
from lampkit.lenses import changed_lens, coloured_lens
from lampkit.lenses.coloured_lens import Lens
from lampkit.notebook import controls
from lampkit.page import lamp_faces, live_pictures
from lampkit.rules import colours, rule_sets
from lampkit.sources import filament_lamps
from lampkit.sources.light_source import LightSource
from lampkit.statements import Statement, say
from lampkit.uncertainty import sampling

DRAWS = 400
"""Draws behind the intervals of the panel: few enough to keep up with a moving slider [1]. Source: own measurement."""


@lru_cache(maxsize=256)
def lens_as_set(
    colour: str,
    *,
    material: str = "plastic",
    edge: float | None = None,
    dye_strength: float | None = None,
    thickness_ratio: float = 1.0,
) -> Lens:
    """Give a lens of which the colour is known, with its edge or its dye set, in another thickness.

    Parameters
    ----------
    colour : str
        'red', 'amber', 'clear', 'green' or 'blue'.
    material : {'plastic', 'old glass', 'unknown'}
        The material.
    edge : float, optional [nm]
        Most likely edge wavelength of a red or amber lens; its spread stays as believed.
    dye_strength : float, optional [1]
        Most likely strength of the dye of a green or blue lens; its spread stays as believed.
    thickness_ratio : float [1]
        Thickness over the usual thickness.

    Returns
    -------
    Lens
        The lens.

    Raises
    ------
    InputError
        The colour is unknown, the lens has no such quantity, or a value is outside what such a lens can have.

    Examples
    --------
    >>> import lampkit as lk
    >>> set_by_hand = lk.notebook.lens_as_set("red", edge=610.0)
    >>> [belief.typical for belief in set_by_hand.beliefs if belief.name == "edge wavelength"]
    [610.0]
    """
    lens = coloured_lens.load(colour, material=material, name=f"{colour} lens")
    beliefs = lens.beliefs
    for name, value in (("edge wavelength", edge), ("dye strength", dye_strength)):
        if value is not None:
            beliefs = sampling.set_belief(beliefs, name, typical=value, source="set on the bench")
    made = coloured_lens.of_model(lens.name, colour, lens.model, beliefs, material, lens.notes)
    return made if thickness_ratio == 1.0 else changed_lens.thicker(made, thickness_ratio)


class LensBench:
    """The panel: choose a filament lamp, a lens and one or two LEDs, and see what comes out."""

    def __init__(self, colour: str = "red") -> None:
        self.colour = controls.choice(say("lens_bench.lens_colour"), coloured_lens.COLOURS, colour)
        self.material = controls.choice(say("lens_bench.lens_material"), tuple(coloured_lens.SUBSTANCE))
        self.edge = controls.slider(say("lens_bench.edge_wavelength"), "nm", 598, 586.5, 625, 0.5, 1)
        self.dye = controls.slider(say("lens_bench.dye_strength"), "1", 1.0, 0.3, 3.0, 0.05, 2)
        self.thickness = controls.slider(say("lens_bench.thickness"), "1", 1.0, 0.25, 3.0, 0.05, 2)
        self.function = controls.choice(say("lens_bench.function"), ("",))
        self.rules = controls.choice(say("lens_bench.rules"), rule_sets.of_the_road())
        self.old = controls.choice(say("lens_bench.filament_lamp"), controls.filament_choices(), ("P21W", None, 12.0))
        self.volts = controls.entry(say("lens_bench.voltage"), "V", "13.5", live=True)
        self.volts_message, self.message, self.stale = (controls.notice() for _ in range(3))
        self.first = controls.SourceControls("LED 1", kind=controls.LedKind.WHITE, lumens="420")
        self.second = controls.SourceControls("LED 2", kind=controls.LedKind.BY_COLOUR, lumens="110", optional=True)
        self.faces, self.picture, self.numbers, self.code = (controls.page() for _ in range(4))
        self.assessment: Assessment | None = None
        self._working = False
        self._fit_lens()
        self.colour.observe(lambda _: self._fit_lens(), "value")
        self.material.observe(lambda _: self._fit_lens(), "value")
        self.rules.observe(lambda _: self._fit_function(), "value")
        update = controls.guarded(self.message, self.update)
        lens = [self.colour, self.material, self.edge, self.dye, self.thickness]
        lamp = [self.old, self.volts, self.function, self.rules]
        for control in (*lens, *lamp):
            control.observe(update, "value")
        for led in (self.first, self.second):
            led.watch(update)
        settings = widgets.VBox(
            [
                controls.heading(say("lens_bench.lens")),
                self.colour, self.material, *map(controls.typed, (self.edge, self.dye, self.thickness)),
                controls.heading(say("lens_bench.lamp_as_it_was")),
                self.old, self.volts, self.volts_message, self.function, self.rules,
                self.first.box, self.second.box,
            ],
        )  # fmt: skip
        self.seen = widgets.VBox([self.message, self.stale, self.faces])
        self.rest = widgets.VBox([self.picture, self.numbers, self.code])
        for part, name in ((settings, "controls"), (self.seen, "faces"), (self.rest, "rest")):
            part.add_class(f"lampkit-bench-{name}")
        for drawn in (self.faces, self.picture, self.numbers, self.code):
            drawn.add_class("lampkit-drawn")
        bench = widgets.Box([self.seen, settings, self.rest])
        bench.add_class("lampkit-bench")
        self.box = controls.panel("lens-bench", bench, look="bench_look.html")
        update()

    def _fit_lens(self) -> None:
        """Show the controls that a lens of this colour has, with the limits that its beliefs set."""
        colour = self.colour.value
        self._working = True
        try:
            held = {b.name: b for b in coloured_lens.load(colour, material=self.material.value).beliefs}
            edge = held.get("edge wavelength")
            self.edge.layout.display = "" if edge else "none"
            self.dye.layout.display = "" if "dye strength" in held else "none"
            if edge:
                # The upper limit moves first where the new range lies above the old one.
                self.edge.max = max(self.edge.max, edge.high)
                self.edge.min, self.edge.max = edge.low, edge.high
                self.edge.value = edge.typical
        finally:
            self._working = False
        self._fit_function()

    def _fit_function(self) -> None:
        """Offer the functions that the rules let a lens of this colour serve, and keep the one that was chosen."""
        listed = colours.functions_behind(self.colour.value, self.rules.value)
        options = (*((name, name) for name in listed), (str(say("controls.none")), ""))
        if tuple(self.function.options) != options:
            chosen, self._working = self.function.value, True
            try:
                self.function.options = options
                self.function.value = chosen if chosen in listed else options[0][1]
            finally:
                self._working = False

    def _mark(self, *, out_of_date: bool) -> None:
        """Pale what is shown while it is of the last good values, and say so."""
        for part in (self.seen, self.rest):
            (part.add_class if out_of_date else part.remove_class)("lampkit-out-of-date")
        self.stale.value = controls.filled("out_of_date.html") if out_of_date else ""

    def lens(self) -> Lens:
        """Make the lens that the controls describe."""
        return lens_as_set(**self._lens_settings())

    def _lens_settings(self) -> dict:
        colour = self.colour.value
        settings = {"colour": colour, "material": self.material.value}
        held = {belief.name for belief in coloured_lens.load(colour, material=self.material.value).beliefs}
        if "edge wavelength" in held:
            settings["edge"] = self.edge.value
        elif "dye strength" in held:
            settings["dye_strength"] = self.dye.value
        return {**settings, "thickness_ratio": round(self.thickness.value, 4)}

    def _filament(self) -> tuple[LightSource, str]:
        designation, part, rated = self.old.value
        controls.show_message(self.volts_message, None)
        try:
            volts = controls.number(self.volts, say("lens_bench.voltage"), "V")
            made = _filament(designation, volts, part, rated)
        except InputError as error:
            controls.show_message(self.volts_message, error)
            raise
        more = f', part="{part}"' if part else ""
        return made, f'lk.sources.filament("{designation}", {volts:g}{more}, rated_voltage={rated:g})'

    def update(self) -> None:
        """Read the controls, assess, and show picture and numbers."""
        if self._working:
            return
        try:
            lens, (old, old_code) = self.lens(), self._filament()
            chosen = [(box, box.chosen()) for box in (self.first, self.second)]
        except InputError:
            # What is wrong is said beside its box, and once.
            self._mark(out_of_date=True)
            return
        self._mark(out_of_date=False)
        leds = [(controls.led(*c, box.name), *c) for box, c in chosen if c is not None]
        function = self.function.value or None
        assessed = conversion.assess(
            old, [led[0] for led in leds], lens, function=function, rules=self.rules.value, draws=DRAWS
        )
        designation, part, _ = self.old.value
        names = [
            say("page.filament", name=controls.filament_name(designation, part)),
            *(controls.led_name(kind, value) for _, kind, value, _ in leds),
        ]
        self.assessment = assessed
        self.faces.value = controls.filled(
            "faces.html", drawing=lamp_faces.faces_in_row(assessed, [str(name) for name in names])
        )
        self.picture.value = live_pictures.through_lens(
            [old, *(led[0] for led in leds)], lens, [str(name) for name in names]
        )
        self.numbers.value = numbers(assessed, names)
        self.code.value = _code(self._lens_settings(), old_code, leds, function, self.rules.value)


@lru_cache(maxsize=64)
def _filament(designation: str, volts: float, part: str | None, rated: float) -> LightSource:
    return filament_lamps.filament(designation, volts, part=part, rated_voltage=rated)


def numbers(assessment: Assessment, names: Sequence[Statement]) -> str:
    """Write the numbers of an assessment as a table with one column a light source."""
    return controls.filled("lens_numbers.html", job=assessment, names=names, swatch=live_pictures.swatch)


def _code(lens: dict, old: str, leds: list, function: str | None, rules: str) -> str:
    settings = ", ".join(f"{k}={v!r}" for k, v in lens.items() if k != "colour")
    calls = []
    for led, kind, value, lumens in leds:
        shape = {
            controls.LedKind.WHITE: f"white_led({value}",
            controls.LedKind.BY_COLOUR: f'coloured_led("{value}"',
            controls.LedKind.BY_PEAK: f"coloured_led(peak={value}",
        }[kind]
        calls.append(f'    lk.sources.{shape}, luminous_flux={lumens:g}, name="{led.name}"),')
    lines = [
        f'lens = lk.notebook.lens_as_set("{lens["colour"]}", {settings})',
        f"old = {old}",
        "new = [",
        *calls,
        "]",
        f"lk.conversion.assess(old, new, lens, function={function!r}, rules={rules!r}, draws={DRAWS})",
    ]
    return controls.filled("code.html", code="\n".join(lines))


def lens_bench(colour: str = "red") -> widgets.VBox:
    """Open the lens bench.

    Parameters
    ----------
    colour : str
        Colour of the lens at first.

    Returns
    -------
    VBox
        The panel, which shows itself when it is the last line of a cell.

    Raises
    ------
    InputError
        There is no lens of that colour.

    Examples
    --------
    >>> import lampkit as lk
    >>> type(lk.notebook.lens_bench("amber")).__name__
    'VBox'
    """
    if colour not in coloured_lens.COLOURS:
        raise InputError(
            f"there is no {colour} lens", key="colour", expected=f"one of {', '.join(coloured_lens.COLOURS)}"
        )
    return LensBench(colour).box
