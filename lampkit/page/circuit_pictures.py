"""A circuit drawn: its wiring in one state of the work, the current of each, and a loop with volts at its joints."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers
from lampkit.circuits.circuit_change import CircuitChange, LampCircuit
from lampkit.circuits.earth import Earth
from lampkit.circuits.flashers import FlasherKind
from lampkit.circuits.loads import LoadKind
from lampkit.circuits.tell_tale import Band, band
from lampkit.circuits.wiring import wire_resistance
from lampkit.errors import InputError
from lampkit.page.style import (
    BOLD,
    FAINT,
    LOOKS,
    MARGIN,
    MUTED,
    NARROW,
    PAPER,
    Drawing,
    box,
    drawing_svg,
    house_style,
    lettered,
    new_figure,
    numbered,
    round_numbers,
    shown,
    trace,
    write,
)
from lampkit.page.vehicle_findings import behaviour
from lampkit.plan import socket_voltages
from lampkit.plan.circuit_reports import CircuitReport
from lampkit.plan.socket_voltages import TELL_TALE_POWER
from lampkit.plan.stages import CircuitNow, LampNow, Lights, PartFitted, SideNow
from lampkit.statements import Statement, named, say
from lampkit.vehicle.vehicle import Vehicle

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# --- wiring ---------------------------------------------------------------------------------------------------------

UNIT = 48.0
"""Width of a unit of the sketch in those of the drawing, to which the symbols of the drawing library fit [1]."""

FEED, LEFT, RIGHT, DEVICE, NODE, EARTHED, WORDS = 0.7, 1.1, 0.3, 1.45, 1.6, 2.5, 2.95
"""Where feed, the wires of both sides, symbols, the joint of diodes, earths and words stand, in units from the left."""

LETTERS, TITLE = 26, 37
"""Letters that fit beside a symbol, and in the title [1]. Source: own measurement with the letters of the house."""

WIDE, SIZE = 343.0, 13.5
"""Width of a sketch and height of its letters: in a notebook on a phone, which leaves 305 px, they are 12 px high [1].
Source: own measurement."""

LINE, GAP = 0.34, 0.28
"""Height of a line of words and of what parts two things, in units."""

SYMBOL = 0.62
"""Size of a symbol over that in the drawing library [1]."""


@dataclass(frozen=True)
class Rung:
    """One thing on the sketch: which symbol, on which wire, and its words."""

    symbol: str
    words: tuple[str, ...]
    wire: float = FEED
    way: int = 1
    lamp: str = "lamp"

    @property
    def height(self) -> float:
        """How much room it takes, in units."""
        return max(len(self.words) * LINE, 1.6 if "tell-tale" in self.symbol else 0.7) + GAP


@dataclass
class Paper:
    """What is drawn on: the parts drawn, how far down it has come, the wires, and how far down each reaches."""

    y: float
    parts: list[str] = field(default_factory=list)
    wires: list[tuple[tuple[float, float], tuple[float, float]]] = field(default_factory=list)
    ends: dict[float, float] = field(default_factory=dict)


def wiring_sketch(vehicle: Vehicle, now: CircuitNow) -> Drawing:
    """Draw a circuit in one state of the work, from the battery down to the earth of each lamp.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    now : CircuitNow
        The circuit in that state; one whose lamps have unknown watts is drawn without lamps.

    Returns
    -------
    Drawing
        The sketch; a notebook shows it by itself.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> plan = lk.plan.make(van, draws=100)
    >>> sketch = lk.page.wiring_sketch(van, plan.work.circuits[0][0])
    >>> sketch.html.count("<svg")
    1
    """
    rungs = [*_trunk(vehicle, now), *_branches(vehicle, now)]
    title = say("page.sketch.title", circuit=now.circuit.name, stage=named(now.state.stage))
    lines = numbers.wrap(title, TITLE)
    paper = Paper(LINE * len(lines) + 1.5 * GAP)
    paper.parts += [lettered(6.0, 18.0 + UNIT * LINE * i, one, how=BOLD + ' font-size="15"')
                    for i, one in enumerate(lines)]  # fmt: skip
    for rung in rungs:
        _draw(paper, rung)
    wires = "".join(
        f"M{UNIT * x:.4g},{UNIT * y:.4g}L{UNIT * across:.4g},{UNIT * down:.4g}"
        for (x, y), (across, down) in paper.wires
    )
    drawn = (
        f'<g fill="none" stroke="currentColor" stroke-width="1.7" stroke-linecap="round"><path d="{wires}"/>',
        *(part for part in paper.parts if part.startswith("<g")),
        "</g>",
        *(part for part in paper.parts if not part.startswith("<g")),
    )
    told = [" ".join(rung.words) for rung in rungs if rung.words]
    words = say("page.sketch.described", title=title, things=told)
    return Drawing(drawing_svg((WIDE, UNIT * (paper.y + 0.5 * GAP)), words, drawn, letters=SIZE, most=440), words)


@cache
def _outline(name: str, length: float) -> str:
    """Draw a symbol of the drawing library from its left end to its right one over a length, as parts of an SVG."""
    from xml.etree import ElementTree

    import schemdraw
    from schemdraw import elements

    drawing = schemdraw.Drawing(canvas="svg", show=False)
    drawing.config(unit=1.2, inches_per_unit=UNIT / 72.0, color="currentColor", bgcolor="paper")
    element = getattr(elements, name)()
    drawing.add(element.scale(SYMBOL).endpoints((0.0, 0.0), (length, 0.0)) if length else element.at((0.0, 0.0)))
    parts = []
    for part in drawing.draw(show=False).getsvg():
        style = part.attrib.pop("style")
        if "fill:currentColor" in style:
            part.set("fill", "currentColor")
        elif "fill:paper" in style:
            part.set("fill", "var(--paper,var(--jp-layout-color0,#fefefe))")
        for key in ("d", "points"):
            if key in part.attrib:
                part.set(key, re.sub(r"-?\d+\.\d+", lambda found: f"{float(found[0]):.1f}", part.attrib[key]))
        parts.append(ElementTree.tostring(part, encoding="unicode"))
    return "".join(parts)


def differ(one: CircuitNow, other: CircuitNow) -> bool:
    """Tell whether a circuit is wired or lit otherwise in another state."""

    def drawn(now: CircuitNow) -> tuple[object, ...]:
        sources = tuple(lamp.source for side in now.sides for lamp in side.lamps)
        parts = now.state.parts if now.circuit.flasher is not None else frozenset[PartFitted]()
        return now.state.earth, sources, parts

    return bool(one.sides) and drawn(one) != drawn(other)


def rewired(one: CircuitNow, other: CircuitNow) -> bool:
    """Tell whether a circuit gets new parts in another state, not only other lamps."""
    if not other.sides or other.circuit.flasher is None:
        return False
    ballast = any(side.ballast for side in other.sides)
    return ballast or other.state.parts != one.state.parts


def _words(*said: object) -> tuple[str, ...]:
    return tuple(line for one in said for line in numbers.wrap(one, LETTERS))


def _trunk(vehicle: Vehicle, now: CircuitNow) -> Iterable[Rung]:
    """Battery, fuse, flasher, switch and wire, down to where the lamps branch off."""
    circuit, feed = now.circuit, socket_voltages.feed_of(vehicle, now.circuit)
    if vehicle.without_battery:
        yield Rung("generator", _words(say("page.sketch.generator", voltage=feed.supply_voltage)))
    else:
        fed = say("page.sketch.battery", voltage=feed.supply_voltage)
        yield Rung("battery", _words(fed, named_earth(now)), way=_sign(now))
    fuse = say("page.circuits.no_fuse") if circuit.fuse_mark == "none" else say("page.circuits.fuse_not_told")
    fitted = say("page.sketch.amperes", current=circuit.fuse) if circuit.fuse is not None else fuse
    yield Rung("wire" if circuit.fuse_mark == "none" else "fuse", _words(say("page.sketch.fuse", fuse=fitted)))
    flashing = [side for side in now.sides if side.side is not None]
    yield Rung("wire", _wire_words(feed, now.sides, circuit.wire_area is not None))
    if flashing:
        yield from _flasher(vehicle, now, flashing)
        yield Rung("turn switch", _words(say("page.sketch.turn_switch")))
    else:
        yield Rung("switch", _words(say("page.sketch.switch")))


def named_earth(now: CircuitNow) -> Statement:
    """Say which pole lies on earth."""
    return say("page.sketch.earth", earth=named(now.state.earth))


def _sign(now: CircuitNow) -> int:
    return 1 if now.state.earth is Earth.NEGATIVE else -1


def _wire_words(feed: LampCircuit, sides: Sequence[SideNow], known: bool) -> tuple[str, ...]:
    size = say("page.sketch.wire", size=feed.wire.size, length=feed.wire.length, known=known)
    if not sides:
        return _words(size)
    most = max(sides, key=lambda side: side.current)
    return _words(size, say("page.sketch.carries", current=most.current, drop=most.drop))


def _flasher(vehicle: Vehicle, now: CircuitNow, flashing: Sequence[SideNow]) -> Iterable[Rung]:
    new = PartFitted.FLASHER in now.state.parts
    fitted = None if now.circuit.flasher is None else FlasherKind(now.circuit.flasher)
    kind = FlasherKind.LOAD_INDEPENDENT if new else fitted
    told = say("page.sketch.flasher", kind=None if kind is None else named(kind))
    yield Rung("flasher", _words(told, *behaviour(flashing[0])[:1]))
    if kind is FlasherKind.LOAD_INDEPENDENT:
        yield Rung("flasher earth", _words(say("page.sketch.own_earth")))
    if now.circuit.tell_tale == "from the flasher":
        yield Rung("flasher lamp", _tell_tale_words(vehicle, now), FEED, _sign(now), _tell_tale_symbol(now))


def _branches(vehicle: Vehicle, now: CircuitNow) -> Iterable[Rung]:
    """The lamps, each from its wire to earth; the left side above the right one."""
    each = now.circuit.tell_tale == "one each side"
    flashing = any(side.side is not None for side in now.sides)
    for place, side in enumerate(now.sides):
        wire = {"left": LEFT, "right": RIGHT}.get(side.side or "", FEED)
        if flashing and side.side is None:
            continue  # what burns steadily hangs on a feed of its own
        for lamp in side.lamps:
            if not (flashing and lamp.tell_tale):
                yield _lamp(lamp, now, wire)
        for ohms in side.ballast:
            yield Rung("resistor", _words(say("page.sketch.ballast", resistance=ohms)), wire)
        if each and side.side is not None:
            yield Rung(_tell_tale_symbol(now), _tell_tale_words(vehicle, now), wire, _sign(now))
        if place == 0 and side.side is not None and now.circuit.tell_tale == "single between sides":
            diodes = PartFitted.DIODES in now.state.parts
            symbol = "tell-tale with diodes" if diodes else "tell-tale between"
            more = (say("page.sketch.diodes", band=named(band(now.state.earth))),) if diodes else ()
            words = (*_tell_tale_words(vehicle, now), *_words(*more))
            yield Rung(symbol, words, RIGHT, _diode_way(now), _tell_tale_symbol(now))


def _diode_way(now: CircuitNow) -> int:
    return 1 if band(now.state.earth) is Band.AWAY_FROM_FEEDS else -1


def _lamp(lamp: LampNow, now: CircuitNow, wire: float) -> Rung:
    known = {"source": lamp.source, "quantity": lamp.quantity}
    reads = say("page.sketch.reads", current=lamp.current, voltage=lamp.voltage, **known)
    if lamp.lights is Lights.NO:
        reads = say("page.sketch.dark", **known)
    # An LED points the way that the current goes, from plus to minus; one that stays dark points against it.
    way = -_sign(now) if lamp.lights is Lights.NO else _sign(now)
    return Rung(_symbol(lamp), _words(lamp.lamp, reads), wire, way)


def _symbol(lamp: LampNow) -> str:
    return "lamp" if lamp.kind is LoadKind.FILAMENT else "LED"


def _tell_tale_symbol(now: CircuitNow) -> str:
    return next((_symbol(lamp) for side in now.sides for lamp in side.lamps if lamp.tell_tale), "lamp")


def _tell_tale_words(vehicle: Vehicle, now: CircuitNow) -> tuple[str, ...]:
    own = [lamp for side in now.sides for lamp in side.lamps if lamp.tell_tale]
    if own:
        return _words(own[0].lamp, own[0].source)
    watts = now.circuit.tell_tale_power or TELL_TALE_POWER
    return _words(say("page.sketch.tell_tale", current=watts / vehicle.running_voltage))


def _draw(paper: Paper, rung: Rung) -> None:
    """Draw one thing below the last, and go down by its height."""
    top, bottom = paper.y, paper.y + rung.height
    middle = 0.5 * (top + bottom)

    def line(*points: tuple[float, float]) -> None:
        paper.wires.extend(pairwise(points))

    def down_to(wire: float, y: float) -> None:
        """Let a wire reach down to where it is needed."""
        line((wire, paper.ends.get(wire, top)), (wire, y))
        paper.ends[wire] = y

    def put(symbol: str, at: tuple[float, float], turned: int = 0, length: float = 0.0) -> None:
        turn = f" rotate({turned})" if turned else ""
        place = f"translate({UNIT * at[0]:.4g},{UNIT * at[1]:.4g}){turn}"
        paper.parts.append(f'<g transform="{place}">{_outline(symbol, round(length, 2))}</g>')

    def across(symbol: str, start: float, end: float, y: float, way: int = 1) -> None:
        put(symbol, (start if way > 0 else end, y), 0 if way > 0 else 180, end - start)

    def down(symbol: str, x: float, start: float, end: float) -> None:
        put(symbol, (x, start), 90, end - start)

    def earthed(y: float) -> None:
        put("Ground", (EARTHED, y))

    def case() -> None:
        """Draw both flanks of the flasher; its lid is drawn by its first row, its foot by the switch below."""
        for x in (FEED - 0.45, FEED + 0.45):
            line((x, top), (x, bottom))

    lamps = {"LED": "LED", "lamp": "Lamp2", "resistor": "Resistor"}
    if rung.symbol == "generator":
        across("SourceSin", FEED, EARTHED, middle)
        earthed(middle)
        paper.ends[FEED] = middle
    elif rung.symbol == "battery":
        across("BatteryCell", FEED, EARTHED, middle, rung.way)
        earthed(middle)
        between = 0.5 * (FEED + EARTHED)
        for x, sign in ((between - 0.4 * rung.way, "+"), (between + 0.4 * rung.way, "\N{MINUS SIGN}")):
            paper.parts.append(lettered(UNIT * x, UNIT * middle - 9.0, sign, "middle"))
        paper.ends[FEED] = middle
    elif rung.symbol in ("fuse", "switch", "wire", "flasher", "turn switch"):
        down_to(FEED, top)
        if rung.symbol == "wire":
            down_to(FEED, bottom)
        elif rung.symbol == "flasher":
            case()
            line((FEED - 0.45, top), (FEED + 0.45, top))
            paper.ends[FEED] = bottom
        elif rung.symbol == "turn switch":
            line((FEED - 0.45, top), (FEED + 0.45, top))
            put("SwitchSpdt2", (FEED, top), 90)
            paper.ends[LEFT] = paper.ends[RIGHT] = top + 1.0
        else:
            down("Fuse" if rung.symbol == "fuse" else "Switch", FEED, top, bottom)
            paper.ends[FEED] = bottom
    elif rung.symbol in ("flasher earth", "flasher lamp"):
        # The case of the flasher reaches down beside its second wire.
        case()
        if rung.symbol == "flasher lamp":
            across(lamps[rung.lamp], FEED + 0.45, EARTHED, middle, rung.way)
        else:
            line((FEED + 0.45, middle), (EARTHED, middle))
        earthed(middle)
        paper.ends[FEED] = bottom
    elif rung.symbol in lamps:
        down_to(rung.wire, middle)
        line((rung.wire, middle), (DEVICE, middle))
        across(lamps[rung.symbol], DEVICE, EARTHED, middle, rung.way)
        earthed(middle)
    elif rung.symbol == "tell-tale between":
        upper, lower = top + 0.2, bottom - 0.2
        down_to(LEFT, upper)
        down_to(RIGHT, lower)
        line((LEFT, upper), (DEVICE + 0.6, upper))
        down(lamps[rung.lamp], DEVICE + 0.6, upper, lower)
        line((DEVICE + 0.6, lower), (RIGHT, lower))
    elif rung.symbol == "tell-tale with diodes":
        upper, lower = top + 0.2, bottom - 0.2
        down_to(LEFT, upper)
        down_to(RIGHT, lower)
        for wire, y in ((LEFT, upper), (RIGHT, lower)):
            across("Diode", wire, NODE, y, rung.way)
        line((NODE, upper), (NODE, lower))
        across(lamps[rung.lamp], NODE, EARTHED, middle, rung.way)
        earthed(middle)
    first = UNIT * middle + 4.8 - 0.5 * UNIT * LINE * (len(rung.words) - 1)
    for i, words in enumerate(rung.words):
        paper.parts.append(lettered(UNIT * WORDS, first + UNIT * LINE * i, words))
    paper.y = bottom


# --- current --------------------------------------------------------------------------------------------------------


def currents(circuits: Sequence[CircuitReport]) -> "Figure":
    """Draw the current of each circuit before and after."""
    rows = [(c.circuit.name, c.change.current) for c in circuits]
    if not rows:
        raise InputError("no circuit was worked out", key="circuits", expected="lamps with watts on a circuit")
    step, above, line = 0.6, 0.36, 0.19
    height = round(above + step * len(rows) + 0.5, 2)
    most = 1.65 * max(float(current.max()) for _, current in rows)
    left, right = MARGIN, NARROW - MARGIN
    states = (say("page.chart.current.before"), say("page.chart.current.after"))
    bars: tuple[list[NDArray[np.float64]], list[NDArray[np.float64]]] = ([], [])
    rules = []
    with house_style():
        figure = new_figure(height)
        write(figure, MARGIN, height - 0.1, say("page.chart.current.title"), fontsize=11.5, fontweight="bold")
        y = height - above
        for name, current in rows:
            write(figure, left + 0.03, y - 0.04, name)
            for listed, value, state, middle in zip(bars, current.tolist(), states, (0.3, 0.3 + line), strict=True):
                end = left + (right - left) * value / most
                listed.append(box(left, y - middle - 0.07, end, y - middle + 0.07))
                words = say("page.chart.current.value", current=value, state=state)
                write(figure, end + 0.05, y - middle, words, va="center")
            y -= step
            rules.append(np.array([[left, y], [right, y]]))
        trace(figure, *rules[:-1], edgecolor=FAINT, linewidth=0.8)
        trace(figure, *bars[0], facecolor=FAINT, edgecolor=MUTED, linewidth=1.2, label="before")
        trace(figure, *bars[1], facecolor=PAPER, edgecolor=LOOKS[0][0], hatch=LOOKS[0][2], linewidth=1.2, label="after")
        ticks = round_numbers(0, most, 6)
        at = [(left + (right - left) * t / most, f"{t:g}") for t in ticks]
        numbered(figure, y, (left, right), at, say("page.chart.current.axis"))
    told = [
        say("page.chart.current.circuit", name=c.circuit.name, before=c.change.current[0], after=c.change.current[1])
        for c in circuits
    ]
    return shown(figure, say("page.chart.current.described", circuits=told))


# --- a loop ---------------------------------------------------------------------------------------------------------

LOOP, TALL, WEST, EAST, NORTH, SOUTH = 352.0, 236.0, 40.0, 300.0, 66.0, 186.0
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
    middle = 0.5 * (NORTH + SOUTH)
    glow = f'fill="#ffb000" fill-opacity="{max(0.0, min(1.0, light)):.2f}"'
    parts = [
        lettered(2, 15, say("page.loop.title", name=name, current=current), how=BOLD),
        # the wires of the loop; the way home is the body
        f'<path d="M{WEST:g},{middle - 12:g}V{NORTH:g}H66M104,{NORTH:g}H124M166,{NORTH:g}H190M280,{NORTH:g}H{EAST:g}'
        f'V{middle - 20:g}M{EAST:g},{middle + 20:g}V{SOUTH:g}H222M130,{SOUTH:g}H{WEST:g}V{middle + 12:g}" '
        'fill="none" stroke="currentColor" stroke-width="2.2"/>',
        # battery
        f'<path d="M{WEST - 18:g},{middle - 12:g}h36M{WEST - 9:g},{middle + 12:g}h18" stroke="currentColor" '
        'stroke-width="3"/>',
        # fuse
        f'<rect x="66" y="{NORTH - 8:g}" width="38" height="16" rx="3" fill="none" stroke="currentColor" '
        'stroke-width="2"/>'
        f'<path d="M66,{NORTH:g}h38" stroke="currentColor"/>',
        # switch
        f'<circle cx="126" cy="{NORTH:g}" r="3"/><circle cx="164" cy="{NORTH:g}" r="3"/>'
        f'<path d="M126,{NORTH:g}L164,{NORTH - 3:g}" stroke="currentColor" stroke-width="2.6"/>',
        # wire and way to earth, drawn as what they are to the current: resistances
        _resistance(190, 280, NORTH),
        _resistance(130, 222, SOUTH),
        # lamps
        f'<circle cx="{EAST:g}" cy="{middle:g}" r="20" {glow} stroke="currentColor" stroke-width="2.2"/>'
        f'<path d="M{EAST - 14:g},{middle - 14:g}l28,28m0,-28l-28,28" stroke="currentColor" stroke-width="1.2"/>',
        lettered(WEST + 24, middle + 4, say("page.loop.battery")),
        lettered(85, NORTH + 24, say("page.loop.fuse"), "middle"),
        lettered(145, NORTH + 24, say("page.loop.switch"), "middle"),
        lettered(235, NORTH + 24, say("page.loop.wire", length=circuit.wire.length), "middle"),
        lettered(EAST - 28, middle + 4, say("page.loop.lamps"), "end"),
        lettered(176, SOUTH + 24, say("page.loop.earth"), "middle"),
        lettered(LOOP - 4, TALL - 4, say("page.loop.across", voltage=voltage, light=light), "end"),
    ]
    for x, y, anchor, volts in (
        (WEST, NORTH - 12, "middle", supply),
        (178, NORTH - 14, "middle", switched),
        (EAST, NORTH - 12, "middle", feed),
        (EAST, SOUTH + 20, "middle", earth),
    ):
        parts.append(lettered(x, y, say("page.loop.volts", voltage=volts), anchor, BOLD))
    for x, y in ((WEST, NORTH), (178, NORTH), (EAST, NORTH), (EAST, SOUTH)):
        parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="4.2"/>')
    return Drawing(drawing_svg((LOOP, TALL), words, parts, letters=14.2, most=400), words)


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
