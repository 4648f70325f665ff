"""A lesson to walk through: questions that answer back, pictures that come after the guess, and one's own record."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import ipywidgets as widgets
import numpy as np
from IPython.display import HTML
from markupsafe import Markup
from numpy.typing import NDArray

from lampkit import numbers, show
from lampkit.errors import InputError
from lampkit.lesson import lesson_file, pictures, quantities, sheets
from lampkit.lesson.lesson_file import Experiment, HalfTruth, Judgement, Question, Record, Section, Worth
from lampkit.measurement import colour_response, fair_ratio, illuminance_log
from lampkit.measurement.fair_ratio import Comparison
from lampkit.notebook import controls
from lampkit.page import live_pictures
from lampkit.plan import agreement
from lampkit.statements import Statement, named, say
from lampkit.vehicle.vehicle import Vehicle

if TYPE_CHECKING:
    import pandas as pd

    from lampkit.sources.warming import Waveform

COLOURS = {Worth.RIGHT: "#009e73", Worth.MISTAKE: "#d55e00", Worth.WRONG: "#d55e00", Worth.KEPT: "currentColor"}
"""Colour beside what is said of an answer; its sign and its words carry it. Source: as for LOOKS."""


class LessonWalk:
    """A lesson, step by step in the cells of a notebook; what is guessed in one step comes back in another."""

    def __init__(self, name: str) -> None:
        self.lesson = lesson_file.load(name)
        self.record = Record(self.lesson)
        self._summaries: list[widgets.HTML] = []

    def step(self, key: str) -> widgets.VBox:
        """Show a section: what is said, the picture, the questions, and once they are settled what comes out."""
        section = self.lesson.section(key)
        before = [Markup(pictures.PICTURES[name]()) for name in section.picture]
        head = _html(controls.filled("lesson_section.html", lines=section.text, pictures=before))
        reveal = _html("")

        def settled() -> None:
            self._retell()
            if all(self.record.done(question) for question in section.questions):
                reveal.value = self._revealed(section)

        asked = [_asked(question, self.record, settled) for question in section.questions]
        whole = widgets.VBox([head, *asked, reveal])
        whole.add_class("lampkit-lesson")
        return whole

    def _revealed(self, section: Section) -> str:
        """Show what a section reveals; the guess stands beside what comes out."""
        kept = next((q for s in self.lesson.sections for q in s.questions if q.key == section.brings_back), None)
        guess = self.record.first(section.brings_back)
        drawn = [
            pictures.faces_out(guess) if name == "faces_out" else pictures.PICTURES[name]() for name in section.reveal
        ]
        meant: Statement | str = ""
        if kept is not None and guess:
            wrong = next((m.reveals for m in kept.mistakes if m.value == guess), "")
            meant = say("lesson.guess_right") if guess == kept.answer else wrong
        return controls.filled("lesson_reveal.html", pictures=[Markup(one) for one in drawn], guess_meant=meant)

    def cards(self) -> widgets.VBox:
        """Show the half-truths as cards to turn."""
        whole = widgets.VBox([_card(card) for card in self.lesson.half_truths])
        whole.add_class("lampkit-lesson")
        return whole

    def experiment(self, key: str) -> widgets.VBox:
        """Show what to do by hand, a field for the results of all groups, and what was to be expected after it."""
        told = {e.key: e for e in self.lesson.experiments}
        if key not in told:
            raise InputError(f"the lesson has no experiment '{key}'", expected=numbers.listed(told, "or"))
        return _experiment(told[key])

    def summary(self) -> widgets.VBox:
        """Show one's own guesses, answers and mistakes so far, to save as a page."""
        place = _html("")
        self._summaries.append(place)
        self._retell()
        whole = widgets.VBox([place])
        whole.add_class("lampkit-lesson")
        return whole

    def _retell(self) -> None:
        for place in self._summaries:
            place.value = _own_page(self.record)


def walk_through(name: str = "white_behind_red") -> LessonWalk:
    """Open a lesson, to be shown step by step.

    Parameters
    ----------
    name : str
        The lesson.

    Returns
    -------
    LessonWalk
        Its method `step` shows a section, `cards` the half-truths, `experiment` what to do by hand and `summary` the
        own answers.

    Examples
    --------
    >>> import lampkit as lk
    >>> lesson = lk.notebook.walk_through("white_behind_red")
    >>> len(lesson.step("guess").children)
    3
    """
    return LessonWalk(name)


def _html(value: str) -> widgets.HTML:
    return widgets.HTML(value, layout={"width": "auto", "margin": "2px"})


