"""What a lesson needs: questions that answer back, and pictures of light in, lens and light out."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING

import ipywidgets as widgets

from lampkit import show
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import Lens
from lampkit.notebook import controls
from lampkit.page import live_picture, small_charts
from lampkit.sources.light_source import LightSource

if TYPE_CHECKING:
    import pandas as pd
    from IPython.display import HTML

    from lampkit.sources.warming import Waveform

MOST_DIGITS = 3
"""Significant digits in which a right answer is told [1]. Source: own judgement."""


def pick_one(question: str, options: Sequence[str], right: str, because: str | Mapping[str, str]) -> widgets.VBox:
    """Ask for one of a few answers, then say whether it is right, and why.

    Parameters
    ----------
    question : str
        The question.
    options : sequence of str
        The answers to choose from.
    right : str
        The right one.
    because : str or mapping of str to str
        Why; as a mapping, what to say to each answer.

    Returns
    -------
    VBox
        The question, which shows itself when it is the last line of a cell.

    Raises
    ------
    InputError
        The right answer is not among the options, or one of them gets no reason.
    """
    if right not in options:
        raise InputError(f"the right answer '{right}' is not among the options", key="right")
    reasons = dict.fromkeys(options, because) if isinstance(because, str) else dict(because)
    missing = [option for option in options if option not in reasons]
    if missing:
        raise InputError(f"'{missing[0]}' gets no reason", key="because", expected="a reason for each answer")
    buttons = widgets.RadioButtons(options=list(options), value=None, layout={"width": "auto"})
    said = widgets.HTML()
    check = controls.button("Check my answer", "check")

    def answer(_: object) -> None:
        if buttons.value is None:
            said.value = _verdict(None, "Choose one of the answers first: a guess is worth more than no answer.")
        else:
            said.value = _verdict(buttons.value == right, reasons[buttons.value])

    check.on_click(answer)
    box = widgets.VBox([_asked(question), buttons, check, said])
    box.add_class("lampkit-question")
    return box


def work_out(question: str, answer: float, unit: str, because: str, *, within: float = 0.1) -> widgets.VBox:
    """Ask for a number, then say whether it is right, and why; the second wrong try tells it.

    Parameters
    ----------
    question : str
        The question.
    answer : float [1]
        The right number, in `unit`.
    unit : str
        Its unit, '1' for a plain number, '%' for percent.
    because : str
        How it comes about.
    within : float [1]
        Relative difference that still counts as right.

    Returns
    -------
    VBox
        The question, which shows itself when it is the last line of a cell.
    """
    target = float(answer)
    box = widgets.Text(placeholder="a number", description=f"answer [{unit}]", layout={"width": "18em"})
    said, wrong = widgets.HTML(), controls.notice()
    check = controls.button("Check my answer", "check")
    tries = [0]
    told = f"{target:.{MOST_DIGITS}g} {'' if unit == '1' else unit}".strip()

    def judge() -> None:
        said.value = ""
        given = controls.number(box, "your answer")
        if abs(given - target) <= within * abs(target):
            said.value = _verdict(True, f"It is {told}. {because}")
        elif unit == "%" and abs(100 * given - target) <= within * abs(target):
            said.value = _verdict(False, "The share is right, but it was asked for in percent: multiply by 100.")
        elif unit == "1" and abs(given / 100 - target) <= within * abs(target):
            said.value = _verdict(False, "That is the percentage; a plain number was asked for: divide by 100.")
        else:
            side = "Too high" if given > target else "Too low"
            tries[0] += 1
            rest = f": it is {told}. {because}" if tries[0] > 1 else ". Try once more; then it is told."
            said.value = _verdict(False, f"{side}{rest}")

    check.on_click(controls.guarded(wrong, judge))
    whole = widgets.VBox([_asked(question), widgets.HBox([box, check], layout={"flex_flow": "row wrap"}), wrong, said])
    whole.add_class("lampkit-question")
    return whole


def _asked(question: str) -> widgets.HTML:
    return widgets.HTML(
        f'<div style="line-height:1.4;font-weight:600;color:{small_charts.INK}">{escape(question)}</div>'
    )


def _verdict(right: bool | None, words: str) -> str:
    mark = {True: "✓ Right.", False: "✗ Not so.", None: ""}[right]
    colour = {True: "#009e73", False: "#d55e00", None: "currentColor"}[right]
    return (
        f'<div class="lampkit-verdict" role="status" style="border-left:4px solid {colour};padding:2px 8px;'
        f'line-height:1.4;color:{small_charts.INK}"><b>{mark}</b> {escape(words)}</div>'
    )


def show_through(sources: Sequence[LightSource], lens: Lens) -> "HTML":
    """Show light in, lens and light out for a few light sources, side by side; the percentages are left to work out.

    Parameters
    ----------
    sources : sequence of LightSource
        The light sources.
    lens : Lens
        The lens.

    Returns
    -------
    HTML
        The picture.

    Source: as for lampkit.live_picture.through_lens.
    """
    from IPython.display import HTML

    return HTML(live_picture.through_lens(sources, lens, percentages=False))


def show_for_the_eye(sources: Sequence[LightSource]) -> "HTML":
    """Show radiation, the weights of the eye, and the light that comes of it, side by side.

    Parameters
    ----------
    sources : sequence of LightSource
        The light sources.

    Returns
    -------
    HTML
        The picture.

    Source: as for lampkit.live_picture.for_the_eye.
    """
    from IPython.display import HTML

    return HTML(live_picture.for_the_eye(sources))


def show_whole(table: "pd.DataFrame") -> "HTML":
    """Show every row of a long table, in a box that scrolls down.

    Parameters
    ----------
    table : DataFrame
        The table.

    Returns
    -------
    HTML
        The table; the box takes the keyboard's arrow keys.
    """
    from IPython.display import HTML

    return HTML(
        f'<div tabindex="0" role="region" aria-label="table of {len(table)} rows" '
        f'style="max-height:32em;overflow:auto">{show.written(table)}</div>'
    )


def show_rise(waveform: "Waveform", name: str) -> "HTML":
    """Show how the light of a filament comes up, beside an LED.

    Parameters
    ----------
    waveform : Waveform
        The filament, from lampkit.filament_timing.switch_on.
    name : str
        The filament lamp.

    Returns
    -------
    HTML
        The picture.

    Source: as for lampkit.small_charts.time_course.
    """
    from IPython.display import HTML

    return HTML(small_charts.time_course(waveform.time, waveform.light / waveform.settled_light, name))


def show_words(*sentences: object) -> "HTML":
    """Show sentences as a list that wraps between words.

    Parameters
    ----------
    *sentences : object
        The sentences: text, or statements.

    Returns
    -------
    HTML
        The list.
    """
    from IPython.display import HTML

    return HTML(f"<ul>{''.join(f'<li>{escape(str(sentence))}</li>' for sentence in sentences)}</ul>")
