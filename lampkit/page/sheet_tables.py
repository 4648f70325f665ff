"""The tables of the sheets: which findings stand in which column, with the unit in the heading."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from lampkit import numbers
from lampkit.conversion.suggestion import Verdict
from lampkit.page.findings import AlikeFindings, Assumption, Findings, shown_of
from lampkit.page.lamp_findings import LampFindings, SourceFindings, colour_words
from lampkit.page.reading_findings import RatioFindings, cause_rows
from lampkit.page.style import anchor, called, css
from lampkit.page.vehicle_findings import BoundPart, CheckAfterFitting, CircuitFindings
from lampkit.page.work_findings import CircuitStates, LampChange
from lampkit.plan.timing import SPEEDS, LampTiming
from lampkit.rules.colours import Boundary
from lampkit.statements import Statement, named, say

FROM_MEMORY = "from memory"
"""How a limit is known that was not compared with the printed rule."""


class Column(NamedTuple):
    """A column: its heading, and whether its words may run over several lines on paper."""

    heading: Statement
    long: bool = False
    strong: bool = False


class Row(NamedTuple):
    """A row: its cells, the first of which names it, and how it is marked."""

    cells: tuple[object, ...]
    mark: str = ""
    anchor: str = ""
    swatch: str = ""


class Table(NamedTuple):
    """A table of a sheet, and the style in which it is shown."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    style: str = "cards"


def what_to_fit(found: Findings) -> Table:
    """List each lamp with what is decided."""
    columns = (
        Column(say("page.column.lamp")),
        Column(say("page.column.verdict"), long=True, strong=True),
        Column(say("page.column.light_source"), long=True),
        Column(say("page.column.against_the_filament"), long=True),
        Column(say("page.column.colour"), long=True),
    )
    rows = []
    for group in found.groups:
        result, keeps = shown_of(group), group.first.decision.verdict is Verdict.KEEP
        verdict = say("page.fit.keep") if keeps else named(group.first.decision.verdict)
        light = "1" if keeps else numbers.interval(result.ratio)
        cells = (
            group.name,
            verdict,
            called(result.source),
            light,
            colour_words(group.first.sources[group.first.place]),
        )
        rows.append(Row(cells, anchor=anchor(group.name)))
    return Table(columns, tuple(rows))


def what_to_buy(found: Findings) -> Table:
    """List what to buy, with the total in the last row."""
    currency = found.plan.choice.currency
    columns = (
        Column(say("page.column.article")),
        Column(say("page.column.number")),
        Column(say("page.column.price_each", currency=currency)),
        Column(say("page.column.total", currency=currency)),
    )
    rows = []
    for one in found.shopping:
        each = "" if np.isnan(one.price) else numbers.fixed(one.price, 2)
        total = "" if np.isnan(one.total) else numbers.fixed(one.total, 2)
        rows.append(Row((one.article, one.number, each, total)))
    return Table(columns, (*rows[:-1], rows[-1]._replace(mark="total")), "cards figures")


def light(group: AlikeFindings, currency: str) -> Table:
    """List the light of each light source of a lamp, with its price."""
    columns = [
        Column(say("page.column.light")),
        Column(say("page.column.claimed")),
        Column(say("page.column.passes")),
        Column(say("page.column.k")),
        Column(say("page.column.against_filament")),
        Column(say("page.column.chance")),
        Column(say("page.column.to_buy")),
    ]
    priced = any(offer.price is not None for offer in group.lamp.candidates)
    if priced:
        columns.append(Column(say("page.column.price", currency=currency)))
    rows = []
    for source in group.first.sources:
        result, filament = source.result, source.is_filament
        price = None if source.offer is None else source.offer.price
        cells = [
            tagged_name(source),
            numbers.fixed(result.source.luminous_flux),
            numbers.percent(float(result.luminous_transmittance[1])),
            "1" if filament else numbers.interval(result.k),
            "1" if filament else numbers.interval(result.ratio),
            "" if filament else numbers.chance(result.chance),
            "" if filament else numbers.figure(result.lumens_to_buy),
        ]
        if priced:
            cells.append("" if price is None else numbers.fixed(price, 2))
        rows.append(Row(tuple(cells), mark=_mark(group.first, source)))
    return Table(tuple(columns), tuple(rows))


