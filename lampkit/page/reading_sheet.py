"""Readings on paper: as text, as a section of the job sheet, as a page of their own."""

from collections.abc import Sequence
from html import escape
from textwrap import wrap
from typing import TYPE_CHECKING, Any

from lampkit import __version__, numbers
from lampkit.measurement import probing
from lampkit.measurement.fair_ratio import Comparison, FairRatio
from lampkit.measurement.lens_identification import LEARNT, spread_left
from lampkit.measurement.shortfall import FACTORS
from lampkit.page import lens_chart, reading_charts, sheet_page
from lampkit.page.reading_charts import causes, ratio_words
from lampkit.page.style import svg
from lampkit.plan.agreement import Confrontation, Finding, LensKnowledge
from lampkit.statements import named
from lampkit.uncertainty import sampling

if TYPE_CHECKING:
    from markupsafe import Markup

COLUMNS = 100
"""Width of the text in letters [1]."""

HOW_TO_READ = (
    "Read, say, 0.8 (0.7 to 1.0) as: most likely 0.8 times the light of the old lamp, and with 95 % probability "
    "between 0.7 and 1.0 times, net of the background and corrected for distance and for the meter's colour response. "
    "The naive ratio is what dividing the raw readings would have said."
)
"""What stands under the ratios. Source: the kit's own wording."""

CAUTION = "A reading in a garage is no approval: that is for the rules where you drive, and for a licensed tester."
"""What stands at the end. Source: the kit's own wording."""

_BLOCK = 6
"""Ratios in one table of causes [1]: as many as fit in COLUMNS."""


def text(found: Comparison | Confrontation) -> str:
    """Write readings, and what was made of them, in at most 100 columns."""
    comparison = _comparison(found)
    lines: list[str] = []
    if comparison is not None:
        lines += [*_ratio_lines(comparison.ratios), "", *wrap(HOW_TO_READ, COLUMNS), ""]
        lines += [line for r in comparison.ratios for line in _item(r.sentence)]
        lines += ["", "What makes the ratios uncertain: standard uncertainty in percent of the ratio [%]"]
        lines += _cause_lines(comparison.ratios)
    if isinstance(found, Confrontation):
        lines += _finding_lines(found.findings)
        for known in found.lenses:
            lines += ["", f"What was learnt of {known.knowledge.lens.name} ({known.lamp})"[:COLUMNS]]
            lines += [line for sentence in lens_sentences(known) for line in _item(sentence)]
    if found.remarks:
        lines += ["", "Remarks", *(line for remark in found.remarks for line in _item(str(remark)))]
    return "\n".join([*lines, "", *wrap(f"Caution: {CAUTION}", COLUMNS)])


def _comparison(found: Comparison | Confrontation) -> Comparison | None:
    return found if isinstance(found, Comparison) else found.comparison


def _item(sentence: object) -> list[str]:
    return wrap(str(sentence), COLUMNS, initial_indent="- ", subsequent_indent="  ")


def _cut(words: str, width: int) -> str:
    return words if len(words) <= width else f"{words[: width - 1].rstrip()}…"


def _ratio_lines(ratios: Sequence[FairRatio]) -> list[str]:
    lines = [
        f"{'':4}{'new against old':38}{'fair ratio, 95 % [1]':27}{'naive [1]':>10}{'old [cd]':>10}{'new [cd]':>10}",
        "-" * COLUMNS,
    ]
    lamp = None
    for number, r in enumerate(ratios, start=1):
        if r.lamp != lamp:
            lines.append(_cut(r.lamp, COLUMNS))
        lamp = r.lamp
        words = ratio_words(r.ratio, "no limit")
        lines.append(
            f"{number:>2}  {_cut(f'{r.new} against {r.old}', 37):38}{words:27}{numbers.figure(r.naive):>10}"
            f"{numbers.figure(float(r.intensity_old[1])):>10}{numbers.figure(float(r.intensity_new[1])):>10}".rstrip()
        )
    return lines


def _cause_lines(ratios: Sequence[FairRatio]) -> list[str]:
    lines = []
    for start in range(0, len(ratios), _BLOCK):
        rows = _cause_rows(ratios[start : start + _BLOCK], start)
        lines.append(f"{'ratio':28}" + "".join(f"{heading.split(' ')[-1]:>11}" for heading, _ in rows[0][1]))
        lines += [f"{name:28}" + "".join(f"{value:>11}" for _, value in cells) for name, cells in rows]
    return lines


