"""What a lesson needs: questions that answer back, and pictures of light in, lens and light out."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import ipywidgets as widgets

from lampkit import show
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import Lens
from lampkit.notebook import controls
from lampkit.page import live_pictures
from lampkit.sources.light_source import LightSource
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    import pandas as pd
    from IPython.display import HTML

    from lampkit.sources.warming import Waveform


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

    Examples
    --------
    >>> import lampkit as lk
    >>> asked = lk.notebook.pick_one("Which passes red?", ["red", "green"], right="red", because="It is red.")
    >>> type(asked).__name__
    'VBox'
    """
    if right not in options:
        raise InputError(f"the right answer '{right}' is not among the options", key="right")
    reasons = dict.fromkeys(options, because) if isinstance(because, str) else dict(because)
    missing = [option for option in options if option not in reasons]
    if missing:
        raise InputError(f"'{missing[0]}' gets no reason", key="because", expected="a reason for each answer")
    buttons = widgets.RadioButtons(options=list(options), value=None, layout={"width": "auto"})
    said = widgets.HTML()
    check = controls.button(say("lesson.check"), "check")

    def answer(_: object) -> None:
        if buttons.value is None:
            said.value = _judged(None, say("lesson.choose_first"))
        else:
            said.value = _judged(buttons.value == right, reasons[buttons.value])

    check.on_click(answer)
    return _question(question, buttons, check, said)


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

    Examples
    --------
    >>> import lampkit as lk
    >>> asked = lk.notebook.work_out("How many lumens are left of 200?", 50, "lm", "A quarter passes.")
    >>> type(asked).__name__
    'VBox'
    """
    target = float(answer)
    box = controls.entry(say("lesson.answer"), unit, "", say("lesson.number"))
    box.style.description_width, box.layout.width = "", "18em"
    said, wrong = widgets.HTML(), controls.notice()
    check = controls.button(say("lesson.check"), "check")
    tries = [0]
    told = say("lesson.told", answer=target, unit=unit)

    def judge() -> None:
        said.value = ""
        given = controls.number(box, say("lesson.your_answer"), unit)
        if abs(given - target) <= within * abs(target):
            said.value = _judged(True, say("lesson.it_is", told=told, because=because))
        elif unit == "%" and abs(100 * given - target) <= within * abs(target):
            said.value = _judged(False, say("lesson.percent_wanted"))
        elif unit == "1" and abs(given / 100 - target) <= within * abs(target):
            said.value = _judged(False, say("lesson.number_wanted"))
        else:
            side = say("lesson.too_high" if given > target else "lesson.too_low")
            tries[0] += 1
            at_last = say("lesson.told_at_last", side=side, told=told, because=because)
            said.value = _judged(False, at_last if tries[0] > 1 else say("lesson.once_more", side=side))

    check.on_click(controls.guarded(wrong, judge))
    return _question(question, widgets.HBox([box, check], layout={"flex_flow": "row wrap"}), wrong, said)


def _question(question: str, *parts: widgets.Widget) -> widgets.VBox:
    box = widgets.VBox([widgets.HTML(controls.filled("question.html", question=question)), *parts])
    box.add_class("lampkit-question")
    return box


def _judged(right: bool | None, words: Statement | str) -> str:
    return controls.filled("judged.html", right=right, words=words)


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

    Examples
    --------
    >>> import lampkit as lk
    >>> picture = lk.notebook.show_through([lk.sources.filament("P21W")], lk.lenses.load("red"))
    >>> picture.data.count("<svg")
    1
    """
    from IPython.display import HTML

    return HTML(live_pictures.through_lens(sources, lens, percentages=False))


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

    Examples
    --------
    >>> import lampkit as lk
    >>> picture = lk.notebook.show_for_the_eye([lk.sources.filament("P21W"), lk.sources.filament("R5W")])
    >>> picture.data.count("<svg")
    2
    """
    from IPython.display import HTML

    return HTML(live_pictures.for_the_eye(sources))


def show_whole(table: "pd.DataFrame") -> "HTML":
    """Show every row of a long table, in a box that scrolls down and takes the keyboard's arrow keys.

    Parameters
    ----------
    table : DataFrame
        The table.

    Returns
    -------
    HTML
        The table.

    Examples
    --------
    >>> import lampkit as lk
    >>> import pandas as pd
    >>> lk.notebook.show_whole(pd.DataFrame({"lens": ["red", "amber"]})).data.count("<td")
    2
    """
    from IPython.display import HTML
    from markupsafe import Markup

    return HTML(controls.filled("whole.html", rows=len(table), table=Markup(show.written(table))))


def show_rise(waveform: "Waveform", name: str) -> "HTML":
    """Show how the light of a filament comes up, beside an LED.

    Parameters
    ----------
    waveform : Waveform
        The filament after its switch closed.
    name : str
        The filament lamp.

    Returns
    -------
    HTML
        The picture.

    Examples
    --------
    >>> import lampkit as lk
    >>> wire = lk.sources.hot_wire_of_rating(voltage=13.5, power=25, temperature=2800)
    >>> "my lamp" in lk.notebook.show_rise(lk.sources.switch_on(wire, duration=0.2), "my lamp").data
    True
    """
    from IPython.display import HTML

    return HTML(live_pictures.time_course(waveform.time, waveform.light / waveform.settled_light, name))


def show_words(*sentences: Statement | str) -> "HTML":
    """Show sentences as a list that wraps between words.

    Parameters
    ----------
    *sentences : Statement or str
        The sentences.

    Returns
    -------
    HTML
        The list.

    Examples
    --------
    >>> import lampkit as lk
    >>> lk.notebook.show_words("Red passes.", "Green does not.").data
    '<ul><li>Red passes.</li><li>Green does not.</li></ul>'
    """
    from IPython.display import HTML

    return HTML(controls.filled("sentences.html", sentences=sentences))
