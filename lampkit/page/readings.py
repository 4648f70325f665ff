"""Readings on paper: as text, as a section of the job sheet, as a page of their own."""

from collections.abc import Sequence
from typing import Any

from lampkit import numbers
from lampkit.measurement.fair_ratio import Comparison
from lampkit.measurement.shortfall import FACTORS, AgreementVerdict
from lampkit.page import frame, lens_chart, reading_charts, reading_findings, sheet_tables
from lampkit.page.frame import COLUMNS, item, picture
from lampkit.page.reading_findings import RatioFindings, ReadingFindings, findings_of_readings
from lampkit.page.sheet_tables import signed
from lampkit.plan.agreement import Confrontation, Finding
from lampkit.statements import Statement, say

_BLOCK = 6
"""Ratios in one table of causes [1]: as many as fit in COLUMNS."""


def readings_text(found: Comparison | Confrontation) -> str:
    """Write readings, and what was made of them, in at most 100 columns.

    Parameters
    ----------
    found : Comparison or Confrontation
        What the log says by itself, or beside the prediction for its vehicle.

    Returns
    -------
    str
        The ratios, what makes them uncertain and, beside a prediction, what is to blame.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = str(lk.tables.folder() / "library_van" / "readings.csv")
    >>> text = lk.page.readings_text(lk.measurement.compare_readings(log, draws=200))
    >>> text.splitlines()[2]
    'Stop lamp left'
    """
    shown = findings_of_readings(found)
    lines: list[str] = []
    if shown.seed is not None:
        lines += [
            *_ratios(shown.ratios),
            "",
            *numbers.wrap(f"{say('page.readings.how_to_read')} {say('page.readings.corrected')}", COLUMNS),
        ]
        lines += ["", str(say("page.readings.causes_text"))]
        lines += _causes(shown.ratios)
    if shown.findings:
        lines += _beside(shown)
    for lens in shown.lenses:
        lines += ["", str(say("page.lens.heading", lens=lens.name, lamp=lens.known.lamp))[:COLUMNS]]
        lines += [line for sentence in lens.sentences for line in item(sentence)]
    if shown.remarks:
        lines += ["", str(say("page.readings.remarks"))]
        lines += [line for remark in shown.remarks for line in item(remark)]
    caution = say("page.caution_first", words=say("page.no_approval"))
    return "\n".join([*lines, "", *numbers.wrap(caution, COLUMNS)])


def _cut(words: str, width: int) -> str:
    return words if len(words) <= width else f"{words[: width - 1].rstrip()}…"


def _short(one: RatioFindings) -> str:
    if one.ratio.unbounded:
        return str(say("page.ratio.open_short", low=float(one.ratio.ratio[0])))
    return str(one.words)


def _ratios(ratios: Sequence[RatioFindings]) -> list[str]:
    titles = [
        str(title)
        for title in (
            say("page.text.new_against_old"),
            say("page.text.fair_ratio"),
            say("page.column.naive"),
            say("page.column.old_candela"),
            say("page.column.new_candela"),
            say("page.column.light_measured"),
        )
    ]
    head = f"{'':3}{titles[0]:31}{titles[1]:21}{' '.join(titles[2:5]):>21}  {titles[5]}"
    lines = [head, "-" * COLUMNS]
    lamp = None
    for number, one in enumerate(ratios, start=1):
        r = one.ratio
        if r.lamp != lamp:
            lines.append(_cut(r.lamp, COLUMNS))
        lamp = r.lamp
        pair, short = str(say("page.readings.pair", new=r.new, old=r.old)), _short(one)
        room = max(21, len(short) + 1)
        lines.append(
            f"{number:>2} {_cut(pair, 51 - room):{52 - room}}{short:{room}}{numbers.figure(r.naive):>5}"
            f"{numbers.figure(float(r.intensity_old[1])):>8}{numbers.figure(float(r.intensity_new[1])):>8}  {r.light}"
        )
    return lines


def _causes(ratios: Sequence[RatioFindings]) -> list[str]:
    lines = []
    for start in range(0, len(ratios), _BLOCK):
        block = ratios[start : start + _BLOCK]
        table = sheet_tables.causes(block, start)
        lines.append(f"{say('page.text.ratio')!s:28}" + "".join(f"{start + i:>11}" for i in range(1, len(block) + 1)))
        lines += [f"{row.cells[0]!s:28}" + "".join(f"{value:>11}" for value in row.cells[1:]) for row in table.rows]
    return lines


