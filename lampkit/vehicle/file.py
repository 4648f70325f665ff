"""The vehicle file as text: found, begun from a starter, parsed as TOML with the line of each key, written back."""

import os
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from lampkit import tables, written_files
from lampkit.errors import Fault, InputError, nearest, refuse

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

NAME = "vehicle.toml"

LARGEST_FILE = 1_000_000
"""Largest vehicle file that is read [byte]; a vehicle of twenty lamps takes about 10 kB."""

LONGEST_NUMBER = 3500
"""Bits of the longest whole number that is looked at [1], some thousand digits; Python writes up to 4300 digits."""

REMEDY = "save it again as plain text, with the encoding UTF-8"

KEY = re.compile(r"""\s*("(?:[^"\\]|\\.)*"|'[^']*'|[\w-]+)\s*([.=].*)$""")
"""A line that begins a key, and the rest of it."""

Lines = Mapping[tuple[str, int], Mapping[str, int]]
"""The line of each key, by section and number of the section; the heading stands under the key ''."""


@dataclass(frozen=True, eq=False)
class WrittenVehicle:
    """A vehicle file as TOML understands it, with the line of each key; nothing in it is checked yet.

    `slips` are the faults of writing that were read as what they can only mean, so that the rest is looked at too.
    """

    file: Path
    document: Mapping[str, Any]
    lines: Lines
    slips: tuple[Fault, ...] = ()


def read(place: str | Path) -> WrittenVehicle:
    """Read the vehicle file of a folder."""
    file = find(place)
    text, slips = _mended(file, text_of(file).replace("\r\n", "\n"))
    return replace(parsed(file, text), slips=slips)


def document(place: str | Path) -> "TOMLDocument":
    """Read a vehicle file as a document that can be changed and written again.

    Parameters
    ----------
    place : str or Path
        The folder that holds vehicle.toml, or that file.

    Returns
    -------
    TOMLDocument
        A mapping that remembers comments, order and layout; nothing in it is checked yet.

    Raises
    ------
    InputError
        There is no such file, or it is no TOML.

    Examples
    --------
    >>> from lampkit import tables
    >>> held = document(tables.folder() / "library_van")
    >>> held["vehicle"]["earth"], held["lens"][0]["name"]
    ('positive', 'rear red lens')
    """
    import tomlkit

    file = find(place)
    text = text_of(file)
    parsed(file, text)
    return tomlkit.parse(text)


def find(place: str | Path) -> Path:
    """Find the vehicle file of a folder, or take the file itself."""
    file, wanted = Path(place), f"a folder that holds {NAME}"
    try:
        if file.is_dir():
            file = file / NAME
            if not file.exists():
                raise InputError(f"there is no {NAME} in this folder", file=place, expected=wanted)
        elif not file.exists():
            raise InputError("there is no such folder", file=place, expected=wanted)
        elif file.suffix != ".toml":
            raise InputError("this is not a vehicle", file=place, expected=wanted)
        if not file.is_file():
            raise InputError("this is not a file", file=file, expected="a text file")
    except OSError as error:
        raise InputError(f"it cannot be read ({error.strerror})", file=place, expected=wanted) from None
    return file


def target(place: str | Path) -> Path:
    """Find the vehicle file of a folder, or name the one that is to be made there."""
    file = Path(place) / NAME if Path(place).is_dir() else Path(place)
    if file.exists():
        return find(file)
    if not file.parent.is_dir():
        raise InputError("there is no such folder", file=file.parent, expected="a folder that is there")
    if file.suffix != ".toml":
        raise InputError("the name of a vehicle file ends in .toml", file=file, expected=f"a folder, or a {NAME}")
    return file


def text_of(file: Path) -> str:
    """Read the text of a vehicle file, line ends as they are written."""
    raw = written_files.raw_of(file, largest=LARGEST_FILE, for_one="vehicle", expected="a text file")
    return written_files.text_of(file, raw, remedy=REMEDY)[0]


def parsed(file: Path, text: str) -> WrittenVehicle:
    """Parse a text as TOML; the file is only named."""
    text = text.replace("\r\n", "\n")
    if "\r" in text and "\n" not in text:
        raise InputError(
            "the lines end with a carriage return alone",
            file=file,
            remedy="save it again with the line ends of Unix or Windows",
        )
    try:
        document = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(file, text, str(error)) from None
    except ValueError:
        raise _too_long(file, text) from None
    except RecursionError:
        raise InputError("the brackets are nested too deeply", file=file, expected="plain keys and lists") from None
    if _holds_too_long(document):
        raise _too_long(file, text)
    if not document:
        raise InputError("the file is empty", file=file, expected="a [vehicle] section and [[lamp]] sections")
    return WrittenVehicle(file, document, lines_of_keys(text))


