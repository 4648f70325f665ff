"""The kit still gives the answers that it gave, up to what `renamed.toml` excuses with a reason."""

import difflib
import json
import math
import re
import sys
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import take

SHOWN = 40
RELATIVE = 1e-9
# A share as small as this is what rounding leaves of nothing, and another order of adding changes it.
ROUNDING = 1e-14
MISSING = object()
LENGTH = "(length)"

Steps = tuple[str, ...]


@dataclass(frozen=True)
class Excuses:
    """The entries of `renamed.toml` that concern one answer."""

    renamed: Sequence[Mapping[str, str]] = ()
    words_changed: Sequence[Mapping[str, str]] = ()
    lines_added: Sequence[Mapping[str, str]] = ()

    def moved(self, path: Steps) -> Steps:
        """Find where the value at an old path stands now."""
        for entry in self.renamed:
            old, new = entry["old"].split("/"), entry["new"].split("/")
            if fits(old, path[: len(old)]):
                stars = iter([step for pattern, step in zip(old, path, strict=False) if pattern == "*"])
                return (*(next(stars) if step == "*" else step for step in new), *path[len(old) :])
        return path

    def text(self, path: Steps, was: Any, now: Any) -> bool:
        """Tell whether the text at an old path may differ, or differ in this way, or the list at it grow."""
        here = [entry for entry in self.words_changed if "path" in entry and fits(entry["path"].split("/"), path)]
        if any("now" not in entry for entry in here):
            return True
        text = now.get("text") if isinstance(now, dict) else now
        if not here or not isinstance(text, str):
            return False
        pattern = re.escape(text)
        for part in dict.fromkeys(entry["now"] for entry in here):
            choices = [part, *(entry["was"] for entry in here if entry["now"] == part)]
            pattern = pattern.replace(re.escape(part), f"(?:{'|'.join(map(re.escape, choices))})")
        return re.fullmatch(pattern, was) is not None

    def line(self, line: str) -> bool:
        """Tell whether a line may differ."""
        return any(like(entry["line"], line) for entry in self.words_changed if "line" in entry)

    def added(self, line: str) -> bool:
        """Tell whether a line may have come."""
        return self.line(line) or any(like(entry["line"], line) for entry in self.lines_added)


def fits(pattern: Sequence[str], path: Sequence[str]) -> bool:
    return len(pattern) == len(path) and all(p in ("*", step) for p, step in zip(pattern, path, strict=True))


def like(pattern: str, text: str) -> bool:
    return re.fullmatch(".*".join(map(re.escape, pattern.split("*"))), text) is not None


def leaves(value: Any, path: Steps = ()) -> Iterator[tuple[Steps, Any]]:
    """Walk to every leaf; an empty object or list is one too."""
    if isinstance(value, dict) and value:
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        # The length stands for the items that may have come to the list.
        yield (*path, LENGTH), len(value)
        for index, inner in enumerate(value):
            yield from leaves(inner, (*path, str(index)))
    else:
        yield path, value


def at(value: Any, path: Steps) -> Any:
    for step in path:
        if isinstance(value, dict):
            value = value.get(step, MISSING)
        elif isinstance(value, list) and step == LENGTH:
            value = len(value)
        elif isinstance(value, list) and step.isdigit() and int(step) < len(value):
            value = value[int(step)]
        else:
            return MISSING
    return value


def is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def is_nothing(value: Any) -> bool:
    return value is None or (isinstance(value, float) and math.isnan(value))


def same(old: Any, new: Any) -> bool:
    if is_nothing(old):
        return is_nothing(new)
    if is_number(old):
        return is_number(new) and math.isclose(old, new, rel_tol=RELATIVE, abs_tol=ROUNDING)
    if isinstance(old, dict):
        return isinstance(new, dict)  # it was empty, and may hold something now
    if isinstance(old, str) and isinstance(new, dict):
        new = new.get("text")
    return type(old) is type(new) and old == new


def differences(old: Any, new: Any, excuses: Excuses) -> list[str]:
    """List what of an old answer is missing or differs in a new one; what is new besides is no difference."""
    found = []
    for path, was in leaves(old):
        now = at(new, excuses.moved(path))
        if path[-1:] == (LENGTH,) and was and isinstance(at(new, excuses.moved(path)[:-1]), dict):
            continue  # a list whose items have names now: each of them is looked for by itself
        grown = path[-1:] == (LENGTH,) and isinstance(now, int) and now > was
        if same(was, now) or ((grown or isinstance(was, str)) and now is not MISSING and excuses.text(path, was, now)):
            continue
        found.append(f"{'/'.join(path)}: {was!r} -> {'missing' if now is MISSING else repr(now)}")
    return found


def line_differences(old: str, new: str, excuses: Excuses) -> list[str]:
    """List the lines that went, came or changed."""
    before, after = old.splitlines(), new.splitlines()
    found = []
    for kind, i, j, k, m in difflib.SequenceMatcher(None, before, after, autojunk=False).get_opcodes():
        if kind != "equal":
            found += [f"line {n + 1} went: {before[n]}" for n in range(i, j) if not excuses.line(before[n])]
            found += [f"line {n + 1} came: {after[n]}" for n in range(k, m) if not excuses.added(after[n])]
    return found


