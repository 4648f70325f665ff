"""The one error that is meant for the person at the bench."""

import difflib
from collections.abc import Iterable
from pathlib import Path


class InputError(ValueError):
    """Something the user gave cannot be used, told as one sentence that says where, what and what to do.

    Parameters
    ----------
    what : str
        What is wrong, in plain words, without a full stop.
    file : str or Path, optional
        The file in which it stands.
    line : int, optional [1]
        The line of that file, counted from one.
    key : str, optional
        The key, column or argument that holds the value.
    expected : str, optional
        What would have been right.
    remedy : str, optional
        What to do about it, when that does not follow from what was expected.
    """

    def __init__(
        self,
        what: str,
        *,
        file: str | Path | None = None,
        line: int | None = None,
        key: str | None = None,
        expected: str | None = None,
        remedy: str | None = None,
    ) -> None:
        self.what, self.file, self.line, self.key = what, file, line, key
        self.expected, self.remedy = expected, remedy
        place = ", ".join(
            part
            for part in (
                str(file) if file is not None else "",
                f"line {line}" if line is not None else "",
                key or "",
            )
            if part
        )
        sentence = f"{place}: {what}" if place else what
        if expected:
            sentence += f"; {'' if expected.startswith('did you mean') else 'expected '}{expected}"
        if remedy:
            sentence += f"; {remedy}"
        super().__init__(sentence + ".")


def nearest(word: str, known: Iterable[str]) -> str:
    """Words an 'expected' clause for a name that is not known: the nearest known names, or all when few."""
    names = list(dict.fromkeys(known))
    by_lower = {name.lower(): name for name in names}
    close = [by_lower[c] for c in difflib.get_close_matches(word.lower(), list(by_lower), n=3, cutoff=0.5)]
    if close and len(names) > 8:
        return "did you mean " + " or ".join(f"'{name}'" for name in close)
    return "one of " + ", ".join(f"'{name}'" for name in names)
