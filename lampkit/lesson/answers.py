"""What an answer is worth: right, a known mistake, or off; and the record of a pupil's own guesses and answers."""

from dataclasses import dataclass, field
from enum import Enum

from lampkit.lesson.lesson_file import Lesson, Question
from lampkit.statements import Statement, say

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
