"""The tables of the sheets: which findings stand in which column, with the unit in the heading."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lampkit import numbers
from lampkit.conversion.answer import how_sure
from lampkit.page import lamp_faces
from lampkit.page.findings import Assumption, Findings
from lampkit.page.lamp_findings import (
    AlikeFindings,
    ClauseFindings,
    LampFindings,
    SourceFindings,
    citation,
    colour_words,
    in_print,
)
from lampkit.page.reading_findings import RatioFindings, cause_rows
from lampkit.page.style import anchor, called, css
from lampkit.page.vehicle_findings import BoundPart, CircuitFindings, CircuitStates, LampChange
from lampkit.plan.timing import SPEEDS, LampTiming
from lampkit.rules.colours import Boundary
from lampkit.statements import Statement, say
from lampkit.uncertainty.sampling import Belief

AS_FOR = 20
"""Letters that must be saved for a source to be told once and referred to after that [1]. Source: own judgement."""


TOGETHER = 3
"""Quantities of one thing that share their source from which they stand in one row [1]. Source: own judgement."""


class Column(NamedTuple):
    """A column: its heading, whether its words may run on over several lines on paper, what stands there.

    `of_all` heads its cell in a row of totals where each cell has its own heading, on a phone.
    """

    heading: Statement
    long: bool = False
    strong: bool = False
    line: bool = False
    number: bool = False
    of_all: Statement | None = None


class Row(NamedTuple):
    """A row: its cells, the first of which names it, how it is marked, and whether it has a box to tick."""

    cells: tuple[object, ...]
    mark: str = ""
    anchor: str = ""
    swatch: str = ""
    picture: str = ""
    tick: bool = True


def headed(*headings: Statement) -> tuple[Column, ...]:
    """Head columns of which there is nothing else to say."""
    return tuple(Column(heading) for heading in headings)


class Table(NamedTuple):
    """A table of a sheet, the style in which it is shown, and whether each row has a box to tick."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    style: str = "cards"
    ticked: bool = False


def what_to_fit(found: Findings) -> Table:
    """List each lamp with what to do, how it compares, how sure that is and whether the colour is right."""
    columns = (
        Column(say("page.column.lamp"), long=True),
        Column(say("page.column.fit"), long=True, strong=True),
        Column(say("page.column.light_of_old")),
        Column(say("page.column.how_sure")),
        Column(say("page.column.colour"), long=True),
    )
    rows = []
    for line in found.fit:
        light = say("page.fit.nothing") if line.shown is None else numbers.figure(float(line.shown.ratio[1]))
        # What is fitted stands under the heading that says so; what is kept says it.
        task = line.task.values.get("fitted", line.task)
        if line.nearest is not None:
            task = say("page.fit.and_nearest", task=task, nearest=line.nearest)
        cells = (numbered(line.group), task, light, line.sure, line.colour)
        faces = lamp_faces.small_faces(line.group.assessment.old, line.group.first.fitted)
        rows.append(Row(cells, anchor=anchor(line.group.name), picture=faces.html))
    return Table(columns, tuple(rows), "cards fit", ticked=True)


def numbered(group: AlikeFindings, *, short: bool = False) -> Statement:
    """Name lamps that are alike after the number that they have on every sheet."""
    return say("page.fit.numbered", number=group.number, name=group.short if short else group.name)


def what_to_buy(found: Findings) -> Table:
    """List what to take to a shop: the articles, the total, and what to look for where nothing on offer will do."""
    currency = found.plan.choice.currency
    columns = (
        Column(say("page.column.article"), long=True),
        Column(say("page.column.number"), number=True),
        Column(say("page.column.base")),
        Column(say("page.column.colour"), long=True),
        Column(say("page.column.lumens_least"), number=True),
        Column(say("page.column.either_way"), long=True),
        Column(
            say("page.column.price_each", currency=currency),
            number=True,
            of_all=say("page.column.price", currency=currency),
        ),
    )
    rows = []
    for one in found.shopping:
        price = one.total if one.together else one.price
        lumens = say("page.buy.lumens", levels=list(one.lumens), most=one.most) if one.lumens else ""
        name = say("page.buy.article", name=one.article, lamps=list(one.lamps))
        cells = (
            name,
            "" if one.number is None else one.number,
            one.base,
            one.colour or "",
            lumens,
            one.way or "",
            "" if price is None else numbers.fixed(price, 2),
        )
        rows.append(Row(cells, mark="total" if one.together else "", tick=not one.together))
    return Table(columns, tuple(rows), "cards buy", ticked=True)


