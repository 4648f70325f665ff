"""The card to take along to the readings: how to compare two lamps, as text and as a page to print and write on."""

from base64 import b64encode
from html import escape

from lampkit import numbers
from lampkit.measurement.procedure import MeasurementPlan, card_lines
from lampkit.page import frame
from lampkit.page.frame import COLUMNS
from lampkit.page.style import BOLD, Drawing, drawing_svg, lettered
from lampkit.statements import say

WIDE, TALL, AXIS, FACE, SENSOR, SCREEN = 360.0, 204.0, 96.0, 96.0, 300.0, 178.0
"""Size of the drawing of the bench, height of the axis in it, and where lit face, sensor and screen stand [1]."""


AS_TALL = (
    "const whole = this.contentDocument.documentElement, fit = () => this.style.height = whole.offsetHeight + 4 + 'px';"
    "new ResizeObserver(fit).observe(whole)"
)
"""What keeps the frame of the card in a notebook as tall as the card, however wide it is."""


def text(plan: MeasurementPlan) -> str:
    """Write the card to take along to the readings, in at most 100 columns."""
    lines = []
    for sign, words in card_lines(plan):
        first = f"{sign} " if sign else ""
        lines += numbers.wrap(words, COLUMNS, first=first, then=" " * len(first)) or [""]
    return "\n".join(lines)


def page(plan: MeasurementPlan) -> str:
    """Write the card to take along as a page to print, with the bench drawn and a table to fill in."""
    content = frame.filled("card.html", plan=plan, bench=bench(plan))
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
    written = page(plan)
    title = escape(str(say("procedure.title")))
    kept = b64encode(written.encode()).decode()
    html = (
        f'<p><a download="card.html" href="data:text/html;base64,{kept}">{escape(str(say("page.card.save")))}</a></p>'
        f'<iframe title="{title}" srcdoc="{escape(written)}" sandbox="allow-same-origin" onload="{AS_TALL}" '
        'style="width:100%;max-width:60em;height:84em;border:1px solid currentColor;background:#fff"></iframe>'
    )
    return Drawing(html, say("procedure.title"))


def bench(plan: MeasurementPlan) -> Drawing:
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
