"""The job sheet as text: one screen that answers, and on demand all that it rests on."""

from collections.abc import Iterable, Sequence
from itertools import zip_longest

from lampkit import numbers
from lampkit.conversion.answer import how_sure
from lampkit.conversion.suggestion import SURE
from lampkit.page import findings, lamp_findings, sheet_tables
from lampkit.page.findings import Findings
from lampkit.page.first_sheet import UNREAD
from lampkit.page.frame import COLUMNS, item
from lampkit.page.lamp_findings import AlikeFindings, SourceFindings
from lampkit.page.style import called
from lampkit.page.vehicle_findings import WorkShown
from lampkit.plan.plan import Plan
from lampkit.statements import say

SCREEN = 80
"""Width of the first answer in letters [1]."""

FIT_WIDTHS = (31, 30, 5, 11)
"""Letters for lamp, what to do, light and how sure [1]: 80 with what parts them."""


def report_text(plan: Plan, *, full: bool = False) -> str:
    """Write the plan as text: what to fit, to buy and to mind, on one screen of 80 columns for a usual vehicle.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.
    full : bool
        Whether all that the answer rests on follows, in at most 100 columns: each lamp with every light source on
        offer, circuits, order of work, timing, what to measure, earth.

    Returns
    -------
    str
        A line for each lamp, lamps that are alike together, then what to buy and what can go wrong.

    Examples
    --------
    >>> import lampkit as lk
    >>> text = lk.page.report_text(lk.plan.make(lk.vehicle.load(lk.tables.folder() / "library_van"), draws=100))
    >>> text.splitlines()[0][:11], max(map(len, text.splitlines())) <= 80
    ('Library van', True)
    """
    return written(findings.findings_of(plan), full=full)


def written(found: Findings, *, full: bool = False) -> str:
    """Write the text of findings that were gathered before."""
    lines = list(_answer(found))
    if full:
        lines += ["", *_all(found)]
    else:
        lines += numbers.wrap(str(say("page.text.more")), SCREEN)
    return "\n".join(lines)


def _answer(found: Findings) -> Iterable[str]:
    """Give the first answer: what to fit, what to buy, what can go wrong."""
    yield from numbers.wrap(
        str(say("page.text.headed", name=found.plan.vehicle.name, facts=findings.short_facts(found))), SCREEN
    )
    yield ""
    unread = [told for told in found.dangers if told.heading.key == UNREAD]
    for told in unread:
        yield from numbers.wrap(f"{told.heading} {told.words}", SCREEN)
        yield ""
    sure = say("page.text.how_sure", asked=SURE)
    heading = (say("page.column.lamp"), say("page.column.to_do"), say("page.column.light"), sure)
    yield from _row(heading)
    yield "-" * SCREEN
    for line in found.fit:
        light = "" if line.shown is None else numbers.figure(float(line.shown.ratio[1]))
        yield from _row((sheet_tables.numbered(line.group), line.task, light, line.sure))
        if line.nearest is not None:
            yield from numbers.wrap(line.nearest, SCREEN, first="  ", then="  ")
    if found.shopping:
        yield ""
        yield from _bought(found)
    dangers = [told for told in found.dangers if told not in unread]
    if dangers:
        yield ""
        yield str(say("page.wrong.heading"))
        for told in dangers:
            yield from numbers.wrap(f"- {told.heading} {told.words}", SCREEN, then="  ")
    yield from numbers.wrap(str(say("page.caution_first", words=say("page.approval"))), SCREEN)


def _row(cells: Sequence[object]) -> list[str]:
    """Write a row of the first table, a cell that is too long in several lines."""
    each = [numbers.wrap(cell, width) or [""] for cell, width in zip(cells, FIT_WIDTHS, strict=True)]
    rows = zip_longest(*each, fillvalue="")
    return [" ".join(f"{cell:{width}}" for cell, width in zip(row, FIT_WIDTHS, strict=True)).rstrip() for row in rows]