def _not_toml(file: Path, text: str, message: str) -> InputError:
    found = re.search(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$", message)
    line = int(found.group(1)) if found and found.group(1) else text.rstrip("\n").count("\n") + 1
    said = message[: found.start()] if found else message
    remedy = "text stands between quotation marks, numbers without, and every opened bracket is closed"
    if said.startswith("Cannot overwrite"):
        said, remedy = "the key stands there twice", "keep one of them"
    elif said.startswith("Cannot declare"):
        said, remedy = "the section stands there twice", "write [[lamp]], in double brackets, for what there is more of"
    else:
        said = f"this is not TOML ({said[:1].lower()}{said[1:]})"
    return InputError(said, file=file, line=line, remedy=remedy)


SLIPS: tuple[tuple[str, str, str, str], ...] = (
    (r"(=\s*)(-?\d+),(\d+)(\s*(?:#.*)?)$", r"\1\2.\3\4", "a decimal comma", "a decimal point"),
    (
        r"(=\s*-?\d+(?:\.\d+)?)\s*([A-Za-z%°²/]+\d?)(\s*(?:#.*)?)$",
        r"\1\3",
        "a unit behind a number",
        "the number alone",
    ),
    ("[“”„‟«»]", '"', "printed quotation marks", 'plain ones, as in "red"'),
    (r'(=\s*)"([^"]*?)\s*$', r'\1"\2"', "a quotation mark that is not closed", "one at each end of the text"),
    (r"(=\s*)(true|false|True|False|TRUE|FALSE)(\s*(?:#.*)?)$", "", "true or false in capitals", "true or false"),
    (r"(=\s*)([^\W\d][^\"'=\[\]{}#]*?)(\s*(?:#.*)?)$", r'\1"\2"\3', "text without quotation marks", 'text as in "red"'),
    (r"^(\s*[\w-]+)\s*:\s+(.*)$", r"\1 = \2", "a colon", "an equals sign"),
)
"""Slips of writing in one line: what it looks like, what it can only mean, what it is, and what is right."""

MOST_SLIPS, LONGEST_LINE, LONGEST_MENDED = 50, 300, 100_000
"""Slips of writing after which a text is not mended any further, and letters of a line and a text that may be [1].
Source: own judgement."""


def _mended(file: Path, text: str) -> tuple[str, tuple[Fault, ...]]:
    """Read slips of writing as what they can only mean, each told; a text with other faults is left as it is."""
    lines, slips = text.split("\n"), list[Fault]()
    while len(slips) < MOST_SLIPS and len(text) <= LONGEST_MENDED:
        try:
            tomllib.loads("\n".join(lines))
            break
        except (tomllib.TOMLDecodeError, ValueError, RecursionError) as error:
            found = re.search(r"\(at line (\d+), column \d+\)$", str(error))
            number = int(found.group(1)) if found else 0
            mended = _without_slip(lines[number - 1]) if 0 < number <= len(lines) else None
            if mended is None:
                break
            lines[number - 1], what, right = mended
            key = KEY.match(lines[number - 1])
            named = None if key is None else key.group(1).strip("\"'")
            slips.append(Fault(f"this is not TOML: {what}", file=file, line=number, key=named, expected=right))
    mended_text = "\n".join(lines)
    try:
        parsed(file, mended_text)
    except InputError as error:
        if slips:
            refuse([*slips, *error.faults])
        raise
    return mended_text, tuple(slips)


def _without_slip(line: str) -> tuple[str, str, str] | None:
    """Mend the first slip of a line: the line, what it was, and what is right."""
    for looks, means, what, right in SLIPS if len(line) <= LONGEST_LINE else ():
        if re.search(looks, line):
            changed = re.sub(looks, means, line) if means else re.sub(looks, lambda f: f[0].lower(), line)
            if changed != line:
                return changed, what, right
    return None


def _holds_too_long(held: Any) -> bool:
    if isinstance(held, dict | list):
        return any(map(_holds_too_long, held.values() if isinstance(held, dict) else held))
    return isinstance(held, int) and held.bit_length() > LONGEST_NUMBER


def _too_long(file: Path, text: str) -> InputError:
    found = re.search(rf"[\da-fA-F_]{{{LONGEST_NUMBER // 4},}}", text)
    line = text[: found.start()].count("\n") + 1 if found else None
    return InputError("a number has far too many digits", file=file, line=line, expected="a number of a few digits")


def lines_of_keys(text: str) -> Lines:
    """Find the line of each key; text that tomllib accepted is assumed."""
    found: dict[tuple[str, int], dict[str, int]] = {}
    counts: dict[str, int] = {}
    section, number = "", 0
    inside: Literal["", '"""', "'''"] = ""
    depth = 0
    for n, line in enumerate(text.split("\n"), start=1):
        rest = line
        if not inside and depth == 0:
            heading = re.match(r"\s*(\[\[?)\s*([^\[\]]+?)\s*\]", line)
            key = KEY.match(line)
            if heading:
                section = heading.group(2).strip("\"'")
                counts[section] = number = counts.get(section, -1) + 1
                found[(section, number)] = {"": n}
                parent, _, inner = section.partition(".")
                if inner and parent in counts:
                    found[(parent, counts[parent])].setdefault(inner, n)
                continue
            if key:
                found.setdefault((section, number), {}).setdefault(_name(key.group(1)), n)
                rest = key.group(2)
        inside, depth = _after(rest, inside, depth)
    return found


def last_line(lines: Sequence[str], first: int) -> int:
    """Find the line on which a key ends that begins on one; a heading ends where it begins."""
    inside: Literal["", '"""', "'''"] = ""
    depth = 0
    key = KEY.match(lines[first - 1])
    for n in range(first, len(lines) + 1) if key else ():
        rest = key.group(2) if key and n == first else lines[n - 1]
        inside, depth = _after(rest, inside, depth)
        if not inside and depth <= 0:
            return n
    return first


def _name(written: str) -> str:
    """Read the name of a key, which may stand between quotation marks."""
    return next(iter(tomllib.loads(f"{written} = 0"))) if written[0] in "\"'" else written


def _after(rest: str, inside: Literal["", '"""', "'''"], depth: int) -> tuple[Literal["", '"""', "'''"], int]:
    """Walk along a line: whether a text in triple quotes or a bracket is still open at its end."""
    i = 0
    while i < len(rest):
        three = rest[i : i + 3]
        if inside:
            if inside == '"""' and rest[i] == "\\":
                i += 1
            elif three == inside:
                inside = ""
                i += 2
        elif three == '"""':
            inside = '"""'
            i += 2
        elif three == "'''":
            inside = "'''"
            i += 2
        elif rest[i] in "\"'":
            closed = re.match(r'"(?:[^"\\]|\\.)*"|\'[^\']*\'', rest[i:])
            i += len(closed.group(0)) - 1 if closed else 0
        elif rest[i] == "#":
            break
        else:
            depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(rest[i], 0)
        i += 1
    return inside, depth


VAN = "van"
"""The name under which the demo is a starter, too."""


def starters() -> Mapping[str, str]:
    """List the vehicles to start from: the name of each, and what it is, as the first line of its file says."""
    known = {folder.name: folder for folder in sorted((tables.folder() / "starters").iterdir()) if folder.is_dir()}
    known[VAN] = tables.folder() / "library_van"
    return MappingProxyType({name: _title(folder) for name, folder in known.items()})


def _title(folder: Path) -> str:
    with (folder / NAME).open(encoding="utf-8") as text:
        return text.readline().strip("# \n").partition(". ")[0]


def begin(folder: str | Path, like: str) -> tuple[Path, ...]:
    """Copy a vehicle to start from into a folder, whole or not at all; nothing that stands there is touched."""
    known = starters()
    if like not in known:
        raise InputError(f"there is no vehicle '{like}' to start from", key="--like", expected=nearest(like, known))
    target = Path(folder).expanduser()
    ours = tables.folder() / ("library_van" if like == VAN else f"starters/{like}")
    wanted = {path: target / path.name for path in sorted(ours.iterdir()) if path.is_file() and path.suffix != ".md"}
    if target.exists() and not target.is_dir():
        raise InputError("this is a file", file=target, expected="the name of a folder")
    for place in wanted.values():
        if place.exists() or place.is_symlink():
            raise InputError("this stands there already, and stays as it is", file=place, remedy="name another folder")
    made: list[Path] = []
    try:
        target.mkdir(parents=True, exist_ok=True)
        for source, place in wanted.items():
            raw = source.read_bytes()
            with place.open("xb") as stream:  # a file that appears in the meantime is kept
                made.append(place)
                stream.write(raw)
    except OSError as error:
        _take_back(made)
        why = error.strerror or str(error)
        raise InputError(f"it cannot be written ({why})", file=target, remedy="name another folder") from None
    except KeyboardInterrupt:
        _take_back(made)
        raise
    return tuple(made)


def _take_back(made: list[Path]) -> None:
    for place in made:
        os.unlink(place)
