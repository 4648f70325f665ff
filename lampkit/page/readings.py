"""Readings on paper: the card to take along to them, then as text, as a section and as a page of their own."""

from base64 import b64encode
from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING, Any

from lampkit import numbers
from lampkit.measurement.fair_ratio import Comparison
from lampkit.measurement.procedure import MeasurementPlan, card_lines
from lampkit.measurement.shortfall import FACTORS, AgreementVerdict
from lampkit.page import frame, reading_charts, reading_findings, sheet_tables
from lampkit.page.frame import COLUMNS, item, picture
from lampkit.page.reading_findings import RatioFindings, ReadingFindings, findings_of_readings
from lampkit.page.sheet_tables import signed
from lampkit.page.style import BOLD, Drawing, drawing_svg, lettered
from lampkit.plan.agreement import Confrontation, Finding
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from markupsafe import Markup

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
    if shown.ratios:
        lines += [
            *_ratios(shown.ratios),
            "",
            *numbers.wrap(f"{shown.how_to_read} {say('page.readings.corrected')}", COLUMNS),
        ]
        lines += [line for step in _steps(shown) for line in ("", *numbers.wrap(str(step), COLUMNS))]
        lines += ["", str(say("page.readings.causes_text"))]
        lines += _causes(shown.ratios)
    else:
        lines += [line for one in shown.remarks if _alone(one) for line in numbers.wrap(one, COLUMNS)]
    if shown.findings:
        lines += _beside(shown)
    for lens in shown.lenses:
        lines += ["", str(say("page.lens.heading", lens=lens.name, lamp=lens.known.lamp))[:COLUMNS]]
        lines += [line for sentence in lens.sentences for line in item(sentence)]
    if remarks := [one for one in _steps(shown, others=True) if shown.ratios or not _alone(one)]:
        lines += ["", str(say("page.readings.remarks"))]
        lines += [line for remark in remarks for line in item(remark)]
    caution = say("page.caution_first", words=say("procedure.no_approval"))
    return "\n".join([*lines, "", *numbers.wrap(caution, COLUMNS)])


def _steps(shown: ReadingFindings, *, others: bool = False) -> list[object]:
    """List what to do next, which stands with the answer; or what else is remarked."""
    return [one for one in shown.remarks if (getattr(one, "key", "") != "next_step.told") is others]


def _alone(remark: object) -> bool:
    """Tell whether a remark gives the candela of a light source that is compared with none."""
    return getattr(remark, "key", "") == "fair_ratio.alone"


def _cut(words: str, width: int) -> str:
    return words if len(words) <= width else f"{words[: width - 1].rstrip()}…"


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
        pair, low = str(say("page.readings.pair", new=r.new, old=r.old)), float(r.ratio[0])
        short = str(say("page.ratio.open_short", low=low) if r.unbounded else one.words)
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


def _split(f: Finding) -> "Markup":
    """Draw the split of one ratio; those who do not see it are told of which."""
    lamp, new = f.ratio.lamp, f.ratio.new
    drawn = reading_charts.split(f.blame, title=f"{lamp}: {new}")
    return picture(drawn, say("page.chart.split.described_of", lamp=lamp, new=new, words=drawn.get_label()))


