"""What is printed of a lesson and what is shown on a wall: handout, teacher's page and slides, all from one lesson."""

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lampkit import __version__, numbers, statements
from lampkit.errors import InputError
from lampkit.lesson import pictures
from lampkit.lesson.lesson_file import HalfTruth, Lesson, Question, Record, Section, rows, told
from lampkit.page import frame

if TYPE_CHECKING:
    from jinja2 import Environment


@cache
def _surroundings() -> "Environment":
    from markupsafe import Markup

    environment = frame.environment("lampkit.lesson")
    drawn = {name: (lambda draw=draw: Markup(draw())) for name, draw in pictures.PICTURES.items()}
    environment.globals.update(told=told, pictures=drawn, version=__version__, language="en")
    return environment


def _filled(template: str, **content: Any) -> str:
    return _surroundings().get_template(template).render(**content)


def handout(lesson: Lesson) -> str:
    """Write the leaf that each pupil gets: two sides of A4, in black and white, with no answer on it.

    Parameters
    ----------
    lesson : Lesson
        The lesson.

    Returns
    -------
    str
        The page.

    Examples
    --------
    >>> from lampkit.lesson import load
    >>> "Guess" in handout(load())
    True
    """
    on_paper = [(s, [q for q in s.questions if q.on_paper]) for s in lesson.sections]
    return _filled("handout.html", lesson=lesson, sections=[(s, questions) for s, questions in on_paper if questions])


def teachers_page(lesson: Lesson) -> str:
    """Write the page for the teacher: minutes, answers and what each mistake means, what to buy, hazards.

    Parameters
    ----------
    lesson : Lesson
        The lesson.

    Returns
    -------
    str
        The page.

    Examples
    --------
    >>> from lampkit.lesson import load
    >>> "Take care" in teachers_page(load())
    True
    """
    times: list[tuple[Section, float, float, str]] = []
    begin, begin_short = 0.0, 0.0
    for section in lesson.sections:
        if section.after:
            continue
        short = ""
        if section.short:
            short = f"{begin_short:g}–{begin_short + section.minutes:g}"
            begin_short += section.minutes
        times.append((section, begin, begin + section.minutes, short))
        begin += section.minutes
    further = [section for section in lesson.sections if section.after]
    kept = [q for s in lesson.sections for q in s.questions if q.kept and q.options]
    return _filled("teacher.html", lesson=lesson, times=times, further=further, tally=kept[0] if kept else None)


@dataclass(frozen=True)
class Beat:
    """What is on the wall between two keys: lines, a question, its answer, a half-truth, and a picture."""

    kind: str
    lines: tuple[str, ...] = ()
    question: Question | None = None
    tells: bool = False
    card: HalfTruth | None = None
    picture: str = ""
    held: tuple[int, ...] = ()


@dataclass(frozen=True)
class Slide:
    """One section on the wall."""

    title: str
    beats: tuple[Beat, ...]

    @property
    def drawn(self) -> bool:
        """Say whether there is a picture, and one that gives nothing away."""
        return any(beat.picture and not beat.tells for beat in self.beats)


def slides(lesson: Lesson) -> str:
    """Write the presentation: a section a screen, arrow keys, letters of at least 24 px at 1366 x 768.

    Answers come with a key of their own, and are not printed.

    Parameters
    ----------
    lesson : Lesson
        The lesson.

    Returns
    -------
    str
        The page.

    Examples
    --------
    >>> from lampkit.lesson import load
    >>> slides(load()).count("<section")
    17
    """
    first = Slide(lesson.title, (Beat("open", (lesson.question,)), Beat("open", lesson.hazards)))
    cards = [
        Slide(f"“{card.said}”", (Beat("ask", (str(statements.say("lesson.true_or_not")),)), Beat("tell", card=card)))
        for card in lesson.half_truths
    ]
    last = Slide(str(statements.say("lesson.limits")), (Beat("open", lesson.limits),))
    sections = [_slide(section) for section in lesson.sections if not section.after]
    further = [_slide(section) for section in lesson.sections if section.after]
    return _filled("slides.html", lesson=lesson, slides=[first, *sections, *cards, *further, last])


def _slide(section: Section) -> Slide:
    """Lay a section out in beats: first what is said, then each question and its answer, then what is revealed."""
    from markupsafe import Markup

    beats: list[Beat] = [Beat("open", section.screen)]
    for question in section.questions:
        beats.append(Beat("ask", question=question))
        if not question.kept:
            beats.append(Beat("tell", question=question, tells=True))
    shown = len(beats)
    beats += [Beat("tell", section.screen) for _ in section.reveal]
    for i, name in enumerate(section.picture):
        beats[i] = replace(beats[i], picture=Markup(pictures.PICTURES[name]()), held=tuple(range(shown)), tells=False)
    for i, name in enumerate(section.reveal):
        picture = Markup(pictures.PICTURES[name]())
        beats[shown + i] = replace(beats[shown + i], picture=picture, held=(shown + i,), tells=True)
    return Slide(section.title, tuple(beats))


def record_table(record: Record) -> str:
    """Write the own guesses, answers and mistakes as a table; empty where nothing was answered."""
    answered = rows(record)
    return _filled("record_table.html", rows=answered) if answered else ""


def record_page(record: Record) -> str:
    """Write the own guesses, answers and mistakes as a page to keep."""
    return _filled("record.html", lesson=record.lesson, rows=rows(record))


WRITERS = {"handout": handout, "teacher": teachers_page, "slides": slides}
"""By the name of the file that each writes."""


def save(lesson: Lesson, which: tuple[str, ...], folder: Path) -> list[Path]:
    """Write sheets of a lesson into a folder, each whole or not at all."""
    strange = [name for name in which if name not in WRITERS]
    if strange:
        raise InputError(f"there is no sheet '{strange[0]}'", expected=numbers.listed(WRITERS, "or"))
    if folder.exists() and not folder.is_dir():
        raise InputError("this is a file", file=folder, expected="the name of a folder")
    pages = {folder / f"{lesson.name}_{name}.html": WRITERS[name](lesson) for name in which}
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"it cannot be made ({error.strerror})", file=folder, remedy="name another folder with -o"
        ) from None
    for path, page in pages.items():
        frame.save(page, path)
    return list(pages)
