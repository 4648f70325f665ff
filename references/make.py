"""Makes three pages of reference out of what stands elsewhere.

    python references/make.py sources references/sources.md       each source: what it gives, how known, what holds it
    python references/make.py guide references/vehicle_file.md    every key of the vehicle file, out of its schema
    python references/make.py functions functions.html            every public name, on one page that needs no network

The last takes the extra `docs`.
"""

import ast
import html
import importlib
import inspect
import json
import re
import sys
import textwrap
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))
PACKAGE = ROOT / "lampkit"


class Source(NamedTuple):
    """One entry of the bibliography."""

    key: str
    text: str

    @property
    def name(self) -> str:
        """What it is: its first sentence, in which a number or an initial has its own point."""
        # The short forms of journals and first names begin with a capital: their points end no sentence.
        end = re.search(r"((?:\b[a-z][\w-]*|\d[\w/]*|\)))\. (?=[A-Z0-9])|: ", self.text)
        return self.text[: end.end(1) if end[1] else end.start()] if end else self.text.rstrip(".")

    @property
    def known(self) -> str:
        """How far its text was seen, in the words of the bibliography."""
        words = ("text not seen", "read second hand", "read in part", "abstract read", "from memory", "read")
        found = [(place.start(), word) for word in words if (place := re.search(rf"\b{word}\b", self.text, re.I))]
        # Where parts of it are known in several ways all are told, the one of its first words first.
        several = list(dict.fromkeys(word for _, word in sorted(found)))
        if "read" in several and any(word in several for word in words[1:4]) and len(several) > 1:
            several.remove("read")
        return "; ".join(several) or "a definition"

    def cited_in(self, text: str) -> bool:
        """Tell whether a text names this source, by its key or as people write it."""
        parts = [re.escape(part) for part in self.key.split("-")]
        spelled = r"\b" + r"\b.{0,40}?\b".join(parts) + r"\b"
        number = re.fullmatch(r"un-r(\d+)", self.key)
        if number:
            spelled += rf"|UN Regulations? No\. {number[1]}\b"
        return re.search(spelled, text, re.IGNORECASE) is not None


def bibliography() -> list[Source]:
    """Read the entries of the bibliography."""
    text = (ROOT / "references" / "bibliography.md").read_text(encoding="utf-8")
    entries = re.findall(r"^- \*\*([a-z0-9-]+)\*\* (.*(?:\n  .*)*)", text, re.MULTILINE)
    return [Source(key, " ".join(words.split())) for key, words in entries]


def table_sources() -> dict[str, str]:
    """Give for each table all that it cites: for the whole, and row by row."""
    from lampkit import tables

    found = {}
    for path in sorted((ROOT / "data").glob("*/*.csv")):
        if path.parent.name != "library_van":  # the demo is invented
            held = tables.load(path.parent.name, path.stem)
            rows = " | ".join(map(str, dict.fromkeys(held["source"]))) if "source" in held.columns else ""
            found[f"{path.parent.name}/{path.stem}"] = f"{held.provenance['source']} | {rows}"
    return found


def printed() -> dict[str, str]:
    """Give for each file of printed values the sources of them all."""
    found = {}
    for path in sorted((ROOT / "tests" / "published").glob("*.toml")):
        told = tomllib.loads(path.read_text(encoding="utf-8"))["check"]
        found[f"tests/published/{path.name}"] = " | ".join(check["source"] for check in told)
    return found


