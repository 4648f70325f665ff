"""The card to take along to the readings: how to compare two lamps, as text and as a page to print."""

from textwrap import wrap

from lampkit import __version__
from lampkit.measurement.procedure import CAUTIONS, MeasurementPlan
from lampkit.page import sheet_page

COLUMNS = 100
"""Width of the text in letters [1]."""


def text(plan: MeasurementPlan) -> str:
    """Write the card to take along to the readings, in at most 100 columns."""
    lines = []
    for line in plan.card.splitlines():
        lead = line.partition(" ")[0]
        indent = len(lead) + 1 if lead == "-" or lead.rstrip(".").isdigit() else 0
        lines += wrap(line, COLUMNS, subsequent_indent=" " * indent) or [""]
    return "\n".join(lines)


def page(plan: MeasurementPlan) -> str:
    """Write the card to take along as a page to print."""
    lines = [line for line in plan.card.splitlines() if line]
    steps = [line.partition(". ")[2] for line in lines if line.partition(".")[0].isdigit()]
    title = lines[0].capitalize()
    shown = sheet_page.filled(
        "procedure.html", title=title, verdict=lines[1], steps=steps, cautions=CAUTIONS, last=lines[-1]
    )
    return sheet_page.page(title, shown, f"Computed by lampkit {__version__}.")