def section_content(shown: ReadingFindings) -> dict[str, Any]:
    """Fill the section of the readings."""
    found, findings = shown.found, shown.findings
    comparison = found if isinstance(found, Comparison) else found.comparison
    pictures = []
    if comparison is not None and shown.ratios:
        pictures.append(picture(reading_charts.fair_ratios(comparison)))
    if isinstance(found, Confrontation) and findings:
        pictures.append(picture(reading_charts.measured_against_predicted(found)))
    return {
        "ratios": sheet_tables.ratios(shown.ratios) if shown.ratios else None,
        "charts": pictures,
        "sentences": _differing(findings),
        "splits": [_split(f) for f in findings if f.blame.split],
        "blame": _blamed(findings),
        "causes": sheet_tables.causes(shown.ratios) if shown.ratios else None,
        "lenses": [
            {
                "name": say("page.lens.heading", lens=lens.name, lamp=lens.known.lamp),
                "sentences": [one for one in lens.sentences if one.key != "page.lens.now"],
                "now": [one for one in lens.sentences if one.key == "page.lens.now"],
                "chart": picture(reading_charts.lens_knowledge(lens.known.knowledge)),
            }
            for lens in shown.lenses
        ],
        "remarks": _steps(shown, others=True),
        "how_to_read": shown.how_to_read,
        "next_steps": _steps(shown),
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

    return say("page.readings.footer", version=__version__, seed=shown.seed, approval=say("procedure.no_approval"))


WIDE, TALL, AXIS, FACE, SENSOR, SCREEN = 360.0, 204.0, 96.0, 96.0, 300.0, 178.0
"""Size of the drawing of the bench, height of the axis in it, and where lit face, sensor and screen stand [1]."""


AS_TALL = (
    "const whole = this.contentDocument.documentElement, fit = () => this.style.height = whole.offsetHeight + 4 + 'px';"
    "new ResizeObserver(fit).observe(whole)"
)
"""What keeps the frame of the card in a notebook as tall as the card, however wide it is."""


def card_text(plan: MeasurementPlan) -> str:
    """Write the card to take along to the readings, in at most 100 columns."""
    lines = []
    for sign, words in card_lines(plan):
        first = f"{sign} " if sign else ""
        lines += numbers.wrap(words, COLUMNS, first=first, then=" " * len(first)) or [""]
    return "\n".join(lines)


def card_html(plan: MeasurementPlan) -> str:
    """Write the card to take along as a page to print, with the bench drawn and a table to fill in."""
    content = frame.filled("card.html", plan=plan, bench=card_bench(plan))
    return frame.page(say("procedure.title"), content, frame.kit())


def procedure_card(plan: MeasurementPlan) -> Drawing:
    """Show the card to take along as a page in a notebook, with a link that saves it for printing.

    Parameters
    ----------
    plan : MeasurementPlan
        How the lamps are to be compared.

    Returns
    -------
    Drawing
        The card; a notebook shows it by itself.

    Examples
    --------
    >>> import lampkit as lk
    >>> card = lk.measurement.plan_measurement(intensity=10, background=2, resolution=0.1)
    >>> lk.page.procedure_card(card).html.startswith("<p><a download")
    True
    """
    written = card_html(plan)
    title = escape(str(say("procedure.title")))
    kept = b64encode(written.encode()).decode()
    html = (
        f'<p><a download="card.html" href="data:text/html;base64,{kept}">{escape(str(say("page.card.save")))}</a></p>'
        f'<iframe title="{title}" srcdoc="{escape(written)}" sandbox="allow-same-origin" onload="{AS_TALL}" '
        'style="box-sizing:border-box;width:100%;max-width:60em;height:84em;border:1px solid currentColor;'
        'background:#fff"></iframe>'
    )
    return Drawing(html, say("procedure.title"))


def card_bench(plan: MeasurementPlan) -> Drawing:
    """Draw lamp, distance, meter and the screen against stray light, from the side.

    Source: the kit's own drawing.
    """
    words = say("page.card.bench", distance=plan.distance)
    floor = TALL - 44
    parts = [
        # bench, and the stands on it
        f'<path d="M8,{floor:g}H{WIDE - 8:g}" stroke="currentColor" stroke-width="2"/>'
        f'<path d="M{FACE - 40:g},{AXIS + 30:g}V{floor:g}M{SENSOR + 24:g},{AXIS + 26:g}V{floor:g}" '
        'stroke="currentColor" stroke-width="5" stroke-opacity="0.55"/>',
        # the light that reaches the sensor, and what the screen stops
        f'<path d="M{FACE:g},{AXIS - 26:g}L{SENSOR:g},{AXIS - 5:g}V{AXIS + 5:g}L{FACE:g},{AXIS + 26:g}Z" '
        'fill="#f2b632" fill-opacity="0.4"/>'
        f'<path d="M{FACE + 4:g},{AXIS - 22:g}L{SCREEN:g},{AXIS - 56:g}M{FACE + 4:g},{AXIS + 22:g}'
        f'L{SCREEN:g},{AXIS + 50:g}" stroke="currentColor" stroke-opacity="0.5" stroke-dasharray="3 4"/>',
        f'<path d="M{FACE:g},{AXIS:g}H{SENSOR:g}" stroke="currentColor" stroke-dasharray="9 3 2 3"/>',
        # the lamp: housing, lens
        f'<path d="M{FACE - 14:g},{AXIS - 34:g}h-34q-26,8 -26,34q0,26 26,34h34z" fill="none" stroke="currentColor" '
        'stroke-width="2"/>'
        f'<path d="M{FACE - 14:g},{AXIS - 34:g}q14,10 14,34q0,24 -14,34z" fill="#d8442a" stroke="currentColor" '
        'stroke-width="1.5"/>'
        f'<circle cx="{FACE - 42:g}" cy="{AXIS:g}" r="9" fill="#f2b632" stroke="currentColor"/>',
        # the screen: a card with a hole on the axis, black on a dark page too
        f'<path d="M{SCREEN - 3:g},{AXIS - 70:g}h6v52h-6zM{SCREEN - 3:g},{AXIS + 18:g}h6V{floor:g}h-6z" fill="#000" '
        'stroke="currentColor"/>',
        # the meter, facing the lamp
        f'<rect x="{SENSOR + 8:g}" y="{AXIS - 30:g}" width="34" height="58" rx="5" fill="none" stroke="currentColor" '
        f'stroke-width="2"/><rect x="{SENSOR:g}" y="{AXIS - 9:g}" width="8" height="18" rx="3" fill="currentColor"/>'
        f'<path d="M{SENSOR:g},{floor + 3:g}l-6,10h12z" fill="currentColor"/>',
        # the distance
        f'<path d="M{FACE:g},{floor + 5:g}v14M{SENSOR:g},{floor + 14:g}v5M{FACE:g},{floor + 15:g}H{SENSOR:g}" '
        'stroke="currentColor"/>'
        f'<path d="M{FACE:g},{floor + 15:g}l9,-4v8zM{SENSOR:g},{floor + 15:g}l-9,-4v8z" fill="currentColor"/>',
        lettered(
            0.5 * (FACE + SENSOR) - 6, floor + 35, say("page.card.distance", distance=plan.distance), "middle", BOLD
        ),
        lettered(4, AXIS - 44, say("page.card.lamp")),
        lettered(SCREEN, 14, say("page.card.screen"), "middle"),
        lettered(SENSOR + 25, AXIS - 38, say("page.card.meter"), "middle"),
        lettered(WIDE - 2, floor + 35, say("page.card.mark"), "end"),
        lettered(SENSOR - 4, AXIS - 24, say("page.card.axis"), "end"),
    ]
    return Drawing(drawing_svg((WIDE, TALL), words, parts, letters=13.0, most=520.0), words, say("page.card.scale"))
