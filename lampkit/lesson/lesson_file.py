"""A lesson as data: sections, questions with their known mistakes, half-truths and experiments, read and worked out.

What a lesson says about a number it never says in digits: it asks one of `quantities`, in a template of jinja.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, dataclass, field, fields
from enum import Enum
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar, get_args

from lampkit import numbers, tables
from lampkit.errors import InputError, nearest
from lampkit.lesson.quantities import QUANTITIES
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from jinja2.sandbox import ImmutableSandboxedEnvironment

Kind = Literal["choice", "number", "words"]
"""How a question is answered."""

Part = TypeVar("Part", "Question", "Section", "HalfTruth", "Experiment")


@dataclass(frozen=True)
class Mistake:
    """One wrong answer that is known to come up, and what it reveals."""

    value: str | float
    reveals: str


@dataclass(frozen=True)
class Question:
    """One question, its right answer, and the mistakes that teach something."""

    key: str
    kind: Kind
    text: str
    answer: str | float
    mistakes: tuple[Mistake, ...]
    options: tuple[str, ...] = ()
    unit: str = "1"
    within: float = 0.05
    why: str = ""
    kept: bool = False
    on_paper: bool = False


@dataclass(frozen=True)
class Section:
    """A part of a lesson: what is said, what is shown before and after its questions, and how long it takes."""

    key: str
    title: str
    minutes: float
    questions: tuple[Question, ...]
    short: bool = False
    after: bool = False
    text: tuple[str, ...] = ()
    screen: tuple[str, ...] = ()
    teacher: str = ""
    picture: tuple[str, ...] = ()
    reveal: tuple[str, ...] = ()
    brings_back: str = ""


@dataclass(frozen=True)
class HalfTruth:
    """Something that is often said, what is right about it, and the answer with numbers."""

    said: str
    right: str
    answer: str


@dataclass(frozen=True)
class Experiment:
    """Something to do by hand, with the numbers to expect and how far to trust them."""

    key: str
    title: str
    minutes: float
    formula: str
    result: str
    doubt: str
    needs: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    columns: tuple[str, ...] = ()
    rows: tuple[str, ...] = ()
    expected: tuple[str, ...] = ()
    squared: bool = False


@dataclass(frozen=True)
class Lesson:
    """A whole lesson."""

    name: str
    title: str
    question: str
    sections: tuple[Section, ...]
    half_truths: tuple[HalfTruth, ...]
    experiments: tuple[Experiment, ...]
    buy: tuple[str, ...]
    hazards: tuple[str, ...]
    limits: tuple[str, ...]
    provenance: Mapping[str, Any]

    def section(self, key: str) -> Section:
        """Find a section by its key."""
        for one in self.sections:
            if one.key == key:
                return one
        raise InputError(f"the lesson has no section '{key}'", expected=nearest(key, [s.key for s in self.sections]))

    @property
    def minutes(self) -> float:
        """Count the minutes of the lesson itself."""
        return sum(s.minutes for s in self.sections if not s.after)

    @property
    def short_minutes(self) -> float:
        """Count the minutes of the short form."""
        return sum(s.minutes for s in self.sections if s.short)


def names() -> tuple[str, ...]:
    """List the lessons that ship with the kit."""
    return tuple(sorted(path.stem for path in (tables.folder() / "lessons").glob("*.toml")))


@cache
def load(name: str = "white_behind_red") -> Lesson:
    """Read a lesson that ships with the kit, and work out every number in it.

    Parameters
    ----------
    name : str
        The lesson.

    Returns
    -------
    Lesson
        The lesson, its sentences and answers filled in.

    Raises
    ------
    InputError
        There is no such lesson.

    Examples
    --------
    >>> load("white_behind_red").section("guess").questions[0].kept
    True
    """
    if name not in names():
        raise InputError(f"there is no lesson '{name}'", expected=nearest(name, names()))
    return read(tables.folder() / "lessons" / f"{name}.toml")


def read(file: Path) -> Lesson:
    """Read a lesson from a file."""
    try:
        with file.open("rb") as stream:
            told = tomllib.load(stream)
    except OSError as error:
        raise InputError(f"it cannot be read ({error.strerror})", file=file) from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"it is not TOML ({error})", file=file) from None
    try:
        return _lesson(file.stem, told)
    except KeyError as error:
        raise InputError(f"'{error.args[0]}' is missing", file=file) from None


def _lesson(name: str, told: Mapping[str, Any]) -> Lesson:
    return Lesson(
        name,
        told["title"],
        told["question"],
        tuple(_section(one) for one in told["section"]),
        tuple(_filled(HalfTruth, one) for one in told.get("half_truth", ())),
        tuple(_filled(Experiment, one) for one in told.get("experiment", ())),
        _each_written(told.get("buy", [])),
        _each_written(told.get("hazards", [])),
        _each_written(told.get("limits", [])),
        told["provenance"],
    )


def _filled(kind: type[Part], told: Mapping[str, Any], **worked: Any) -> Part:
    """Make a part of a lesson from what its file tells, sentences filled in, and from what was worked out of it."""
    held = {one.name: _each_written(told[one.name]) for one in fields(kind) if one.name in told} | worked
    for one in fields(kind):
        if one.default is MISSING and one.name not in held:
            raise KeyError(one.name)
    return kind(**held)


def _each_written(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(map(written, value))
    return written(value) if isinstance(value, str) else value


def _section(told: Mapping[str, Any]) -> Section:
    return _filled(Section, told, questions=tuple(_question(one) for one in told.get("question", ())))


def _question(told: Mapping[str, Any]) -> Question:
    kind: Kind = told["kind"]
    if kind not in get_args(Kind):
        raise InputError(f"'{kind}' is no kind of question", key=told["key"], expected=nearest(kind, get_args(Kind)))
    number = kind == "number"
    mistakes = tuple(
        Mistake(worked_out(one["value"]) if number else written(one["value"]), written(one["reveals"]))
        for one in told.get("mistake", ())
    )
    answer = worked_out(told["answer"]) if number else written(told["answer"]) if kind == "choice" else ""
    asked = _filled(Question, told, answer=answer, mistakes=mistakes)
    strange = [value for value in (answer, *(m.value for m in mistakes)) if value not in asked.options]
    if kind == "choice" and strange:
        expected = numbers.listed(asked.options)
        raise InputError(f"'{strange[0]}' is not among the options", key=told["key"], expected=expected)
    return asked


@cache
def _surroundings() -> "ImmutableSandboxedEnvironment":
    """Make the surroundings in which a lesson is filled in: `quantities`, the writers of numbers, and nothing else."""
    from jinja2 import StrictUndefined
    from jinja2.sandbox import ImmutableSandboxedEnvironment

    environment = ImmutableSandboxedEnvironment(undefined=StrictUndefined)
    environment.globals.clear()
    environment.globals.update(QUANTITIES)
    environment.filters.update(numbers.FILTERS)
    return environment


def written(template: str) -> str:
    """Fill in what a lesson says."""
    from jinja2 import TemplateError

    try:
        return _surroundings().from_string(template).render()
    except TemplateError as error:
        raise InputError(f"{error} in '{template[:60]}'", expected=f"one of {', '.join(QUANTITIES)}") from None


def worked_out(expression: str | float) -> float:
    """Work out a number that a lesson asks for."""
    from jinja2 import TemplateError

    try:
        found = _surroundings().compile_expression(str(expression), undefined_to_none=False)()
        return float(found)  # type: ignore[arg-type]
    except (TemplateError, TypeError) as error:
        raise InputError(f"{error} in '{expression}'", expected=f"one of {', '.join(QUANTITIES)}") from None


MISTAKEN = 0.06
"""Relative difference up to which a number counts as a known mistake [1]. Source: own judgement."""

TRIES = 2
"""Wrong tries after which the answer is told [1]. Source: own judgement."""


class Worth(Enum):
    """What an answer is worth."""

    RIGHT = "right"
    MISTAKE = "mistake"
    WRONG = "wrong"
    KEPT = "kept"


MARKS = {Worth.RIGHT: "✓", Worth.MISTAKE: "✗", Worth.WRONG: "✗", Worth.KEPT: "☐"}
"""The sign of each, which needs no colour."""


@dataclass(frozen=True)
class Judgement:
    """What an answer is worth, and what there is to say about it."""

    worth: Worth
    said: Statement | str


def judge(question: Question, given: str | float) -> Judgement:
    """Judge an answer to a question.

    Parameters
    ----------
    question : Question
        The question.
    given : str or float [1]
        One of its options, a number in its unit, or words.

    Returns
    -------
    Judgement
        What the answer is worth, and what there is to say about it.

    Examples
    --------
    >>> from lampkit.lesson.lesson_file import load
    >>> upside_down = judge(load("white_behind_red").section("k").questions[0], 1.76)
    >>> upside_down.worth.value
    'mistake'
    """
    if question.kept or question.kind == "words":
        return Judgement(Worth.KEPT, question.why or say("lesson.kept"))
    if question.kind == "choice":
        if given == question.answer:
            return Judgement(Worth.RIGHT, question.why)
        reveals = next((m.reveals for m in question.mistakes if m.value == given), "")
        return Judgement(Worth.MISTAKE, reveals) if reveals else Judgement(Worth.WRONG, say("lesson.not_that"))
    return _judge_number(question, float(given), float(question.answer))


def _judge_number(question: Question, given: float, right: float) -> Judgement:
    if abs(given - right) <= question.within * abs(right):
        return Judgement(Worth.RIGHT, say("lesson.it_is", answer=told(question), why=question.why))
    off = [(abs(given - float(m.value)), m) for m in question.mistakes]
    near = [one for one in off if one[0] <= max(MISTAKEN * abs(float(one[1].value)), 1e-9)]
    if near:
        return Judgement(Worth.MISTAKE, min(near, key=lambda one: one[0])[1].reveals)
    if given < 0:
        return Judgement(Worth.WRONG, say("lesson.below_zero"))
    if question.unit == "%" and abs(100 * given - right) <= question.within * right:
        return Judgement(Worth.WRONG, say("lesson.in_percent"))
    if question.unit == "1" and abs(given / 100 - right) <= question.within * right:
        return Judgement(Worth.WRONG, say("lesson.plain_number"))
    return Judgement(Worth.WRONG, say("lesson.too_high") if given > right else say("lesson.too_low"))


def told(question: Question) -> str:
    """Write the right answer with its unit, to the digits that its tolerance leaves."""
    from lampkit import numbers

    if question.kind != "number":
        return str(question.answer)
    digits = 1 if question.within >= 0.3 else 2 if float(question.answer) < 100 else 3
    return f"{numbers.figure(float(question.answer), digits)} {'' if question.unit == '1' else question.unit}".strip()


@dataclass
class Record:
    """What a pupil guessed and answered in a lesson, in the order in which it came."""

    lesson: Lesson
    given: dict[str, list[tuple[str, Worth]]] = field(default_factory=dict)

    def put(self, question: Question, given: str, worth: Worth) -> None:
        """Write an answer down."""
        self.given.setdefault(question.key, []).append((given, worth))

    def first(self, key: str) -> str:
        """Give the first answer to a question; empty where there was none."""
        return self.given[key][0][0] if key in self.given else ""

    def last(self, key: str) -> Worth | None:
        """Give what the last answer to a question was worth."""
        return self.given[key][-1][1] if key in self.given else None

    def tries(self, key: str) -> int:
        """Count the answers to a question that were not right."""
        return sum(worth in (Worth.MISTAKE, Worth.WRONG) for _, worth in self.given.get(key, ()))

    def done(self, question: Question) -> bool:
        """Say whether a question is settled: right, kept, or wrong so often that the answer was told."""
        return self.last(question.key) in (Worth.RIGHT, Worth.KEPT) or self.tries(question.key) >= TRIES


@dataclass(frozen=True)
class RecordRow:
    """One question of a record: every answer with its sign, and what the mistakes among them revealed."""

    section: str
    question: str
    given: tuple[tuple[str, str], ...]
    revealed: str


def rows(record: Record) -> list[RecordRow]:
    """List what was answered, in the order of the lesson."""
    found = []
    for section in record.lesson.sections:
        for question in section.questions:
            given = record.given.get(question.key, [])
            if not given:
                continue
            unit = f" {question.unit}" if question.kind == "number" and question.unit != "1" else ""
            said = [judge(question, float(words) if question.kind == "number" else words) for words, _ in given]
            revealed = dict.fromkeys(str(one.said) for one in said if one.worth is Worth.MISTAKE)
            marked = tuple((MARKS[worth], f"{words}{unit}") for words, worth in given)
            found.append(RecordRow(section.title, question.text, marked, " ".join(revealed)))
    return found