def sources() -> str:
    """Write what each source gives, how it is known, and which tests hold what was taken from it."""
    tables_of, printed_of = table_sources(), printed()
    code = {path: path.read_text(encoding="utf-8") for path in sorted(PACKAGE.rglob("*.py"))}
    told_in = {path: "\n".join(re.findall(r"Source: (.*(?:\n +\S.*)*)", text)) for path, text in code.items()}
    tests = {
        str(path.relative_to(ROOT)): path.read_text(encoding="utf-8")
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
    }
    lines = [
        "# Sources",
        "",
        "Made by `python references/make.py sources references/sources.md` from the bibliography, the provenance",
        "of the tables, the lines `Source:` of the code and the printed values. *Gives*: tables under `data/`, and",
        "modules whose functions come from it; a dash where it is a check only, or stands behind a judgement.",
        "*Held by*: files of printed values that cite it, tests that name it or load its tables, and those of the",
        "modules that cite it.",
        "",
        "| source | how known | gives | held by |",
        "|---|---|---|---|",
    ]
    for source in bibliography():
        held = [name for name, text in tables_of.items() if source.cited_in(text)]
        modules = [path for path, text in told_in.items() if source.cited_in(text)]
        gives = [f"`{name}`" for name in held] + [f"{_module(path)}" for path in modules]
        by = [name for name, text in printed_of.items() if source.cited_in(text)]
        loads = [rf'load\("{kind}", "{name}"\)' for kind, _, name in (table.partition("/") for table in held)]
        by += [
            name for name, text in tests.items() if source.cited_in(text) or any(re.search(one, text) for one in loads)
        ]
        by += [name for name in map(_mirrored, modules) if name in tests and name not in by]
        by_words = ", ".join(f"`{name.removeprefix('tests/')}`" for name in by)
        cells = [f"**{source.key}** {source.name}", source.known, ", ".join(gives) or "-", by_words or "-"]
        lines.append("| " + " | ".join(cell.replace("|", "/") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


def _module(path: Path) -> str:
    return ".".join(path.relative_to(PACKAGE).with_suffix("").parts)


def _mirrored(path: Path) -> str:
    below = path.relative_to(PACKAGE)
    return str(Path("tests") / below.parent / f"test_{below.name}")


# --- the public names on one page ---------------------------------------------------------------------------------

STYLE = """
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 52rem; margin: 0 auto; padding: 1rem; }
nav { columns: 16rem; font-size: .9rem; } nav h3 { margin: .5rem 0 0; }
nav ul { margin: 0; padding-left: 1rem; }
pre { overflow-x: auto; padding: .5rem; border: 1px solid #8886; } code { font-size: .95em; }
section > h3 { margin-top: 2.5rem; border-top: 1px solid #8888; padding-top: .5rem; } h2 { margin-top: 3rem; }
h6, h5, h4 { font-size: 1rem; margin: 1rem 0 0; }
"""


def public_names() -> Iterator[tuple[str, str, list[tuple[str, object]]]]:
    """Give each folder or module of the door with its first line and its public names, in the order of the house."""
    for name in re.findall(
        r"^from \. import (\w+)", (PACKAGE / "__init__.pyi").read_text(encoding="utf-8"), re.MULTILINE
    ):
        module = importlib.import_module(f"lampkit.{name}")
        first = (inspect.getdoc(module) or "").split("\n\n")[0]
        stub = PACKAGE / name / "__init__.pyi"
        if stub.is_file():
            names = re.findall(r"^from \.\w+ import (\w+)", stub.read_text(encoding="utf-8"), re.MULTILINE)
        else:
            tree = ast.parse((PACKAGE / f"{name}.py").read_text(encoding="utf-8"))
            defined = (one.name for one in tree.body if isinstance(one, (ast.FunctionDef, ast.ClassDef)))
            names = [one for one in defined if not one.startswith("_")]
        yield name, first, [(one, getattr(module, one)) for one in names]


def functions() -> str:
    """Write one page of all public names with their signatures, docstrings and examples."""
    from pdoc.docstrings import convert
    from pdoc.render_helpers import to_html

    import lampkit

    index, body = [], []
    for folder, first, names in public_names():
        links = "".join(f'<li><a href="#{folder}.{name}">{name}</a></li>' for name, _ in names)
        index.append(f'<h3><a href="#{folder}">{folder}</a></h3><ul>{links}</ul>')
        body.append(f'<h2 id="{folder}">lampkit.{folder}</h2><p>{html.escape(first)}</p>')
        for name, thing in names:
            words = to_html(convert(inspect.getdoc(thing) or "", "numpy", None))
            called = html.escape(f"lampkit.{folder}.{name}{_signature(thing)}")
            body.append(f'<section id="{folder}.{name}"><h3>{name}</h3><pre>{called}</pre>{words}</section>')
    title = f"lampkit {lampkit.__version__}: every public name"
    head = f'<meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>{title}</title>'
    shown = f"<h1>{title}</h1><nav>{''.join(index)}</nav>{''.join(body)}"
    style = f"<style>{STYLE}</style>"
    return f'<!DOCTYPE html><html lang="en"><head>{head}{style}</head><body>{shown}</body></html>\n'


def _signature(thing: object) -> str:
    """Write how a function or a record is called, as its code has it; nothing for an enumeration."""
    code = ast.parse(textwrap.dedent(inspect.getsource(thing))).body[0] if callable(thing) else None
    if isinstance(code, ast.FunctionDef):
        returns = f" -> {ast.unparse(code.returns)}" if code.returns else ""
        return f"({ast.unparse(code.args)}){returns}"
    fields = [one for one in getattr(code, "body", []) if isinstance(one, ast.AnnAssign)]
    return f"({', '.join(map(ast.unparse, fields))})" if fields else ""


# --- the guide to the vehicle file -----------------------------------------------------------------------------------

OPENING = """\
# The vehicle file

A folder describes a vehicle. It holds `vehicle.toml` and, where something was measured, the CSV files that it names.
`lampkit report FOLDER` reads it. The smallest that works:

{example}

{needed} All else has a default or may stay unknown. `data/library_van` is a complete example; copy it and change it.

The file is TOML, plain text in UTF-8, at most 1 MB. Text stands between quotation marks, numbers without, with a
decimal point. A key that carries a unit ends in it: `power_W = 2.5`, never `power = "2.5 W"`. A section in double
brackets may stand there as often as needed, in any order. A key that is not known is refused, so that a slip of the pen
never passes in silence; all faults are told at once, each with its line and what was expected. A file that is named
lies in the same folder.

**Needed** keys have no default. Every section may hold a `note`, {note}.
"""


def guide() -> str:
    """Write the guide: a small example, what a lamp must have, then a table for each section."""
    from lampkit.numbers import listed
    from lampkit.vehicle import schema

    (smallest,) = schema.completed()["examples"]
    lamp = schema.sections()["lamp"]
    must = listed(f"`{key}` ({lamp['properties'][key]['title']})" for key in lamp["required"])
    note = "; ".join(schema.sections()["vehicle"]["properties"]["note"][key] for key in ("title", "description"))
    opening = OPENING.format(
        example="EXAMPLE", needed=f"A lamp must have {len(lamp['required'])} things: {must}.", note=note
    )
    wrapped = "\n\n".join(map(_wrapped, opening.split("\n\n")))
    parts = [wrapped.replace("EXAMPLE", _example(smallest).rstrip("\n")) + "\n"]
    for name, held in schema.sections().items():
        examples = {name: held["examples"]} if "examples" in held else {}
        parts += [
            f"## {schema.heading(name)}: {held['title']}\n",
            *([f"{_wrapped(held['description'])}\n"] if "description" in held else []),
            *([_example(examples)] if examples else []),
            "| key | what it is | allowed | default |\n|---|---|---|---|",
            *(
                _key_row(key, rules, key in held["required"])
                for key, rules in held["properties"].items()
                if key != "note"
            ),
            "",
        ]
    return "\n".join(parts).rstrip("\n") + "\n"


def _key_row(key: str, held: Mapping[str, Any], needed: bool) -> str:
    what = f"{held['title']}; {held['description']}" if "description" in held else held["title"]
    what, unit = what.removeprefix("the "), f" {held['x-unit']}" if "x-unit" in held else ""
    left_out = held.get("x-default") or (f"`{_toml(held['default'])}`" if "default" in held else "-")
    cells = [f"`{key}`", what, _allowed(held) + unit, "**needed**" if needed else left_out]
    return f"| {' | '.join(cells)} |"


def _allowed(held: Mapping[str, Any]) -> str:
    kind = held.get("type")
    if held.get("x-names") == "filament lamps":
        return "a designation that the kit knows, or volts and watts, or volts and watts"
    if "enum" in held or "examples" in held:
        return ", ".join(f"`{_toml(choice)}`" for choice in held.get("enum") or held["examples"])
    if kind == "boolean":
        return "`true`, `false`"
    bounds = held.get("items", held) if kind == "array" else held
    if "minimum" not in bounds:
        return {"string": "text", "array": "list"}.get(str(kind), "keys")
    span = f"{bounds['minimum']:.10g} to {bounds['maximum']:.10g}"
    if kind == "integer":
        return f"{span}, whole"
    pair = "`[lower, upper]`, "
    return f"{pair}{span}" if kind == "array" else f"{span}, or `[lower, upper]`" if isinstance(kind, list) else span


def _example(document: Mapping[str, Any]) -> str:
    from lampkit.vehicle import schema

    lines = []
    for name, held in document.items():
        for table in held if isinstance(held, list) else [held]:
            lines += [schema.heading(name), *(f"{key} = {_toml(value)}" for key, value in table.items()), ""]
    return "\n".join(["```toml", *lines[:-1], "```", ""])


def _wrapped(paragraph: str) -> str:
    return textwrap.fill(paragraph, 120, break_on_hyphens=False)


def _toml(value: Any) -> str:
    """Write a value as TOML has it."""
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {_toml(inner)}' for key, inner in value.items())} }}"
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    return json.dumps(value, ensure_ascii=False)


if __name__ == "__main__":
    made = {"sources": sources, "functions": functions, "guide": guide}[sys.argv[1]]()
    Path(sys.argv[2]).write_text(made, encoding="utf-8")