def _cause_rows(ratios: Sequence[FairRatio], start: int) -> list[tuple[str, list[tuple[str, str]]]]:
    """Causes that matter to a ratio in two digits, the others together; a column a ratio."""
    found = [{cause: 100.0 * u for cause, u, _ in causes(r.budget)} for r in ratios]
    whole = [100.0 * abs(r.budget.standard_uncertainty / (r.budget.value or 1.0)) for r in ratios]
    names = dict.fromkeys(cause for one in found for cause in one)
    matter = [n for n in names if any(one.get(n, 0.0) > 0.05 * all_ for one, all_ in zip(found, whole, strict=True))]
    matter.sort(key=lambda n: -max(one.get(n, 0.0) for one in found))
    rest = [sum(v**2 for n, v in one.items() if n not in matter) ** 0.5 for one in found]
    values = [(n, [one.get(n, 0.0) for one in found]) for n in matter]
    values += [("smaller causes", rest), ("all together", whole)]
    headings = [f"ratio {start + i}" for i in range(1, len(ratios) + 1)]
    return [(n, [(h, numbers.figure(v)) for h, v in zip(headings, row, strict=True)]) for n, row in values]


def _finding_lines(findings: Sequence[Finding]) -> list[str]:
    if not findings:
        return []
    lines = ["", "Beside the prediction"]
    lines += [f"{'':4}{'light source':25}{'measured [1]':25}{'predicted [1]':25}{'E_n [1]':>7}  verdict", "-" * COLUMNS]
    for number, f in enumerate(findings, start=1):
        words = ratio_words(f.ratio.ratio, "no limit")
        e_n = _signed(f.agreement.normalised_error)
        cells = f"{_cut(f.ratio.new, 24):25}{words:25}{numbers.interval(f.predicted):25}{e_n:>7}"
        lines.append(f"{number:>2}  {cells}  {named(f.agreement.verdict)}")
    lines += [line for f in findings for line in _item(f"{f.ratio.lamp}, {f.ratio.new}: {f.agreement.sentence}")]
    lines += ["", "What is to blame: ratio = lens x lumens x beam"]
    lines += [f"{'':4}{'':10}" + "".join(f"{name + ' [1]':28}" for name in FACTORS).rstrip(), "-" * COLUMNS]
    for number, f in enumerate(findings, start=1):
        if f.blame is None:
            lines += wrap(f"{number:>2}  {_unexplained(f)}", COLUMNS, subsequent_indent="    ")
            continue
        for label, rows in (("before", f.blame.before), ("after", f.blame.after)):
            tag = f"{number:>2}" if label == "before" else ""
            lines.append(f"{tag:4}{label:10}" + "".join(f"{numbers.interval(row):28}" for row in rows).rstrip())
    return lines + [line for f in findings if f.blame for line in _item(_blame_words(f))]


def _signed(number: float) -> str:
    return "" if number != number else f"{round(number, 2) + 0.0:.2f}"


def _blame_words(f: Finding) -> str:
    return "" if f.blame is None else f"{f.ratio.lamp}, {f.ratio.new}: {f.blame.sentence}"


def _unexplained(f: Finding) -> str:
    return (
        f"{f.ratio.lamp}, {f.ratio.new}: nothing that is believed of lens, lumens and beam explains this ratio; check "
        "which line is which lamp, the distances and the claimed lumens."
    )


def lens_sentences(known: LensKnowledge) -> list[str]:
    """Say what was learnt of a lens, what it makes of the light sources, and what to read next.

    Source: the kit's own wording; the next reading as for lampkit.probing.next_reading.
    """
    knowledge = known.knowledge
    owner = knowledge.lens.name
    said = []
    for belief in knowledge.lens.beliefs:
        if belief.spread == 0 or belief.shape == "fixed":
            continue
        if (left := spread_left(knowledge, owner, belief.name)) < LEARNT:
            before = sampling.interval(knowledge.before.values[owner, belief.name])
            after = sampling.interval(knowledge.garage.values[owner, belief.name], knowledge.garage.weights)
            unit = "" if belief.unit == "1" else f" {belief.unit}"
            said.append(
                f"The {belief.name} is {numbers.interval(after)}{unit}; before it was believed to be "
                f"{numbers.interval(before)}{unit}, so {100 * left:.0f} % of the spread is left."
            )
    said += map(str, knowledge.remarks)
    said += [
        f"With what is now known, {r.source.name} gives {numbers.interval(r.ratio)} of the filament's light."
        for r in known.assessment.results
    ]
    probes = {s.name: s for s in (*knowledge.sources, *(r.source for r in known.assessment.results))}
    if any(b.spread > 0 and b.shape != "fixed" for b in knowledge.lens.beliefs):
        best = probing.next_reading(knowledge, list(probes.values())).iloc[0]
        said.append(
            f"To know the lens better, read {best['probe']} next, with the lens fitted and removed: of the light "
            f"sources at hand it would tell most ({best['information [bit]']:.1f} bit)."
        )
    return said