def _asked(question: Question, record: Record, settled: Callable[[], None]) -> widgets.VBox:
    """Ask one question, judge the answer, and say what a mistake reveals; the second wrong try tells the answer."""
    label = widgets.HTML(controls.filled("question.html", question=question.text))
    said, wrong = widgets.HTML(), controls.notice()
    keep = say("lesson.keep_words" if question.kind == "words" else "lesson.keep")
    check = controls.button(keep if question.kept else say("lesson.check"), "check")
    field = _field(question)

    def answer() -> None:
        said.value = ""
        given = _given(question, field)
        if isinstance(given, Statement):
            said.value = controls.filled("judged.html", mark="", colour="currentColor", words=given)
            return
        judged = lesson_file.judge(question, given)
        record.put(question, given if isinstance(given, str) else numbers.general(given), judged.worth)
        said.value = _judged(question, judged, record.tries(question.key))
        settled()

    controls.when_pressed(check, wrong, answer)
    whole = widgets.VBox([label, field, widgets.HBox([check]), wrong, said])
    whole.add_class("lampkit-question")
    whole.add_class(f"lampkit-question-{question.key.replace('_', '-')}")
    return whole


def _field(question: Question) -> widgets.Widget:
    """Make what the answer is put in; it carries the question as its name for a screen reader."""
    if question.kind == "choice":
        return widgets.RadioButtons(
            options=list(question.options),
            value=None,
            description=str(say("lesson.answer")),
            tooltip=question.text,
            layout={"width": "auto"},
        )
    if question.kind == "number":
        unit = question.unit if question.unit != "1" else ""
        return widgets.Text(
            placeholder=str(say("lesson.a_number")),
            description=f"{say('lesson.answer')} [{unit}]" if unit else str(say("lesson.answer")),
            tooltip=question.text,
            style={"description_width": "initial"},
            layout={"width": "18em"},
        )
    return widgets.Textarea(
        placeholder=str(say("lesson.own_words")),
        description=str(say("lesson.answer")),
        tooltip=question.text,
        rows=4,
        style={"description_width": "initial"},
        layout={"width": "auto"},
    )


def _given(question: Question, field: widgets.Widget) -> str | float | Statement:
    """Read the answer, or say what is missing."""
    if question.kind == "number":
        return controls.number(field, say("lesson.your_answer"), question.unit)
    if question.kind == "choice":
        return say("lesson.choose_first") if field.value is None else str(field.value)
    return str(field.value).strip() or say("lesson.write_first")


def _judged(question: Question, judged: Judgement, tries: int) -> str:
    said: Statement | str = judged.said
    if judged.worth in (Worth.WRONG, Worth.MISTAKE):
        if tries >= lesson_file.TRIES:
            said = say("lesson.told_now", said=said, answer=lesson_file.told(question), why=question.why)
        else:
            said = say("lesson.try_again", said=said)
    mark, colour = lesson_file.MARKS[judged.worth], COLOURS[judged.worth]
    return controls.filled("judged.html", mark=mark, colour=colour, head=named(judged.worth), words=said)


def _card(card: HalfTruth) -> widgets.VBox:
    """Show a half-truth; its answer comes when the card is turned."""
    back, turn = _html(""), controls.button(say("lesson.turn"), "refresh")

    def turned(_: object) -> None:
        back.value = controls.filled("lesson_card_turned.html", card=card)

    turn.on_click(turned)
    front = _html(controls.filled("lesson_card.html", card=card))
    whole = widgets.VBox(
        [front, widgets.HBox([turn]), back], layout={"border": "1px solid #888", "padding": "4px 10px"}
    )
    whole.add_class("lampkit-card")
    return whole


def _experiment(told: Experiment) -> widgets.VBox:
    """Show an experiment, and what was to be expected of it only after the groups put in what they found."""
    box = widgets.Textarea(
        placeholder=str(say("lesson.results_hint")),
        description=str(say("lesson.results")),
        rows=4,
        style={"description_width": controls.LABEL},
        layout={"width": "auto"},
    )
    work, wrong, place = controls.button(say("lesson.work_out"), "check"), controls.notice(), _html("")

    def worked() -> None:
        place.value = ""
        mean, spread, doubt, count = group_results(box.value, squared=told.squared)
        found = say("lesson.class_result", mean=mean, spread=spread, doubt=doubt, groups=count)
        place.value = controls.filled("lesson_results.html", experiment=told, found=found)

    controls.when_pressed(work, wrong, worked)
    head = _html(controls.filled("lesson_experiment.html", experiment=told))
    whole = widgets.VBox([head, box, widgets.HBox([work]), wrong, place])
    whole.add_class("lampkit-lesson")
    whole.add_class("lampkit-experiment")
    return whole


def group_results(text: str, *, squared: bool = False) -> tuple[float, float, float, int]:
    """Read a result of each group, one number or two to divide; give mean, spread, doubt of the mean, and count."""
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        words = line.replace(",", ".").split("/")
        if not line.strip():
            continue
        try:
            values = [float(word) for word in words]
        except ValueError:
            values = []
        if len(values) not in (1, 2) or not all(math.isfinite(v) and v > 0 for v in values):
            raise InputError(
                f"'{line.strip()}' is not a result",
                key=f"line {number}",
                expected="a number, as in 0.57, or two to divide, as in 45 / 60",
            )
        found.append(values[0] if len(values) == 1 else (values[0] / values[1]) ** (2 if squared else 1))
    if len(found) < 2:
        raise InputError("a spread needs two groups", key="results", expected="one line for each group")
    spread = float(np.std(found, ddof=1))
    return float(np.mean(found)), spread, spread / math.sqrt(len(found)), len(found)