def light_to_read(found: Findings) -> Table | None:
    """List what each new lamp should read as a multiple of the old one, with lines to write on."""
    check = found.checks.light
    if check is None:
        return None
    columns = (
        Column(say("page.column.lamp"), long=True),
        Column(say("page.column.old_reads"), line=True),
        Column(say("page.column.new_should")),
        Column(say("page.column.new_reads"), line=True),
    )
    by_name = {group.name: numbered(group, short=True) for group in found.groups}
    rows = tuple(Row((by_name[str(one.name)], "", one.expect, "")) for one in check.readings)
    return Table(columns, rows, "cards read", ticked=True)


def circuits_to_read(found: Findings) -> Table | None:
    """List amperes and volts of each circuit, with lines to write on."""
    if not found.checks.circuits:
        return None
    columns = (
        Column(say("page.column.circuit"), long=True),
        Column(say("page.column.amperes_was")),
        Column(say("page.column.amperes_should")),
        Column(say("page.column.reads"), line=True),
        Column(say("page.column.at_the_lamps")),
        Column(say("page.column.reads"), line=True),
    )
    rows = tuple(
        Row(
            (one.name, numbers.fixed(one.before, 2), numbers.fixed(one.after, 2), "", numbers.fixed(one.voltage, 1), "")
        )
        for one in found.checks.circuits
    )
    return Table(columns, rows, "cards read", ticked=True)


def light(group: AlikeFindings, currency: str) -> Table:
    """List the light of each light source of a lamp, with its price."""
    columns = [*headed(
        say("page.column.light"), say("page.column.claimed"), say("page.column.passes"), say("page.column.k"),
        say("page.column.against_filament"), say("page.column.chance"), say("page.column.to_buy"),
    )]  # fmt: skip
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
            "" if filament else numbers.interval(result.k),
            "" if filament else numbers.interval(result.ratio),
            "" if filament else how_sure(result, result.chance),
            "" if filament else numbers.rounded_up(result.lumens_to_buy),
        ]
        if priced:
            cells.append("" if price is None else numbers.fixed(price, 2))
        rows.append(Row(tuple(cells), mark=_mark(group.first, source)))
    return Table(tuple(columns), tuple(rows))


def colour_and_candela(group: AlikeFindings) -> Table:
    """List the colour and the candela of each light source of a lamp, by the tags of the table above."""
    columns = [Column(say("page.column.light"))]
    limited = group.assessment.colour_limit is not None
    if limited:
        columns += headed(say("page.column.inside_by"), say("page.column.inside"))
    else:
        columns.append(Column(say("page.column.chromaticity")))
    axis = next((axis for axis in group.axes if axis.measured or axis.twin), None)
    if axis is not None:
        columns.append(Column(say("page.column.on_axis")))
    rows = []
    for place, source in enumerate(group.first.sources):
        cells: list[object] = [source.tag]
        if limited:
            cells += [_short_colour(source), numbers.chance(source.result.share_inside)]
        else:
            x, y = source.result.chromaticity
            cells.append(say("page.colour.chromaticity", x=float(x), y=float(y)))
        if axis is not None:
            cells.append(numbers.figures(axis.every[place]))
        rows.append(Row(tuple(cells), mark=_mark(group.first, source), swatch=css(source.result.chromaticity)))
    return Table(tuple(columns), tuple(rows))


def _short_colour(source: SourceFindings) -> Statement:
    place = source.result.colour
    if place is None:
        return colour_words(source)
    if place.inside:
        return say("page.colour.margin", margin=place.margin)
    return say("page.colour.past", past=[{"boundary": name, "margin": margin} for name, margin in place.past])


def _mark(lamp: LampFindings, source: SourceFindings) -> str:
    return "chosen" if lamp.fitted is source.result else ""


def tagged_name(source: SourceFindings) -> str:
    """Name a light source after the tag that stands for it in every chart."""
    return f"{source.tag}\N{EN SPACE}{called(source.result.source)}"


def circuits(found: Sequence[CircuitFindings]) -> Table:
    """List the circuits before and after."""
    columns = headed(
        say("page.column.circuit"), say("page.column.current"), say("page.column.at_the_lamps"),
        say("page.column.drop"), say("page.column.light_lost"), say("page.column.fuse_for_wire"),
        say("page.column.fuse_fitted"),
    )  # fmt: skip
    return Table(columns, tuple(Row(_circuit(one)) for one in found))