def colour_and_candela(group: AlikeFindings) -> Table:
    """List the colour of each light source of a lamp, and its candela against each limit."""
    columns = [Column(say("page.column.colour_and_candela"))]
    limited = group.assessment.colour_limit is not None
    if limited:
        columns += [Column(say("page.column.colour")), Column(say("page.column.inside"))]
    else:
        columns.append(Column(say("page.column.chromaticity")))
    axis = next((axis for axis in group.axes if axis.measured or axis.twin), None)
    if axis is not None:
        columns.append(Column(say("page.column.on_axis")))
    rows = []
    for place, source in enumerate(group.first.sources):
        cells: list[object] = [tagged_name(source)]
        if limited:
            cells += [_short_colour(source), numbers.chance(source.result.share_inside)]
        else:
            x, y = source.result.chromaticity
            cells.append(say("page.colour.chromaticity", x=float(x), y=float(y)))
        if axis is not None:
            cells.append(numbers.figures(axis.intervals[place]))
        rows.append(Row(tuple(cells), mark=_mark(group.first, source), swatch=css(source.result.chromaticity)))
    return Table(tuple(columns), tuple(rows))


def _short_colour(source: SourceFindings) -> Statement:
    place = source.result.colour
    if place is None or place.inside:
        return colour_words(source)
    return say("page.colour.past", past=[{"boundary": name, "margin": margin} for name, margin in place.past])


def _mark(lamp: LampFindings, source: SourceFindings) -> str:
    return "chosen" if lamp.fitted is source.result else ""


def tagged_name(source: SourceFindings) -> str:
    """Name a light source after the tag that stands for it in every chart."""
    return f"{source.tag}\N{EN SPACE}{called(source.result.source)}"


def circuits(found: Sequence[CircuitFindings]) -> Table:
    """List the circuits before and after."""
    columns = (
        Column(say("page.column.circuit")),
        Column(say("page.column.current")),
        Column(say("page.column.at_the_lamps")),
        Column(say("page.column.drop")),
        Column(say("page.column.light_lost")),
        Column(say("page.column.fuse_for_wire")),
        Column(say("page.column.fuse_fitted")),
    )
    return Table(columns, tuple(Row(_circuit(one)) for one in found))


def _circuit(found: CircuitFindings) -> tuple[object, ...]:
    wired, change = found.report.circuit, found.report.change
    told = say("page.circuits.no_fuse") if wired.fuse_mark == "none" else say("page.circuits.fuse_not_told")
    fitted = told if wired.fuse is None else numbers.general(wired.fuse)
    if change is None:
        return (wired.name, "", "", "", "", "", fitted)
    pairs = [_from_to(values.tolist(), 2) for values in (change.current, change.voltage, change.drop)]
    lost = [numbers.fixed(100.0 * float(change.light_lost[i].max())) for i in (0, 1)]
    fuse = numbers.general(change.fuse_state.most) if change.fuse_state.wire_known else ""
    return (wired.name, *pairs, f"{lost[0]} % → {lost[1]} %", fuse, fitted)


def _from_to(values: Sequence[float], decimals: int) -> str:
    return " → ".join(numbers.fixed(float(value), decimals) for value in values)


def states(found: Sequence[CircuitStates]) -> Table:
    """List the circuits as they are, on the way and as chosen."""
    columns = (
        Column(say("page.column.circuit")),
        Column(say("page.column.as_found"), long=True),
        Column(say("page.column.on_the_way"), long=True),
        Column(say("page.column.as_chosen"), long=True),
    )
    return Table(columns, tuple(Row(tuple(one)) for one in found))


def bound_parts(found: Sequence[BoundPart]) -> Table:
    """List the parts that are bound to the polarity, with what is done with each."""
    columns = (
        Column(say("page.column.part"), long=True),
        Column(say("page.column.bound")),
        Column(say("page.column.what_to_do"), long=True),
    )
    return Table(columns, tuple(Row(tuple(one)) for one in found), "cards bound")


def lamp_changes(found: Sequence[LampChange]) -> Table:
    """List the lamps in the order in which they are changed, with what their circuits read then."""
    columns = (
        Column(say("page.column.lamp"), long=True),
        Column(say("page.column.change"), long=True),
        Column(say("page.column.reads_then"), long=True),
    )
    return Table(columns, tuple(Row(tuple(one)) for one in found), "cards ordered")


def timings(found: Sequence[tuple[str, LampTiming]]) -> Table:
    """List rise, reaction and flash of each lamp."""
    columns = (
        Column(say("page.column.lamp")),
        Column(say("page.column.rise")),
        Column(say("page.column.led_rise")),
        Column(say("page.column.sooner")),
        Column(say("page.column.way", speed=SPEEDS[0])),
        Column(say("page.column.way", speed=SPEEDS[1])),
        Column(say("page.column.flash")),
    )
    rows = []
    for name, timing in found:
        low, middle, high = (numbers.fixed(1000.0 * float(t)) for t in timing.rise)
        gained, way, flash = "", ["", ""], ""
        if np.isfinite(timing.flash_share):
            flash = _from_to((timing.flash_share, timing.led_flash_share), 2)
        else:
            gained = " to ".join(numbers.fixed(1000.0 * float(t)) for t in timing.gained[[0, 2]])
            way = [" to ".join(numbers.figure(float(m)) for m in span[[0, 2]]) for span in timing.distance]
        rows.append(Row((name, f"{middle} ({low} to {high})", say("page.timing.led"), gained, *way, flash)))
    return Table(columns, tuple(rows))