def _beside(shown: ReadingFindings) -> list[str]:
    """Measured beside predicted, and what is to blame."""
    rows = [(number, one, one.finding) for number, one in enumerate(shown.ratios, start=1) if one.finding is not None]
    titles = [
        str(title)
        for title in (
            say("page.column.light_source"),
            say("page.column.predicted"),
            say("page.column.normalised_error"),
        )
    ]
    lines = ["", str(say("page.readings.beside"))]
    lines += [f"{'':3}{titles[0]:31}{titles[1]:21}{titles[2]:>5}", "-" * COLUMNS]
    for number, one, f in rows:
        cells = f"{_cut(one.ratio.new, 30):31}{numbers.interval(f.predicted):21}"
        lines.append(f"{number:>2} {cells}{signed(f.agreement.normalised_error):>5}".rstrip())
    lines += [line for words in _differing([f for _, _, f in rows]) for line in item(words)]
    lines += ["", str(say("page.readings.blame_text"))]
    factors = "".join(f"{name:28}" for name in FACTORS)
    lines += [f"{'':4}{'':10}{factors}".rstrip(), "-" * COLUMNS]
    for number, _, f in rows:
        if not f.blame.split:
            continue
        for tag, label, split in (
            (f"{number:>2}", say("page.text.before"), f.blame.before),
            ("", say("page.text.after"), f.blame.after),
        ):
            lines.append(f"{tag:4}{label!s:10}" + "".join(f"{numbers.interval(row):28}" for row in split).rstrip())
    return lines + [line for words in _blamed([f for _, _, f in rows]) for line in item(words)]


def _blamed(findings: Sequence[Finding]) -> list[Statement]:
    """Say of each reading what is to blame; its ratio and the split stand in table and chart."""
    said = []
    for f in findings:
        told = f.blame.sentence
        if told.key == "blame.split":
            # Of which factors it taught something is seen by what was believed before and after.
            taught = told.values["taught"].key == "blame.taught"
            values = {"why": told.values["why"], "wide": told.values["wide"]}
            told = say("page.readings.blamed", taught="" if taught else told.values["taught"], **values)
        said.append(_of_pair(f, told))
    return said


def _differing(findings: Sequence[Finding]) -> list[Statement]:
    """Say where a reading differs from its prediction; that it agrees, or is too uncertain to, the reader sees."""
    return [_of_pair(f, f.agreement.sentence) for f in findings if f.agreement.verdict is AgreementVerdict.DIFFERS]


def _of_pair(f: Finding, words: object) -> Statement:
    return say("page.readings.of_pair", lamp=f.ratio.lamp, new=f.ratio.new, words=words)


def section_content(shown: ReadingFindings) -> dict[str, Any]:
    """Fill the section of the readings."""
    found, findings = shown.found, shown.findings
    comparison = found if isinstance(found, Comparison) else found.comparison
    pictures = []
    if comparison is not None and shown.ratios:
        pictures.append(
            picture(reading_charts.fair_ratios(comparison), reading_charts.describe_fair_ratios(comparison))
        )
    if isinstance(found, Confrontation) and findings:
        words = reading_charts.describe_measured_against_predicted(found)
        pictures.append(picture(reading_charts.measured_against_predicted(found), words))
    splits = [
        picture(
            reading_charts.split(f.blame, title=f"{f.ratio.lamp}: {f.ratio.new}"),
            say(
                "page.chart.split.described_of",
                lamp=f.ratio.lamp,
                new=f.ratio.new,
                words=reading_charts.describe_split(f.blame),
            ),
        )
        for f in findings
        if f.blame.split
    ]
    return {
        "ratios": sheet_tables.ratios(shown.ratios) if shown.ratios else None,
        "charts": pictures,
        "sentences": _differing(findings),
        "splits": splits,
        "blame": _blamed(findings),
        "causes": sheet_tables.causes(shown.ratios) if shown.ratios else None,
        "lenses": [
            {
                "name": say("page.lens.heading", lens=lens.name, lamp=lens.known.lamp),
                "sentences": [one for one in lens.sentences if one.key != "page.lens.now"],
                "now": [one for one in lens.sentences if one.key == "page.lens.now"],
                "chart": picture(
                    lens_chart.lens_knowledge(lens.known.knowledge),
                    lens_chart.describe_lens_knowledge(lens.known.knowledge),
                ),
            }
            for lens in shown.lenses
        ],
        "remarks": shown.remarks,
    }


def readings_html(found: Comparison | Confrontation, title: str) -> str:
    """Write the readings as one page that needs nothing else.

    Parameters
    ----------
    found : Comparison or Confrontation
        What the log says by itself, or beside the prediction for its vehicle.
    title : str
        The heading of the page.

    Returns
    -------
    str
        The page, in HTML.

    Examples
    --------
    >>> import lampkit as lk
    >>> log = str(lk.tables.folder() / "library_van" / "readings.csv")
    >>> page = lk.page.readings_html(lk.measurement.compare_readings(log, draws=200), "Our readings")
    >>> "<h1>Our readings</h1>" in page
    True
    """
    shown = reading_findings.findings_of_readings(found)
    written = frame.filled("readings.html", title=title, readings=section_content(shown))
    return frame.page(title, written, _footer(shown))


def _footer(shown: ReadingFindings) -> Statement:
    from lampkit import __version__

    return say("page.readings.footer", version=__version__, seed=shown.seed, approval=say("page.no_approval"))