def _bought(found: Findings) -> Iterable[str]:
    """Write the list to take to a shop, a line an article."""
    currency = found.plan.choice.currency
    last = next((one for one in found.shopping if one.together), None)
    total, together = (None, "") if last is None else (last.total, last.article)
    told = {"heading": say("page.buy.heading"), "total": total, "together": together, "currency": currency}
    yield from numbers.wrap(say("page.text.bought", **told), SCREEN, then="  ")
    for one in (one for one in found.shopping if not one.together):
        values = {"number": one.number, "article": one.article, "lamps": list(one.lamps)}
        values |= {"base": one.base, "lumens": list(one.lumens), "most": one.most, "price": one.price}
        words = str(say("page.text.article", **values))
        yield from numbers.wrap(words, SCREEN, first="  ", then="      ")


def _all(found: Findings) -> list[str]:
    """Give all that the answer rests on."""
    lines = [*numbers.wrap(found.facts, COLUMNS), "", *_heading(), "-" * COLUMNS]
    for group in found.groups:
        lines += [*_lamp(group), ""]
    lines += [*_vehicle(found), *numbers.wrap(str(say("page.how_to_read")), COLUMNS)]
    lines += numbers.wrap(str(say("page.limits.explained")), COLUMNS)
    return [*lines, *numbers.wrap(found.footer, COLUMNS)]


def _heading() -> list[str]:
    columns = [
        str(say("page.text.light_source")),
        str(say("page.text.claimed")),
        str(say("page.text.passes")),
        str(say("page.text.against")),
        str(say("page.text.chance")),
        str(say("page.text.colour")),
    ]
    units = [str(say("page.text.lumens")), str(say("page.text.filament"))]
    first = f"  {'':2}{columns[0]:27}{columns[1]:>9}{columns[2]:>9}  {columns[3]:19}{columns[4]:>12}  {columns[5]}"
    return [first, f"  {'':2}{'':27}{units[0]:>9}{'':9}  {units[1]:19}".rstrip()]


def _lamp(group: AlikeFindings) -> list[str]:
    lens = say("page.text.lens", lens=group.assessment.lens.name, told=group.lamp.material_told)
    lines = [f"{sheet_tables.numbered(group)} ({lens})"[:COLUMNS]]
    for source in group.first.sources:
        lines += _source(source, chosen=group.first.fitted is source.result)
    told: list[object] = [lamp_findings.voltage_words(group.first)]
    for words in (*told, *lamp_findings.candela_of(group)):
        if words is not None:
            lines += numbers.wrap(words, COLUMNS, first="    ", then="    ")
    return lines


def _source(source: SourceFindings, *, chosen: bool) -> list[str]:
    result, filament = source.result, source.is_filament
    cells = (
        f"{called(result.source)[:26]:27}",
        f"{numbers.fixed(result.source.luminous_flux):>9}",
        f"{numbers.percent(float(result.luminous_transmittance[1])):>9}",
        f"  {'1' if filament else numbers.interval(result.ratio):19}",
        f"{'' if filament else how_sure(result, result.chance):>12}",
    )
    start = f"{'>' if chosen else ' '} {source.tag:2}{''.join(cells)}  "
    colour = numbers.wrap(str(lamp_findings.colour_words(source)), COLUMNS - len(start)) or [""]
    return [start + colour[0], *(" " * len(start) + more for more in colour[1:])]