def content(found: Comparison | Confrontation | None) -> dict[str, Any]:
    """Fill the section of the readings."""
    if found is None:
        return {}
    comparison = _comparison(found)
    ratios = comparison.ratios if comparison is not None else ()
    findings = found.findings if isinstance(found, Confrontation) else ()
    pictures = []
    if comparison is not None and ratios:
        pictures.append(
            _picture(reading_charts.fair_ratios(comparison), reading_charts.describe_fair_ratios(comparison))
        )
    if isinstance(found, Confrontation) and findings:
        words = reading_charts.describe_measured_against_predicted(found)
        pictures.append(_picture(reading_charts.measured_against_predicted(found), words))
    splits = [
        _picture(
            reading_charts.split(f.blame, title=f"{f.ratio.lamp}: {f.ratio.new}"),
            f"{f.ratio.lamp}, {f.ratio.new}. {reading_charts.describe_split(f.blame)}",
        )
        for f in findings
        if f.blame is not None
    ]
    return {
        "introduction": HOW_TO_READ if ratios else "No lamp was read with two light sources.",
        "ratios": [
            {"name": f"{i}. {r.lamp}: {r.new}", "cells": _cells(r, findings[i - 1] if findings else None)}
            for i, r in enumerate(ratios, start=1)
        ],
        "charts": pictures,
        "sentences": [f"{f.ratio.lamp}, {f.ratio.new}: {f.agreement.sentence}" for f in findings]
        or [r.sentence for r in ratios],
        "advice": [r.sentence for r in ratios] if findings else [],
        "splits": splits,
        "blame": [_blame_words(f) if f.blame is not None else _unexplained(f) for f in findings],
        "causes": [{"name": name, "cells": cells} for name, cells in _cause_rows(ratios, 0)] if ratios else [],
        "lenses": [
            {
                "name": f"What was learnt of {known.knowledge.lens.name} ({known.lamp})",
                "sentences": lens_sentences(known),
                "chart": _picture(
                    lens_chart.lens_knowledge(known.knowledge),
                    lens_chart.describe_lens_knowledge(known.knowledge),
                ),
            }
            for known in (found.lenses if isinstance(found, Confrontation) else ())
        ],
        "remarks": found.remarks,
    }


def _cells(r: FairRatio, finding: Finding | None) -> list[tuple[str, str]]:
    cells = [
        ("fair ratio [1]", ratio_words(r.ratio)),
        ("naive [1]", numbers.figure(r.naive)),
        ("old [cd]", numbers.figure(float(r.intensity_old[1]))),
        ("new [cd]", numbers.figure(float(r.intensity_new[1]))),
    ]
    if finding is not None:
        cells += [
            ("predicted [1]", numbers.interval(finding.predicted)),
            ("E_n [1]", _signed(finding.agreement.normalised_error)),
            ("verdict", str(named(finding.agreement.verdict))),
        ]
    return cells


def _picture(chart: "reading_charts.Figure", description: str) -> "Markup":
    from markupsafe import Markup

    return Markup(svg(chart, description))


def section(found: Comparison | Confrontation | None) -> str:
    """Write the section of the readings for the job sheet."""
    return sheet_page.filled("readings.html", content=content(found)).strip()


def page(found: Comparison | Confrontation, title: str) -> str:
    """Write the readings as one page that needs nothing else."""
    comparison = _comparison(found)
    seed = "" if comparison is None else f" with seed {comparison.seed}; the same seed gives the same"
    return sheet_page.page(
        title, f"<h1>{escape(title)}</h1>\n{section(found)}", f"Computed by lampkit {__version__}{seed}. {CAUTION}"
    )
