"""The card to take along to the readings: how to compare two lamps, as text and as a page to print."""

from textwrap import wrap

from lampkit import __version__
from lampkit.measurement.procedure import MeasurementPlan, card_lines
from lampkit.page import sheet_page
from lampkit.statements import say

COLUMNS = 100
"""Width of the text in letters [1]."""


def text(plan: MeasurementPlan) -> str:
    """Write the card to take along to the readings, in at most 100 columns."""
    lines = []
    for sign, words in card_lines(plan):
        first = f"{sign} " if sign else ""
        lines += wrap(words, COLUMNS, initial_indent=first, subsequent_indent=" " * len(first)) or [""]
    return "\n".join(lines)


def page(plan: MeasurementPlan) -> str:
    """Write the card to take along as a page to print."""
    title = str(say("procedure.title"))
    shown = sheet_page.filled("procedure.html", title=title, plan=plan, last=say("procedure.no_approval"))
    return sheet_page.page(title, shown, f"Computed by lampkit {__version__}.")