def _vehicle(found: Findings) -> list[str]:
    """The choice, the circuits, the work, the timing and what to measure, as text."""
    lines = (
        [str(say("page.glance.told")), *(line for words in found.told for line in item(words))] if found.told else []
    )
    lines += _circuits(found)
    lines += _work(found)
    if found.timings:
        lines += ["", str(say("page.timing.heading"))]
        alike: dict[str, list[str]] = {}
        for name, timing in found.timings:
            alike.setdefault(str(timing.statement), []).append(name)
        lines += [line for words, names in alike.items() for line in item(f"{numbers.listed(names)}: {words}")]
    checks = found.checks
    lines += ["", str(say("page.check.heading"))]
    for check in (one for one in (checks.light, checks.tail, checks.flasher) if one is not None):
        values = {"subject": check.subject, "what": check.what, "measured": bool(check.readings)}
        lines += item(say("page.text.check", expect=check.expect, **values))
    if checks.circuits:
        lines += item(say("page.check.circuits_what", supply=checks.supply))
    for clause in found.clauses:
        cited = lamp_findings.citation(clause.limit)
        lines += item(say("page.text.clause", lamps=list(clause.lamps), span=clause.span, citation=cited))
    if found.earth is not None:
        lines += ["", str(say("page.earth.heading", now=found.earth.now, after=found.earth.after))]
        if str(found.earth.now) == str(found.earth.after):
            told = [*found.earth.words, say("page.earth.if_changed")]
        else:
            parts = [say("page.earth.part", **part._asdict()) for part in found.earth.parts]
            told = [*parts, *found.earth.words]
        lines += [line for words in told for line in item(words)]
    return [*lines, ""]


def _circuits(found: Findings) -> list[str]:
    """What is said of each circuit; its amperes and volts stand in the order of work."""
    said = [
        say("page.text.of_circuit", name=one.report.circuit.name, words=w) for one in found.circuits for w in one.words
    ]
    told = [*([found.fuses] if found.fuses else []), *said, *found.ballast]
    told += [say("page.caution_first", words=w) for one in found.circuits for w in one.cautions]
    return ["", str(say("page.text.circuits")), *(line for words in told for line in item(words))] if told else []


def _work(found: Findings) -> list[str]:
    """The order of work, with what the circuits read on the way."""
    if found.work is None:
        return []
    lines = ["", str(say("page.work.heading")), *numbers.wrap(found.work.found, COLUMNS)]
    if found.work.earth_first is not None:
        lines += numbers.wrap(found.work.earth_first, COLUMNS)
        if found.earth is not None:
            lines.append(str(found.earth.order))
            lines += [line for number, step in enumerate(found.earth.steps, 1) for line in _step(number, step, ())]
    if found.work.bench:
        lines += [str(say("page.work.on_bench")), *(line for words in found.work.bench for line in item(words))]
    for one in found.work.circuits:
        columns = (say("page.column.as_found"), say("page.column.on_the_way"), say("page.column.as_chosen"))
        told = zip(columns, (one.as_found, one.on_the_way, one.as_chosen), strict=True)
        states = [say("page.work.reads", name=name, cell=cell) for name, cell in told]
        lines += item(say("page.work.in_states", name=one.name, states=states))
    for number, step in enumerate(found.work.steps, start=1):
        read = [say("page.work.lamp_reads", names=one.names, source=one.source, reads=one.reads) for one in step.lamps]
        lines += _step(number, step, [*step.expect, *read])
    plan = found.plan
    for heading, sentences in ((say("page.work.parts"), plan.parts_to_fit), (say("page.work.saves"), plan.savings)):
        if sentences:
            lines += [str(heading), *(line for words in sentences for line in item(words))]
    return lines


def _step(number: int, step: WorkShown, told: Sequence[object]) -> Iterable[str]:
    """Write a step, what is told at it, and its cautions where their hazard is."""
    battery = "" if step.battery_on else f" {say('page.earth.battery_off')}"
    yield from numbers.wrap(f"{number}. {step.what}{battery} {step.why}", COLUMNS, then="   ")
    for words in told:
        yield from numbers.wrap(words, COLUMNS, first="   - ", then="     ")
    if step.cautions:
        words = say("page.caution_first", words=" ".join(str(one) for one in step.cautions))
        yield from numbers.wrap(words, COLUMNS, first="   ", then="   ")