def table() -> dict[str, list[dict[str, str]]]:
    return tomllib.loads((take.HERE / "renamed.toml").read_text(encoding="utf-8"))


def excuses_for(name: str) -> Excuses:
    entries = {
        kind: [entry for entry in listed if like(entry.get("answer", "*"), name)] for kind, listed in table().items()
    }
    return Excuses(**entries)


def frozen(name: str) -> str:
    return (take.ANSWERS / name).read_text(encoding="utf-8")


@pytest.mark.parametrize("name", take.names())
def test_the_answer_is_still_the_same(name: str) -> None:
    new = take.answer(name)
    if Path(name).suffix == ".json":
        found = differences(json.loads(frozen(name)), json.loads(new), excuses_for(name))
    else:
        found = line_differences(frozen(name), new, excuses_for(name))
    assert not found, "\n".join([f"{len(found)} differences in {name}, the first {SHOWN}:", *found[:SHOWN]])


def test_every_frozen_answer_is_asked_for() -> None:
    assert sorted(path.name for path in take.ANSWERS.iterdir()) == sorted(take.names())


def test_every_excuse_has_a_reason_and_something_to_excuse() -> None:
    assert set(table()) <= {"renamed", "words_changed", "lines_added"}
    for kind, entries in table().items():
        for entry in entries:
            assert entry["reason"].strip(), entry
            answers = [name for name in take.names() if like(entry.get("answer", "*"), name)]
            if "line" in entry:
                lines = [line for name in answers if name.endswith(".txt") for line in frozen(name).splitlines()]
                known = any(like(entry["line"], line) for line in lines)
                assert known == (kind == "words_changed"), f"is a frozen line like {entry['line']!r}? {known}"
                continue
            pattern = entry["old" if kind == "renamed" else "path"].split("/")
            paths = [p for n in answers if n.endswith(".json") for p, _ in leaves(json.loads(frozen(n)))]
            assert any(fits(pattern, path[: len(pattern)]) for path in paths), f"no frozen path is like {pattern}"


# --- the comparison itself ----------------------------------------------------------------------------------------

OLD = {"lamps": [{"ratio": [0.5, 1.5], "why": "It is red.", "price": None, "fits": True}]}


@pytest.mark.parametrize(
    ("lamp", "count"),
    [
        ({"ratio": [0.5, 1.5 * (1 + 1e-12)], "why": "It is red.", "price": None, "fits": True, "more": 1}, 0),
        ({"ratio": [0.5, 1.5], "why": {"key": "red", "values": {}, "text": "It is red."}, "price": None, "fits": 1}, 1),
        ({"ratio": [0.5, 1.50001], "why": {"key": "red", "text": "It is blue."}, "price": 0.0, "fits": False}, 4),
        ({"ratio": [0.5], "price": None, "fits": True}, 3),
        ({"ratio": [0.5, 1.5, 2.5], "why": "It is red.", "price": math.nan, "fits": True}, 1),
        ({"ratio": "0.5", "why": "It is red.", "price": None, "fits": True}, 3),
    ],
    ids=["nearly equal and more", "a flag", "everything", "missing", "one more", "another kind"],
)
def test_differences_are_found(lamp: dict[str, Any], count: int) -> None:
    found = differences(OLD, {"lamps": [lamp]}, Excuses())
    assert len(found) == count, found


def test_excuses_follow_a_value_and_pass_a_text() -> None:
    new = {"lamps": [{"light": {"limits": [0.5, 1.5]}, "why": "Red.", "price": None, "fits": True}]}
    excuses = Excuses(
        renamed=[{"old": "lamps/*/ratio", "new": "lamps/*/light/limits"}], words_changed=[{"path": "lamps/*/why"}]
    )
    assert not differences(OLD, new, excuses)
    new["lamps"][0]["light"]["limits"][1] = 1.6
    del new["lamps"][0]["why"]
    assert len(differences(OLD, new, excuses)) == 2


def test_an_excuse_may_be_for_a_part_of_a_text_only() -> None:
    old = {"why": "100 % of it, less than 1 % of that, 100 % of the rest."}
    entry = {"path": "why", "was": "100 %", "now": "above 99 %"}
    excuses = Excuses(words_changed=[entry, {"path": "why", "was": "less than 1 %", "now": "below 1 %"}])
    assert not differences(old, {"why": {"text": "above 99 % of it, below 1 % of that, 100 % of the rest."}}, excuses)
    assert differences(old, {"why": "above 99 % of it, below 1 % of this, 100 % of the rest."}, excuses)
    assert differences(old, {"why": "99 % of it, below 1 % of that, 100 % of the rest."}, excuses)
    assert differences(old, {}, excuses)


def test_lines_are_compared() -> None:
    old = "Lamp\n  1 red  0.5\nCaution: ask.\n"
    assert not line_differences(old, old, Excuses())
    assert len(line_differences(old, "Lamp\n  1 red  0.6\nCaution: ask.\n", Excuses())) == 2
    assert len(line_differences(old, "Lamp\n  1 red  0.5\n", Excuses())) == 1
    excuses = Excuses(words_changed=[{"line": "Caution: *"}])
    assert not line_differences(old, "Lamp\n  1 red  0.5\nCaution: ask a tester.\n", excuses)
    assert len(line_differences(old, "Lamp\n  1 red  0.6\nCaution: ask a tester.\n", excuses)) == 2
