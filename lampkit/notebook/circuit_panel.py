"""Circuits with sliders: the loop with its volts, an LED that glows, an earth that two share; and the fault finder."""

from collections.abc import Callable
from pathlib import Path

import ipywidgets as widgets

from lampkit.circuits import circuit_change, fault_finding, flashers, loads, network, tell_tale
from lampkit.circuits.circuit_change import LampCircuit
from lampkit.circuits.fault_finding import Measurement, Suspect, Symptom
from lampkit.circuits.wiring import Wire
from lampkit.errors import InputError
from lampkit.notebook import controls
from lampkit.page import circuit_pictures
from lampkit.plan import faults
from lampkit.statements import Statement, named, say
from lampkit.vehicle import vehicle
from lampkit.vehicle.vehicle import Vehicle

SUPPLY, TURN, REPEATER = 13.5, 25.0, 4.0
"""Battery with the engine running [V], and what a 21 W lamp and a 4 W repeater of a 12 V vehicle take there [W].
Source: the rated watts at 12 V, moved to 13.5 V as `sources.filament` does."""

ENGINE_OFF = 12.6
"""A charged battery at rest [V]. Source: common practice, no source."""

REPEATER_SHARE = 0.106
"""Watts of the repeater's LED over those of a turn lamp's LED [1]. Source: an assumption."""


class CircuitLoop:
    """The panel: one side of the turn lamps, with its filaments and with LEDs."""

    def __init__(self) -> None:
        self.earth = controls.slider(say("circuit_loop.earth"), "ohm", 0.1, 0.0, 1.0, 0.01, 2)
        self.length = controls.slider(say("circuit_loop.length"), "m", 7.0, 1.0, 20.0, 0.5, 1)
        self.watts = controls.slider(say("circuit_loop.watts"), "W", 8.5, 1.0, 21.0, 0.5, 1)
        self.message = controls.notice()
        self.picture, self.words = controls.page(), controls.page()
        update = controls.guarded(self.message, self.update)
        for slider in (self.earth, self.length, self.watts):
            slider.observe(update, "value")
        settings = [controls.typed(slider) for slider in (self.earth, self.length, self.watts)]
        head = controls.heading(say("circuit_loop.loop"))
        self.box = controls.panel("circuit-loop", head, *settings, self.message, self.picture, self.words)
        update()

    def update(self) -> None:
        """Work the circuit out, draw it, and say what follows."""
        circuit = LampCircuit(
            "turn",
            supply_voltage=SUPPLY,
            wire=Wire("1.0 mm2", length=self.length.value),
            contact_resistance=0.05,
            earth_resistance=self.earth.value,
            fuse=10,
            switch_rating=6,
        )
        watts = {"front turn": TURN, "rear turn": TURN, "side repeater": REPEATER}
        old = [loads.filament_load(power, SUPPLY, name=name) for name, power in watts.items()]
        shares = {"front turn": 1.0, "rear turn": 1.0, "side repeater": REPEATER_SHARE}
        new = [
            loads.led_load(share * self.watts.value, SUPPLY, feed="resistor", name=f"{name} LED")
            for name, share in shares.items()
        ]
        change = circuit_change.before_and_after(circuit, old, new)
        self.picture.value = controls.filled("drawing.html", drawing=circuit_pictures.both_loops(circuit, change))
        thermal, steady = flashers.flasher("thermal series"), flashers.flasher("load-independent")
        between = loads.filament_load(REPEATER, SUPPLY, name="tell-tale")
        flashing = [
            say("circuit_loop.flasher_old", state=flashers.flasher_state(thermal, old, SUPPLY)),
            say("circuit_loop.flasher_new", state=flashers.flasher_state(thermal, new, SUPPLY)),
            say("circuit_loop.flasher_cure", state=flashers.flasher_state(steady, new, SUPPLY)),
        ]
        glowing = [
            say("circuit_loop.flasher_old", state=tell_tale.tell_tale_state(SUPPLY, between, old)),
            say("circuit_loop.flasher_new", state=tell_tale.tell_tale_state(SUPPLY, between, new)),
        ]
        parts = (
            (say("circuit_loop.wiring"), change.said),
            (say("circuit_loop.flasher"), flashing),
            (say("circuit_loop.tell_tale"), glowing),
        )
        self.words.value = controls.filled("headed_sentences.html", parts=parts)


def circuit_loop() -> widgets.Box:
    """Open the circuit loop.

    Returns
    -------
    Box
        The panel, which shows itself when it is the last line of a cell.

    Examples
    --------
    >>> import lampkit as lk
    >>> type(lk.notebook.circuit_loop()).__name__
    'VBox'
    """
    return CircuitLoop().box


def _answering(name: str, sliders: tuple[widgets.FloatSlider, ...], answer: Callable[..., Statement]) -> widgets.VBox:
    """Put sliders above one sentence that answers as they move."""
    message, words = controls.notice(), controls.page()

    def update() -> None:
        words.value = controls.filled("plain.html", words=answer(*(slider.value for slider in sliders)))

    told = controls.guarded(message, update)
    for slider in sliders:
        slider.observe(told, "value")
    told()
    return controls.panel(name, *(controls.typed(slider) for slider in sliders), message, words)


