"""A wiring sketch of a circuit in one state of the work: volts, amperes, wire and fuse, and which way round."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from lampkit.circuits.circuit_change import LampCircuit
from lampkit.circuits.earth import Earth
from lampkit.circuits.feed_diodes import Band, band
from lampkit.circuits.flashers import FlasherKind
from lampkit.circuits.loads import LoadKind
from lampkit.page.style import INK, PAPER, axes_at, house_style, shown, write
from lampkit.page.work_findings import behaviour
from lampkit.plan import socket_voltages
from lampkit.plan.circuit_needs import TELL_TALE_POWER
from lampkit.plan.stages import CircuitNow, LampNow, Lights, PartFitted, SideNow
from lampkit.statements import Statement, named, say
from lampkit.vehicle.vehicle import Vehicle

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

UNIT = 0.5
"""Inches of the sketch to which the symbols of the drawing library fit at their own size [1]."""

FEED, LEFT, RIGHT, DEVICE, NODE, EARTHED, WORDS = 0.7, 1.1, 0.3, 1.45, 1.6, 2.5, 2.95
"""Where feed, the wires of both sides, symbols, the joint of diodes, earths and words stand, in units from the left."""

LETTERS, TITLE = 32, 42
"""Letters that fit beside a symbol, and in the title [1]. Source: own measurement with the letters of the house."""

WIDE = 4.0
"""Width of a sketch in inches: on a phone, and two beside each other on paper, its letters stay nearly whole [1].
Source: own judgement."""

LINE, GAP = 0.34, 0.28
"""Height of a line of words and of what parts two things, in units."""


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
    """What is drawn on: the drawing of the library, the axes, and how far down it has come."""

    drawing: Any
    axes: "Axes"
    y: float
    wires: list[tuple[tuple[float, float], tuple[float, float]]] = field(default_factory=list)
    ends: dict[float, float] = field(default_factory=dict)


def wiring_sketch(vehicle: Vehicle, now: CircuitNow) -> "Figure":
    """Draw a circuit in one state of the work, from the battery down to the earth of each lamp.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle.
    now : CircuitNow
        The circuit in that state; one whose lamps have unknown watts is drawn without lamps.

    Returns
    -------
    Figure
        The sketch.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> plan = lk.plan.make(van, draws=100)
    >>> sketch = lk.page.wiring_sketch(van, plan.work.circuits[0][0])
    >>> len(sketch.axes)
    1
    """
    import schemdraw

    rungs = [*_trunk(vehicle, now), *_branches(vehicle, now)]
    from matplotlib.collections import LineCollection
    from matplotlib.figure import Figure

    title = wrap(str(_title(now)), TITLE)
    tall = sum(rung.height for rung in rungs) + LINE * len(title) + 3 * GAP
    with house_style():
        figure = Figure(figsize=(WIDE, tall * UNIT))
        write(figure, 0.1, tall * UNIT - 0.08, "\n".join(title), fontsize=11.5, fontweight="bold")
        axes = axes_at(figure, 0.0, 0.0, WIDE, tall * UNIT)
        axes.set_axis_off()
        drawing = schemdraw.Drawing(canvas=axes, show=False)
        drawing.config(unit=1.2, fontsize=10, lw=1.3, color=INK, bgcolor=PAPER, font="DejaVu Sans")
        paper = Paper(drawing, axes, tall - LINE * len(title) - 2 * GAP)
        for rung in rungs:
            _draw(paper, rung, Earth(now.state.earth))
        drawing.draw(show=False)
        axes.add_collection(LineCollection(paper.wires, colors=INK, linewidths=1.3, capstyle="round", zorder=2))
        axes.set_xlim(0.0, WIDE / UNIT)
        axes.set_ylim(0.0, tall)
    return shown(figure, describe_wiring(vehicle, now))


def describe_wiring(vehicle: Vehicle, now: CircuitNow) -> Statement:
    """Say in words what `wiring_sketch` shows."""
    told = [" ".join(rung.words) for rung in (*_trunk(vehicle, now), *_branches(vehicle, now)) if rung.words]
    return say("page.sketch.described", title=_title(now), things=told)


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


def _title(now: CircuitNow) -> Statement:
    return say("page.sketch.title", circuit=now.circuit.name, stage=named(now.state.stage))


# --- what stands on it ----------------------------------------------------------------------------------------------


def _words(*said: object) -> tuple[str, ...]:
    return tuple(line for one in said for line in wrap(str(one), LETTERS))


def _trunk(vehicle: Vehicle, now: CircuitNow) -> Iterable[Rung]:
    """Battery, fuse, flasher, switch and wire, down to where the lamps branch off."""
    circuit, feed = now.circuit, socket_voltages.feed_of(vehicle, now.circuit)
    yield Rung(
        "battery", _words(say("page.sketch.battery", voltage=feed.supply_voltage), named_earth(now)), way=_sign(now)
    )
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
    kind = FlasherKind.LOAD_INDEPENDENT if new else FlasherKind(now.circuit.flasher)
    yield Rung("flasher", _words(say("page.sketch.flasher", kind=named(kind)), *behaviour(flashing[0])[:1]))
    if kind is FlasherKind.LOAD_INDEPENDENT:
        yield Rung("flasher earth", _words(say("page.sketch.own_earth")))
    if now.circuit.tell_tale == "from the flasher":
        yield Rung("flasher lamp", _tell_tale_words(vehicle, now), FEED, _sign(now), _tell_tale_symbol(now))


def _branches(vehicle: Vehicle, now: CircuitNow) -> Iterable[Rung]:
    """The lamps, each from its wire to earth; the left side above the right one."""
    if not now.sides:
        yield Rung("nothing", _words(say("page.work.no_watts", sources=now.without_watts)))
        return
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


# --- how it is drawn ------------------------------------------------------------------------------------------------


def _draw(paper: Paper, rung: Rung, earth: Earth) -> None:
    """Draw one thing below the last, and go down by its height."""
    import schemdraw.elements as elm

    top, bottom = paper.y, paper.y - rung.height
    middle = 0.5 * (top + bottom)

    def line(*points: tuple[float, float]) -> None:
        paper.wires.extend(pairwise(points))

    def down_to(wire: float, y: float) -> None:
        """Let a wire reach down to where it is needed."""
        line((wire, paper.ends.get(wire, top)), (wire, y))
        paper.ends[wire] = y

    def across(symbol: Any, start: tuple[float, float], end: tuple[float, float], way: int = 1) -> None:
        ends = (start, end) if way > 0 else (end, start)
        paper.drawing.add(symbol.scale(0.62).endpoints(*ends))

    def earthed(y: float) -> None:
        paper.drawing.add(elm.Ground().scale(0.62).at((EARTHED, y)))

    def case() -> None:
        """Draw both flanks of the flasher; its lid is drawn by its first row, its foot by the switch below."""
        for x in (FEED - 0.45, FEED + 0.45):
            line((x, top), (x, bottom))

    def lamp(kind: str) -> Any:
        return elm.LED() if kind == "LED" else elm.Lamp2()

    if rung.symbol == "battery":
        across(elm.BatteryCell(), (FEED, middle), (EARTHED, middle), rung.way)
        earthed(middle)
        between = 0.5 * (FEED + EARTHED)
        for x, sign in ((between - 0.4 * rung.way, "+"), (between + 0.4 * rung.way, "\N{MINUS SIGN}")):
            paper.axes.text(x, middle + 0.28, sign, ha="center", va="center", fontsize=10, color=INK)
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
            paper.drawing.add(elm.SwitchSpdt2().at((FEED, top)).theta(-90))
            paper.ends[LEFT] = paper.ends[RIGHT] = top - 1.0
        else:
            across(elm.Fuse() if rung.symbol == "fuse" else elm.Switch(), (FEED, top), (FEED, bottom))
            paper.ends[FEED] = bottom
    elif rung.symbol in ("flasher earth", "flasher lamp"):
        # The case of the flasher reaches down beside its second wire.
        case()
        if rung.symbol == "flasher lamp":
            across(lamp(rung.lamp), (FEED + 0.45, middle), (EARTHED, middle), rung.way)
        else:
            line((FEED + 0.45, middle), (EARTHED, middle))
        earthed(middle)
        paper.ends[FEED] = bottom
    elif rung.symbol in ("lamp", "LED", "resistor"):
        down_to(rung.wire, middle)
        symbol = elm.Resistor() if rung.symbol == "resistor" else lamp(rung.symbol)
        line((rung.wire, middle), (DEVICE, middle))
        across(symbol, (DEVICE, middle), (EARTHED, middle), rung.way)
        earthed(middle)
    elif rung.symbol == "tell-tale between":
        upper, lower = top - 0.2, bottom + 0.2
        down_to(LEFT, upper)
        down_to(RIGHT, lower)
        line((LEFT, upper), (DEVICE + 0.6, upper))
        across(lamp(rung.lamp), (DEVICE + 0.6, upper), (DEVICE + 0.6, lower))
        line((DEVICE + 0.6, lower), (RIGHT, lower))
    elif rung.symbol == "tell-tale with diodes":
        upper, lower = top - 0.2, bottom + 0.2
        down_to(LEFT, upper)
        down_to(RIGHT, lower)
        for wire, y in ((LEFT, upper), (RIGHT, lower)):
            across(elm.Diode(), (wire, y), (NODE, y), rung.way)
        line((NODE, upper), (NODE, lower))
        across(lamp(rung.lamp), (NODE, middle), (EARTHED, middle), rung.way)
        earthed(middle)
    _write(paper, rung.words, middle)
    paper.y = bottom


def _write(paper: Paper, words: Sequence[str], middle: float) -> None:
    if words:
        paper.axes.text(
            WORDS, middle, "\n".join(words), va="center", ha="left", fontsize=10, linespacing=1.15, color=INK
        )