def _circuit(found: CircuitFindings) -> tuple[object, ...]:
    wired, change = found.report.circuit, found.report.change
    told = say("page.circuits.no_fuse") if wired.fuse_mark == "none" else say("page.circuits.fuse_not_told")
    fitted = told if wired.fuse is None else numbers.general(wired.fuse)
    pairs = [_from_to(values.tolist(), 2) for values in (change.current, change.voltage, change.drop)]
    lost = [numbers.fixed(100.0 * float(change.light_lost[i].max())) for i in (0, 1)]
    fuse = numbers.general(change.fuse_state.most) if change.fuse_state.wire_known else ""
    return (wired.name, *pairs, f"{lost[0]} % → {lost[1]} %", fuse, fitted)


def _from_to(values: Sequence[float], decimals: int) -> str:
    return " → ".join(numbers.fixed(float(value), decimals) for value in values)


def states(found: Sequence[CircuitStates]) -> Table | None:
    """List the circuits that do something on the way: their amperes stand at the lamps that are changed."""
    columns = (Column(say("page.column.circuit")), Column(say("page.column.on_the_way"), long=True))
    alike: dict[str, list[Statement]] = {}
    for one in found:
        if one.on_the_way.values.get("more"):
            alike.setdefault(str(one.on_the_way), []).append(one.name)
    rows = tuple(Row((say("page.work.together", readings=names), told)) for told, names in alike.items())
    return Table(columns, rows) if rows else None


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
        Column(say("page.column.reads_then"), long=True),
    )
    return Table(columns, tuple(Row((one.short, one.reads)) for one in found), "cards ordered")