def leak_bench() -> widgets.VBox:
    """Open sliders for an LED that glows when it is off: the leak, the LED's watts, and a resistor across it.

    Returns
    -------
    VBox
        The panel, which shows itself when it is the last line of a cell.

    Examples
    --------
    >>> import lampkit as lk
    >>> type(lk.notebook.leak_bench()).__name__
    'VBox'
    """

    def answer(leak: float, watts: float, resistor: float) -> Statement:
        led = loads.led_load(watts, SUPPLY, name=str(say("circuit_loop.tail_led")))
        return network.leak(ENGINE_OFF, 1000.0 * leak, led, resistor).said

    sliders = (
        controls.slider(say("circuit_loop.leak"), "kohm", 5.0, 0.5, 50.0, 0.5, 1),
        controls.slider(say("circuit_loop.led_watts"), "W", 2.0, 0.2, 10.0, 0.1, 1),
        controls.slider(say("circuit_loop.resistor"), "ohm", 1000.0, 100.0, 10000.0, 100.0),
    )
    return _answering("leak-bench", sliders, answer)


def earth_bench() -> widgets.VBox:
    """Open sliders for a tail and a stop lamp on one tired earth, and how much light the tail lamp keeps.

    Returns
    -------
    VBox
        The panel, which shows itself when it is the last line of a cell.

    Examples
    --------
    >>> import lampkit as lk
    >>> type(lk.notebook.earth_bench()).__name__
    'VBox'
    """

    def answer(earth: float, tail: float, stop: float) -> Statement:
        watched, joining = loads.filament_load(tail, SUPPLY), loads.filament_load(stop, SUPPLY)
        left = float(network.shared_earth(ENGINE_OFF, earth, watched, [joining]))
        return say("circuit_loop.light_kept", share=left)

    sliders = (
        controls.slider(say("circuit_loop.earth"), "ohm", 0.5, 0.0, 3.0, 0.05, 2),
        controls.slider(say("circuit_loop.tail_watts"), "W", 5.0, 2.0, 10.0, 0.5, 1),
        controls.slider(say("circuit_loop.stop_watts"), "W", 25.0, 10.0, 30.0, 0.5, 1),
    )
    return _answering("earth-bench", sliders, answer)


SHOWN = 4
"""Suspects whose readings stand beside each other [1]. Source: own judgement: more do not fit a phone."""


class FaultFinder:
    """The panel."""

    def __init__(self, place: str | Path) -> None:
        self.place = controls.entry(say("vehicle_sheet.folder"), "", str(place))
        self.open = controls.button(say("vehicle_sheet.open"), "folder-open")
        self.open_message, self.message = controls.notice(), controls.notice()
        self.symptom = controls.choice(say("fault_finder.seen"), [(named(one), one) for one in Symptom])
        self.lamp = controls.choice(say("fault_finder.lamp"), [(say("fault_finder.any_lamp"), "")])
        self.answer = controls.page()
        self.vehicle: Vehicle | None = None
        self._opening = False
        controls.when_pressed(self.open, self.open_message, self._open)
        for control in (self.symptom, self.lamp):
            control.observe(controls.guarded(self.message, self._show), "value")
        top = widgets.VBox(
            [self.place, self.open, self.open_message, self.symptom, self.lamp, self.message],
            layout={"max_width": "560px", "width": "auto"},
        )
        self.box = controls.panel("fault-finder", top, self.answer)
        controls.guarded(self.open_message, self._open)()

    def _open(self) -> None:
        self.vehicle = None
        self.vehicle = vehicle.load(self.place.value.strip() or ".")
        self._opening = True
        lamps = [(lamp.name, lamp.name) for lamp in self.vehicle.lamps]
        self.lamp.options = [(str(say("fault_finder.any_lamp")), ""), *lamps]
        self.lamp.value = ""
        self._opening = False
        controls.show_message(self.message, None)
        self._show()

    def _show(self) -> None:
        if self._opening:
            return
        self.answer.value = ""
        if self.vehicle is None:
            raise InputError("no vehicle is open", remedy="open one above")
        found = faults.find_fault(self.symptom.value, self.vehicle, self.lamp.value or None)
        self.answer.value = controls.filled(
            "fault_answer.html",
            found=found,
            suspects=found.suspects,
            readings=readings(found.suspects[:SHOWN]),
            cautions=[named(one) for one in found.cautions],
        )


def readings(suspects: tuple[Suspect, ...]) -> list[tuple[Statement, list[Statement]]]:
    """List the measurements that differ between suspects, with what each would read.

    Source: as for `fault_finding.suspects`.
    """
    told = [
        (named(one), [fault_finding.reading_words(one, suspect.expected[one]) for suspect in suspects])
        for one in Measurement
    ]
    return [(what, cells) for what, cells in told if len({str(cell) for cell in cells}) > 1]


def fault_finder(place: str | Path = "library_van") -> widgets.Box:
    """Open the fault finder.

    Parameters
    ----------
    place : str or Path
        The folder of the vehicle.

    Returns
    -------
    Box
        The panel, which shows itself when it is the last line of a cell. What is wrong with the vehicle file stands
        in it.

    Examples
    --------
    >>> import lampkit as lk
    >>> type(lk.notebook.fault_finder("no_such_folder")).__name__
    'VBox'
    """
    return FaultFinder(place).box
