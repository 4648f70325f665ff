"""The circuit loop: a panel in which earth, wire and watts are moved, and volts, flasher and tell-tale answer."""

import ipywidgets as widgets

from lampkit.circuits import circuit_change, flashers, loads, tell_tale
from lampkit.circuits.circuit_change import LampCircuit
from lampkit.circuits.wiring import Wire
from lampkit.notebook import controls
from lampkit.page import circuit_pictures
from lampkit.statements import say

SUPPLY, TURN, REPEATER = 13.5, 25.0, 4.0
"""Battery with the engine running [V], and what a 21 W lamp and a 4 W repeater of a 12 V vehicle take there [W].
Source: the rated watts at 12 V, moved to 13.5 V as `sources.filament` does."""

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
        self.box = widgets.VBox(
            [
                controls.heading(say("circuit_loop.loop")),
                *settings,
                self.message,
                self.picture,
                self.words,
                controls.slider_names(),
            ]
        )
        self.box.add_class("lampkit-circuit-loop")
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
