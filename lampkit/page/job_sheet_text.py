"""The job sheet as text: a table of every lamp, then the whole vehicle."""

from textwrap import wrap

from lampkit import numbers
from lampkit.page import findings, lamp_findings, sheet_tables
from lampkit.page.findings import AlikeFindings, Findings
from lampkit.page.frame import COLUMNS, item
from lampkit.page.lamp_findings import SourceFindings
from lampkit.page.style import called
from lampkit.plan.plan import Plan
from lampkit.statements import say

PLAIN = {ord("→"): "->"}
"""Letters that not every terminal has."""


def report_text(plan: Plan) -> str:
    """Write the plan as a table of at most 100 columns.

    Parameters
    ----------
    plan : Plan
        The vehicle with its assessments.

    Returns
    -------
    str
        A block for each lamp, lamps that are alike together, with what to do under its name; then the footer.

    Examples
    --------
    >>> import lampkit as lk
    >>> text = lk.page.report_text(lk.plan.make(lk.vehicle.load(lk.tables.folder() / "library_van"), draws=100))
    >>> text.splitlines()[0], max(map(len, text.splitlines())) <= 100
    ('Library van', True)
    """
    found = findings.findings_of(plan)
    lines = [plan.vehicle.name, *wrap(str(found.facts), COLUMNS), "", *_heading(), "-" * COLUMNS]
    for group in found.groups:
        lines += [*_lamp(group), ""]
    lines += [str(say("page.buy.short")), *sheet_tables.in_columns(sheet_tables.what_to_buy(found)), ""]
    lines += [*_vehicle(found), *wrap(str(say("page.how_to_read")), COLUMNS)]
    lines += wrap(str(say("page.caution_first", words=say("page.approval"))), COLUMNS)
    return "\n".join([*lines, *wrap(str(found.footer), COLUMNS)])


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
    lines = [f"{group.name} ({group.assessment.lens.name})"[:COLUMNS]]
    for source in group.first.sources:
        lines += _source(source)
    lines += wrap(str(group.first.decision.statement), COLUMNS, initial_indent="  > ", subsequent_indent="    ")
    if (voltage := lamp_findings.voltage_words(group.first)) is not None:
        lines += wrap(str(voltage), COLUMNS, initial_indent="    ", subsequent_indent="    ")
    if not group.lamp.road_rule:
        lines.append(f"    {say('page.text.no_rule')}")
    for words in findings.candela_of(group):
        lines += wrap(str(words), COLUMNS, initial_indent="    ", subsequent_indent="    ")
    return lines


def _source(source: SourceFindings) -> list[str]:
    result, filament = source.result, source.is_filament
    cells = (
        f"{called(result.source)[:26]:27}",
        f"{numbers.fixed(result.source.luminous_flux):>9}",
        f"{numbers.percent(float(result.luminous_transmittance[1])):>9}",
        f"  {'1' if filament else numbers.interval(result.ratio):19}",
        f"{'' if filament else numbers.chance(result.chance):>12}",
    )
    start = f"  {source.tag:2}{''.join(cells)}  "
    colour = wrap(str(lamp_findings.colour_words(source)), COLUMNS - len(start)) or [""]
    return [start + colour[0], *(" " * len(start) + more for more in colour[1:])]


def _vehicle(found: Findings) -> list[str]:
    """What to watch, the circuits, the timing and what to measure, as text."""
    lines = [*wrap(str(found.summary), COLUMNS), "", str(say("page.watch.heading"))]
    lines += [line for told in found.watch for line in item(f"{told.heading} {told.words}")]
    lines += _circuits(found)
    lines += [line for words in found.ballast for line in item(words)]
    lines += _work(found)
    if found.timings:
        lines += ["", str(say("page.timing.heading"))]
        lines += [line for name, timing in found.timings for line in item(f"{name}: {timing.statement}")]
    lines += ["", str(say("page.check.heading"))]
    for check in found.checklist:
        lines += item(say("page.text.check", subject=check.subject, what=check.what, expect=check.expect))
    if found.earth is not None:
        lines += ["", str(say("page.earth.heading", now=found.earth.now, after=found.earth.after))]
        parts = [say("page.earth.part", **part._asdict()) for part in found.earth.parts]
        lines += [line for words in (*parts, *found.earth.words, say("page.text.earth")) for line in item(words)]
    return [*lines, ""]


def _circuits(found: Findings) -> list[str]:
    if not found.circuits:
        return []
    table = sheet_tables.circuits(found.circuits)
    kept = (1, 2, 6)  # current, voltage at the lamps, fuse that is fitted: what fits the width
    lines = ["", str(say("page.circuits.heading"))]
    titles = (say("page.column.current"), say("page.column.at_the_lamps"), say("page.text.fuse"))
    lines.append(f"  {'':20}{titles[0]!s:>16}{titles[1]!s:>20}{titles[2]!s:>12}")
    for row in table.rows:
        name, *cells = (str(cell) for cell in row.cells)
        current, voltage, fuse = (cells[i - 1] for i in kept)
        lines.append(f"  {name[:20]:20}{current:>16}{voltage:>20}{fuse:>12}".translate(PLAIN))
    for one in found.circuits:
        lines += [line for words in one.words for line in item(f"{one.report.circuit.name}: {words}")]
        lines += [line for words in one.cautions for line in item(say("page.caution_first", words=words))]
    return lines


def _work(found: Findings) -> list[str]:
    """The order of work, with what the circuits read on the way."""
    if found.work is None:
        return []
    lines = ["", str(say("page.work.heading")), *wrap(str(found.work.found), COLUMNS)]
    if found.work.earth_first is not None:
        lines += wrap(str(found.work.earth_first), COLUMNS)
    for one in found.work.circuits:
        columns = (say("page.column.as_found"), say("page.column.on_the_way"), say("page.column.as_chosen"))
        told = zip(columns, (one.as_found, one.on_the_way, one.as_chosen), strict=True)
        states = [say("page.work.reads", name=name, cell=cell) for name, cell in told]
        lines += item(say("page.work.in_states", name=one.name, states=states))
    for number, step in enumerate(found.work.steps, start=1):
        lines += wrap(f"{number}. {step.task} {step.why}", COLUMNS, subsequent_indent="   ")
        for words in step.expect:
            lines += wrap(str(words), COLUMNS, initial_indent="   - ", subsequent_indent="     ")
        for lamp in step.lamps:
            words = say("page.work.lamp_reads", **lamp._asdict())
            lines += wrap(str(words), COLUMNS, initial_indent="   - ", subsequent_indent="     ")
    for heading, sentences in ((say("page.work.parts"), found.work.parts), (say("page.work.saves"), found.work.saves)):
        if sentences:
            lines += [str(heading), *(line for words in sentences for line in item(words))]
    return lines