def timings(found: Sequence[tuple[str, LampTiming]]) -> Table:
    """List rise, reaction and flash of each lamp."""
    ways = [say("page.column.way", speed=speed) for speed in SPEEDS[:2]]
    columns = headed(
        say("page.column.lamp"), say("page.column.rise"), say("page.column.sooner"), *ways, say("page.column.flash")
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
        rows.append(Row((name, f"{middle} ({low} to {high})", gained, *way, flash)))
    return Table(columns, tuple(rows))


def one_source(listed: Sequence[Boundary]) -> Statement | None:
    """Cite the source of all boundaries of a colour with the sign for how it is known; None where they differ."""
    if len({(b.source, b.known) for b in listed}) != 1:
        return None
    return say("page.limit.cited", source=in_print(listed[0].source), known=listed[0].known)


def boundaries(listed: Sequence[Boundary]) -> Table:
    """List the boundaries of a published colour, each with its source and its sign where they differ."""
    columns = [Column(say("page.column.boundary")), Column(say("page.column.inside_when"), long=True)]
    rows: list[tuple[object, ...]] = [(b.name, b.inequality) for b in listed]
    if one_source(listed) is None:
        columns.append(Column(say("page.column.source"), long=True))
        cited = [say("page.limit.cited", source=in_print(b.source), known=b.known) for b in listed]
        rows = [(*row, told) for row, told in zip(rows, cited, strict=True)]
    return Table(tuple(columns), tuple(Row(row) for row in rows))


def clauses(found: Sequence[ClauseFindings], short: Mapping[str, object]) -> Table | None:
    """List what is published of candela on the axis, with the clause and the sign for how it is known."""
    if not found:
        return None
    columns = (Column(say("page.column.source"), long=True), Column(say("page.column.published"), long=True))
    by_source: dict[str, list[Statement]] = {}
    for one in found:
        cited = say("page.limit.cited", source=citation(one.limit).values["source"], known=one.limit.known)
        # A lamp of one function needs no word of it.
        several = any(name in other.lamps for name in one.lamps for other in found if other is not one)
        values = {key: one.span.values[key] for key in ("low", "high")}
        function = one.span.values["function"] if several else None
        lamps = [short[name] for name in one.lamps]
        told = say("page.limit.of_lamps", lamps=lamps, function=function, **values)
        by_source.setdefault(str(cited), []).append(told)
    rows = [Row((source, say("page.assumption.values", values=spans))) for source, spans in by_source.items()]
    return Table(columns, tuple(rows))


def seen(groups: Sequence[AlikeFindings]) -> Table | None:
    """List from how far each lamp is seen in fair weather, with its filament and with what is fitted."""
    columns = (
        Column(say("page.column.lamp")),
        Column(say("page.column.by_day"), number=True),
        Column(say("page.column.by_night"), number=True),
        Column(say("page.column.by_day_fitted"), number=True),
        Column(say("page.column.by_night_fitted"), number=True),
    )
    rows = []
    for group in groups:
        one = next((member for member in group.members if member.seen), None)
        if one is None:
            continue
        spans = [_spans(one.seen[0]), _spans(one.seen[one.place]) if one.place else ("", "")]
        rows.append(Row((group.short, *spans[0], *spans[1])))
    return Table(columns, tuple(rows), "cards") if rows else None


def _spans(ranges: NDArray[np.float64]) -> tuple[str, str]:
    """Write ranges by day in metres and by night in kilometres."""
    day, night = ranges[0], ranges[1] / 1000.0
    return tuple(f"{numbers.figure(low)} to {numbers.figure(high)}" for low, high in (day, night))  # type: ignore[return-value]


def assumptions(listed: Sequence[Assumption]) -> Table:
    """List what was assumed, a row a quantity: its value and range for each thing, and its source."""
    columns = (
        Column(say("page.column.quantity"), long=True),
        Column(say("page.column.typical_of"), long=True),
        Column(say("page.column.source"), long=True),
    )
    by_name: dict[str, list[Assumption]] = {}
    for one in listed:
        by_name.setdefault(one.belief.name, []).append(one)
    rows = []
    cited: dict[str, str] = {}
    # What is believed of one thing alone, for one reason, stands in one row: it is read together.
    alone: dict[tuple[str, str], list[Belief]] = {}
    for one, *more in by_name.values():
        if not more:
            alone.setdefault((numbers.listed(one.owners), str(one.belief.source)), []).append(one.belief)
    for (owner, source), beliefs in alone.items():
        if len(beliefs) >= TOGETHER:
            each = [say("page.assumption.of", owners=[b.name], value=_believed(b)) for b in beliefs]
            rows.append(Row((owner, say("page.assumption.values", values=each), source)))
            for b in beliefs:
                del by_name[b.name]
    for name, ones in by_name.items():
        # What is printed alike stands once, though the last digits differ.
        alike: dict[str, dict[str, None]] = {}
        for one in ones:
            alike.setdefault(str(_believed(one.belief)), {}).update(dict.fromkeys(one.owners))
        values = [say("page.assumption.of", owners=list(owners), value=told) for told, owners in alike.items()]
        sources = list(dict.fromkeys(str(one.belief.source) for one in ones))
        first = cited.setdefault(sources[0], name)
        as_for = first if first != name and len(sources[0]) > len(first) + AS_FOR else ""
        cell = say("page.assumption.source", source=sources[0], as_for=as_for, more=len(sources) - 1)
        rows.append(Row((name, say("page.assumption.values", values=values), cell)))
    return Table(columns, tuple(rows), "cards dense")


def _believed(b: Belief) -> Statement:
    """Write what is believed of a quantity."""
    low, high = (float(v) for v in b.value([-1.96, 1.96]))
    if not high > low:
        return say("page.assumption.exact", value=b.typical, unit=b.unit)
    # Two digits of the width: more would claim to know the spread better than anyone does.
    decimals = max(0, 1 - int(np.floor(np.log10(high - low))))
    values = {"value": b.typical, "low": low, "high": high, "decimals": decimals, "unit": b.unit}
    return say("page.assumption.believed", **values)


def ratios(listed: Sequence[RatioFindings]) -> Table:
    """List the measured ratios, beside the prediction where there is one."""
    columns = [
        *headed(say("page.column.lamp"), say("page.column.fair_ratio")),
        Column(say("page.column.light_measured"), long=True),
        *headed(say("page.column.naive"), say("page.column.old_candela"), say("page.column.new_candela")),
    ]
    if any(one.finding is not None for one in listed):
        columns += headed(say("page.column.predicted"), say("page.column.normalised_error"))
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
    numbered_ = (say("page.column.ratio", number=start + i) for i in range(1, len(listed) + 1))
    columns = headed(say("page.column.uncertainty"), *numbered_)
    rows = [Row((row.name, *(numbers.figure(100.0 * u) for u in row.uncertainties))) for row in cause_rows(listed)]
    return Table(tuple(columns), tuple(rows))