def checklist(checks: Sequence[CheckAfterFitting]) -> Table:
    """List what to measure after fitting."""
    columns = (
        Column(say("page.column.check"), long=True),
        Column(say("page.column.to_do"), long=True),
        Column(say("page.column.to_expect"), long=True),
    )
    return Table(columns, tuple(Row(tuple(check)) for check in checks), "cards checks")


def boundaries(listed: Sequence[Boundary]) -> Table:
    """List the boundaries of a published colour, each with its source and how it is known."""
    columns = (
        Column(say("page.column.boundary")),
        Column(say("page.column.inside_when"), long=True),
        Column(say("page.column.source"), long=True),
        Column(say("page.column.known"), long=True),
    )
    rows = []
    for b in listed:
        known = say("page.limit.from_memory") if b.known == FROM_MEMORY else b.known
        rows.append(Row((b.name, b.inequality, b.source, known)))
    return Table(columns, tuple(rows))


def assumptions(listed: Sequence[Assumption]) -> Table:
    """List everything that was assumed, with its typical value, spread and source."""
    columns = (
        Column(say("page.column.quantity"), long=True),
        Column(say("page.column.of"), long=True),
        Column(say("page.column.typical")),
        Column(say("page.column.range")),
        Column(say("page.column.source"), long=True),
    )
    rows = []
    for one in listed:
        b = one.belief
        low, high = (float(v) for v in b.value([-1.96, 1.96]))
        names = ", ".join(one.owners)
        if not high > low:
            typical = say("page.assumption.exact", value=b.typical, unit=b.unit)
            rows.append(Row((b.name, names, typical, say("page.assumption.no_range"), b.source)))
            continue
        # Two digits of the width: more would claim to know the spread better than anyone does.
        decimals = max(0, 1 - int(np.floor(np.log10(high - low))))
        typical = say("page.assumption.typical", value=b.typical, decimals=decimals, unit=b.unit)
        width = say("page.assumption.range", low=low, high=high, decimals=decimals, unit=b.unit)
        rows.append(Row((b.name, names, typical, width, b.source)))
    return Table(columns, tuple(rows), "cards dense")


def ratios(listed: Sequence[RatioFindings]) -> Table:
    """List the measured ratios, beside the prediction where there is one."""
    columns = [
        Column(say("page.column.lamp")),
        Column(say("page.column.fair_ratio")),
        Column(say("page.column.naive")),
        Column(say("page.column.old_candela")),
        Column(say("page.column.new_candela")),
    ]
    columns.insert(2, Column(say("page.column.light_measured"), long=True))
    beside = any(one.finding is not None for one in listed)
    if beside:
        columns += [
            Column(say("page.column.predicted")),
            Column(say("page.column.normalised_error")),
        ]
    rows = []
    for number, one in enumerate(listed, start=1):
        r, f = one.ratio, one.finding
        cells: list[object] = [
            say("page.readings.numbered", number=number, lamp=r.lamp, new=r.new),
            one.words,
            r.light,
            numbers.figure(r.naive),
            numbers.figure(float(r.intensity_old[1])),
            numbers.figure(float(r.intensity_new[1])),
        ]
        if f is not None:
            cells += [numbers.interval(f.predicted), signed(f.agreement.normalised_error)]
        rows.append(Row(tuple(cells)))
    return Table(tuple(columns), tuple(rows))


def signed(number: float) -> str:
    """Write an E_n number; nothing where there is none."""
    return "" if np.isnan(number) else numbers.fixed(number, 2)


def causes(listed: Sequence[RatioFindings], start: int = 0) -> Table:
    """List what makes the ratios uncertain, a column a ratio."""
    columns = [Column(say("page.column.uncertainty"))]
    columns += [Column(say("page.column.ratio", number=start + i)) for i in range(1, len(listed) + 1)]
    rows = [Row((row.name, *(numbers.figure(100.0 * u) for u in row.uncertainties))) for row in cause_rows(listed)]
    return Table(tuple(columns), tuple(rows))


def in_columns(table: Table) -> list[str]:
    """Write a table in plain letters, every column to the right."""
    lines = [
        [str(column.heading) for column in table.columns],
        *([str(cell) for cell in row.cells] for row in table.rows),
    ]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    return ["  ".join(cell.rjust(width) for cell, width in zip(line, widths, strict=True)) for line in lines]
