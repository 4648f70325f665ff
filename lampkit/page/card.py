"""The card to take along to the readings: how to compare two lamps, as text and as a page to print."""

from textwrap import wrap

from lampkit.measurement.procedure import MeasurementPlan, card_lines
from lampkit.page import frame
from lampkit.page.frame import COLUMNS
from lampkit.statements import say


def text(plan: MeasurementPlan) -> str:
    """Write the card to take along to the readings, in at most 100 columns."""
    lines = []
    for sign, words in card_lines(plan):
        first = f"{sign} " if sign else ""
        lines += wrap(words, COLUMNS, initial_indent=first, subsequent_indent=" " * len(first)) or [""]
    return "\n".join(lines)


def page(plan: MeasurementPlan) -> str:
    """Write the card to take along as a page to print."""
    return frame.page(say("procedure.title"), frame.filled("card.html", plan=plan), frame.kit())
