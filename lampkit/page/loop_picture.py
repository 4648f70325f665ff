"""A lamp circuit drawn as a loop: battery, fuse, switch, wire, lamps and the way to earth, with volts at each joint."""

from collections.abc import Sequence
from html import escape

import numpy as np

from lampkit.circuits.circuit_change import CircuitChange, LampCircuit
from lampkit.circuits.wiring import wire_resistance
from lampkit.page.style import Drawing
from lampkit.statements import Statement, say

WIDE, TALL, LEFT, RIGHT, TOP, BOTTOM = 520.0, 236.0, 56.0, 440.0, 66.0, 186.0
"""Size of a loop and where its four sides are, in units of the picture [1]."""


def joint_voltages(circuit: LampCircuit, current: float) -> tuple[float, ...]:
    """Give the volts at battery, lamps' feed and lamps' earth side, as a meter reads them against the earthed pole.

    Source: Kirchhoff's and Ohm's laws.
    """
    supply = circuit.supply_voltage
    after_contacts = supply - current * circuit.contact_resistance
    feed = after_contacts - current * float(wire_resistance(circuit.wire))
    return supply, after_contacts, feed, current * circuit.earth_resistance


def loop_picture(circuit: LampCircuit, change: CircuitChange, place: int) -> Drawing:
    """Draw a circuit as a loop with its old lamps (place 0) or its new ones (place 1).

    Source: the kit's own drawing.
    """
    current = float(change.current[place])
    supply, switched, feed, earth = joint_voltages(circuit, current)
    light = float(np.mean(change.light[place]))
    name = say("page.loop.new") if place else say("page.loop.old")
    told = [
        say("page.loop.joint", place=say("page.loop.battery"), voltage=supply),
        say("page.loop.joint", place=say("page.loop.switch"), voltage=switched),
        say("page.loop.joint", place=say("page.loop.lamps"), voltage=feed),
        say("page.loop.joint", place=say("page.loop.earth"), voltage=earth),
    ]
    voltage = float(change.voltage[place])
    words = say("page.loop.described", name=name, current=current, joints=told, voltage=voltage, light=light)
    middle = 0.5 * (TOP + BOTTOM)
    glow = f'fill="#ffb000" fill-opacity="{max(0.0, min(1.0, light)):.2f}"'
    parts = [
        f'<svg role="img" aria-label="{escape(str(words))}" viewBox="0 0 {WIDE:g} {TALL:g}" width="100%" '
        'style="display:block;max-width:600px" font-family="inherit" font-size="12.5" fill="currentColor">',
        _words(2, 15, say("page.loop.title", name=name, current=current), "start", bold=True),
        # the wires of the loop; the way home is the body
        f'<path d="M{LEFT:g},{middle - 12:g}V{TOP:g}H104M150,{TOP:g}H184M226,{TOP:g}H250M362,{TOP:g}H{RIGHT:g}'
        f'V{middle - 20:g}M{RIGHT:g},{middle + 20:g}V{BOTTOM:g}H306M214,{BOTTOM:g}H{LEFT:g}V{middle + 12:g}" '
        'fill="none" stroke="currentColor" stroke-width="2.2"/>',
        # battery
        f'<path d="M{LEFT - 18:g},{middle - 12:g}h36M{LEFT - 9:g},{middle + 12:g}h18" stroke="currentColor" '
        'stroke-width="3"/>',
        # fuse
        f'<rect x="104" y="{TOP - 8:g}" width="46" height="16" rx="3" fill="none" stroke="currentColor" '
        'stroke-width="2"/>'
        f'<path d="M104,{TOP:g}h46" stroke="currentColor"/>',
        # switch
        f'<circle cx="186" cy="{TOP:g}" r="3"/><circle cx="224" cy="{TOP:g}" r="3"/>'
        f'<path d="M186,{TOP:g}L224,{TOP - 3:g}" stroke="currentColor" stroke-width="2.6"/>',
        # wire and way to earth, drawn as what they are to the current: resistances
        _resistance(250, 362, TOP),
        _resistance(214, 306, BOTTOM),
        # lamps
        f'<circle cx="{RIGHT:g}" cy="{middle:g}" r="20" {glow} stroke="currentColor" stroke-width="2.2"/>'
        f'<path d="M{RIGHT - 14:g},{middle - 14:g}l28,28m0,-28l-28,28" stroke="currentColor" stroke-width="1.2"/>',
        _words(LEFT + 24, middle + 4, say("page.loop.battery"), "start"),
        _words(127, TOP + 24, say("page.loop.fuse"), "middle"),
        _words(205, TOP + 24, say("page.loop.switch"), "middle"),
        _words(306, TOP + 24, say("page.loop.wire", length=circuit.wire.length), "middle"),
        _words(RIGHT - 28, middle + 4, say("page.loop.lamps"), "end"),
        _words(260, BOTTOM + 24, say("page.loop.earth"), "middle"),
        _words(WIDE - 4, TALL - 4, say("page.loop.across", voltage=voltage, light=light), "end"),
    ]
    for x, y, anchor, volts in (
        (LEFT, TOP - 12, "middle", supply),
        (238, TOP - 14, "middle", switched),
        (RIGHT, TOP - 12, "middle", feed),
        (RIGHT, BOTTOM + 20, "middle", earth),
    ):
        parts.append(_words(x, y, say("page.loop.volts", voltage=volts), anchor, bold=True))
    for x, y in ((LEFT, TOP), (238, TOP), (RIGHT, TOP), (RIGHT, BOTTOM)):
        parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="4.2"/>')
    return Drawing("".join(parts) + "</svg>", words)


def both_loops(circuit: LampCircuit, change: CircuitChange) -> Drawing:
    """Draw the loop with the old lamps and with the new ones, side by side where there is room.

    Source: the kit's own drawing.
    """
    drawn: Sequence[Drawing] = [loop_picture(circuit, change, place) for place in (0, 1)]
    cells = "".join(f"<div>{one.html}</div>" for one in drawn)
    columns = "repeat(auto-fit,minmax(min(340px,100%),1fr))"
    html = f'<div style="display:grid;grid-template-columns:{columns};gap:6px 14px">{cells}</div>'
    return Drawing(html, drawn[1].words, say("page.loop.note"))


def _resistance(start: float, end: float, y: float) -> str:
    step = (end - start) / 12
    points = "".join(f"l{step:.2f},{rise:g}" for rise in (-7, 14, -14, 14, -14, 14, -14, 14, -14, 14, -14, 7))
    return f'<path d="M{start:g},{y:g}{points}" fill="none" stroke="currentColor" stroke-width="1.8"/>'


def _words(x: float, y: float, said: Statement, anchor: str, *, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}"{weight}>{escape(str(said))}</text>'