def _own_page(record: Record) -> str:
    """Show the own guesses and answers as a table, with a link that saves it as a page."""
    table = Markup(sheets.record_table(record))
    page = sheets.record_page(record)
    return controls.filled("lesson_own_page.html", table=table, page=page, name=record.lesson.name)


def show_whole(table: "pd.DataFrame") -> HTML:
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
    return HTML(controls.filled("whole.html", rows=len(table), table=Markup(show.written(table))))


def show_rise(waveform: "Waveform", name: str) -> HTML:
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
    return HTML(live_pictures.time_course(waveform.time, waveform.light / waveform.settled_light, name))


def show_words(*sentences: Statement | str) -> HTML:
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
    return HTML(controls.filled("sentences.html", sentences=sentences))


def background_rule() -> widgets.VBox:
    """Show what a background makes of two readings, with sliders for the background and for the true ratio.

    Returns
    -------
    VBox
        The panel: two sliders and the picture.

    Examples
    --------
    >>> import lampkit as lk
    >>> background, true, picture = lk.notebook.background_rule().children[:3]
    >>> background.value, true.value = 1.0, 0.5
    >>> "divided as read 0.75" in picture.value
    True
    """
    background = controls.slider(say("lesson.background_slider"), "1", 1.0, 0.0, 3.0, 0.05, 2)
    true = controls.slider(say("lesson.true_slider"), "1", 0.25, 0.1, 2.0, 0.05, 2)
    place = widgets.HTML(layout={"width": "auto", "max_width": "560px", "margin": "2px"})

    def drawn(*_: object) -> None:
        place.value = pictures.law(background.value, true.value)

    for slider in (background, true):
        slider.observe(drawn, "value")
    drawn()
    return controls.panel("background-rule", background, true, place)


def show_three_ways(comparison: Comparison) -> HTML:
    """Show each ratio as read, with the background off, and corrected for colour, and say what the correction is.

    Parameters
    ----------
    comparison : Comparison
        What `compare_readings` gave.

    Returns
    -------
    HTML
        The table, and where the correction comes from.

    Examples
    --------
    The invented readings of the library van.

    >>> import lampkit as lk
    >>> path = lk.tables.folder() / "library_van" / "readings.csv"
    >>> shown = lk.notebook.show_three_ways(lk.measurement.compare_readings(str(path), draws=500))
    >>> shown.data.count("<tr>")
    9
    """
    import pandas as pd

    table = pd.DataFrame(
        {
            str(say("lesson.lamp")): ratio.lamp,
            str(say("lesson.new_lamp")): ratio.new,
            str(say("lesson.as_read")): ratio.naive,
            str(say("lesson.background_off")): ratio.uncorrected[1],
            str(say("lesson.colour_factor")): float(np.median(ratio.mismatch)),
            str(say("lesson.corrected")): ratio.ratio[1],
            str(say("lesson.at_least")): ratio.ratio[0],
            str(say("lesson.at_most")): ratio.ratio[2],
        }
        for ratio in comparison.ratios
    )
    if all(ratio.colour_response is None for ratio in comparison.ratios):
        said = say("lesson.one_factor", limits=quantities.colour_doubt())
    else:
        said = say("lesson.many_factors")
    return HTML(show.written(table, [str(said)]))


def compare_without_lens(vehicle: Vehicle, *, draws: int = 4000, seed: int = 1) -> Comparison:
    """Compare the readings in the folder of a vehicle that were taken with the lens removed.

    Parameters
    ----------
    vehicle : Vehicle
        The vehicle, with its readings.csv beside its file.
    draws : int [1]
        How many possible garages.
    seed : int [1]
        The seed.

    Returns
    -------
    Comparison
        The ratios of the bare light sources.

    Raises
    ------
    InputError
        The log cannot be used, or no lamp was read without its lens with two light sources.

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> bare = lk.notebook.compare_without_lens(van, draws=300)
    >>> [ratio.new for ratio in bare.ratios]
    ['red LED A', 'amber LED A']

    Source: as for lampkit.measurement.compare_readings.
    """
    log = illuminance_log.load_log(vehicle.file.parent / agreement.FILE)
    offered = {offer.name: offer.source for offer in vehicle.offers}
    bare = replace(log, readings=tuple(r for r in log.readings if not r.lens_fitted))
    light: dict[tuple[str, str], NDArray[np.float64]] = {}
    for lamp in vehicle.lamps:
        mine = tuple(r for r in bare.readings if r.lamp == lamp.name)
        fitted = {r.source: offered.get(r.source, lamp.filament) for r in mine}
        one = replace(bare, readings=mine)
        light |= colour_response.light_at_meter(one, fitted, {lamp.name: lamp.lens}, draws=draws, seed=seed)
    return fair_ratio.compare_readings(bare, light=light, draws=draws, seed=seed)
