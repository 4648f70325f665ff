"""Words: every key that the code says exists, is filled, is used; and a language is one more file."""

import ast
import os
import subprocess
import sys
from collections.abc import Iterator
from enum import Enum
from importlib import import_module
from pathlib import Path

import pytest
from jinja2 import Environment, meta, nodes

from lampkit import numbers, statements
from lampkit.errors import InputError
from lampkit.statements import Statement, as_data

PACKAGE = Path(statements.__file__).parent
WORDS = statements.words()
PARSER = statements.surroundings()


def said_in_code() -> Iterator[tuple[str, str, set[str], bool]]:
    """Place, key and names of the values of each call of `say`; whether it passes a mapping on."""
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if called != "say":
                continue
            place = f"{path.relative_to(PACKAGE)}:{node.lineno}"
            key = node.args[0]
            keys = [key.body, key.orelse] if isinstance(key, ast.IfExp) else [key]
            for one in keys:
                assert isinstance(one, ast.Constant) and isinstance(one.value, str), f"{place}: a key is written out"
                given = {word.arg for word in node.keywords if word.arg}
                yield place, one.value, given, any(word.arg is None for word in node.keywords)


def said_in_templates() -> Iterator[tuple[str, str, set[str], bool]]:
    environment = Environment(extensions=["jinja2.ext.do"])
    for path in sorted(PACKAGE.rglob("templates/*.html")):
        for node in environment.parse(path.read_text(encoding="utf-8")).find_all(nodes.Call):
            if isinstance(node.node, nodes.Name) and node.node.name == "say":
                key = node.args[0]
                assert isinstance(key, nodes.Const), f"{path.name}:{node.lineno}: a key is written out"
                yield f"{path.name}:{node.lineno}", key.value, {word.key for word in node.kwargs}, False


def enumerations() -> dict[str, type[Enum]]:
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if "Enum)" not in text:
            continue
        module = import_module(".".join(("lampkit", *path.relative_to(PACKAGE).with_suffix("").parts)))
        for thing in vars(module).values():
            if isinstance(thing, type) and issubclass(thing, Enum) and thing.__module__ == module.__name__:
                found[thing.__name__] = thing
    return found


SAID = [*said_in_code(), *said_in_templates()]
NAMED = {f"{name}.{member.name}" for name, kind in enumerations().items() for member in kind}


@pytest.mark.parametrize(("place", "key", "given", "mapping"), SAID, ids=[f"{p} {k}" for p, k, _, _ in SAID])
def test_words_exist_and_every_variable_is_given(place: str, key: str, given: set[str], mapping: bool) -> None:
    assert key in WORDS.sources, f"{place}: no words for '{key}'"
    wanted = meta.find_undeclared_variables(PARSER.parse(WORDS.sources[key]))
    assert mapping or wanted <= given, f"{place}: '{key}' needs {sorted(wanted - given)}"


def test_no_words_are_unused() -> None:
    used = {key for _, key, _, _ in SAID}
    assert not sorted(set(WORDS.sources) - used - NAMED)


def test_every_member_of_an_enumeration_has_its_words() -> None:
    assert not sorted(NAMED - set(WORDS.sources))


def mechanical(folder: Path) -> statements.Words:
    """A second language made by machine: the key, and the variables of its template in order of their names."""
    lines = []
    for key, source in WORDS.sources.items():
        names = sorted(meta.find_undeclared_variables(PARSER.parse(source)))
        filled = " ".join(f"{name}={{{{ {name} }}}}" for name in names)
        lines.append(f"{key} = '«{key} {filled}»'")
    file = folder / "mechanical.toml"
    file.write_text("\n".join(lines), encoding="utf-8")
    return statements.read_words(file)


def test_a_language_is_one_more_file(tmp_path: Path) -> None:
    other = mechanical(tmp_path)
    assert set(other.sources) == set(WORDS.sources)
    for key, source in WORDS.sources.items():
        names = sorted(meta.find_undeclared_variables(PARSER.parse(source)))
        inner = Statement(key, dict.fromkeys(names, 1.5))
        assert other.text(inner) == f"«{key} {' '.join(f'{name}=1.5' for name in names)}»"


def test_a_statement_inside_another_speaks_its_language(tmp_path: Path) -> None:
    file = tmp_path / "words.toml"
    file.write_text("outer = 'aussen {{ inner }} {{ many|listed(\"und\") }}'\ninner = 'innen'\n", encoding="utf-8")
    inner = Statement("inner")
    said = Statement("outer", {"inner": inner, "many": [inner, Statement("outer", {"inner": 1, "many": []})]})
    assert statements.read_words(file).text(said) == "aussen innen innen und aussen 1 "


def test_unknown_key_is_refused() -> None:
    with pytest.raises(InputError, match=r"no words for 'no[.]such[.]key'"):
        WORDS.text(Statement("no.such.key"))


def test_plain_data_carries_key_values_and_text(tmp_path: Path) -> None:
    file = tmp_path / "words.toml"
    file.write_text("light = '{{ lumens|figure }} lm'\n", encoding="utf-8")
    token = statements.SPOKEN.set(statements.read_words(file))
    try:
        found = as_data(Statement("light", {"lumens": float("inf"), "more": (1, 2)}))
    finally:
        statements.SPOKEN.reset(token)
    assert found == {"key": "light", "values": {"lumens": None, "more": [1, 2]}, "text": "unbounded lm"}


# --- nothing cuts a sentence open again ---------------------------------------------------------------------------

CUTS = {
    "startswith", "endswith", "split", "rsplit", "partition", "rpartition", "removeprefix", "removesuffix", "replace",
}  # fmt: skip
SAID_OF_RESULTS = {
    "advice", "basis", "because", "card", "claim", "claim_verdict", "cures", "kept", "look_for", "notes", "remarks",
    "said", "sentence", "statement", "verdict", "why", "words",
}  # fmt: skip
"""What a result says of itself: statements and enumerations, to be compared and shown, never to be read again."""

CUT_OPEN = {
    "circuits/tasks.py": "cells of its own tables",
    "circuits/wiring.py": "sizes of wire that people write",
    "errors.py": "its own remedy",
    "lenses/changed_lens.py": "names of beliefs",
    "light/measured_curves.py": "files that people write",
    "measurement/fair_ratio.py": "names of beliefs",
    "measurement/illuminance_log.py": "names that people write",
    "measurement/log_file.py": "files that people write",
    "measurement/measurement_model.py": "names of beliefs",
    "measurement/lens_identification.py": "names of lamps",
    "notebook/controls.py": "what is typed into a field",
    "notebook/file_fields.py": "what is typed into a field",
    "notebook/lab.py": "names of files",
    "notebook/lamp_form.py": "what is typed into a field, and files that people write",
    "lesson/pictures.py": "lamps as a lesson asks for them",
    "lesson/quantities.py": "lamps and lenses as a lesson asks for them",
    "notebook/lesson.py": "what is typed into a field",
    "notebook/readings_panel.py": "what is typed into a field",
    "notebook/vehicle_panel.py": "what is typed into a field",
    "uncertainty/budget.py": "names of its own inputs",
    "numbers.py": "numbers that it wrote itself",
    "page/circuit_pictures.py": "the drawing itself, as SVG",
    "page/colour_chart.py": "the name of a boundary, without the word that all have",
    "page/findings.py": "names of beliefs",
    "page/first_sheet.py": "keys of statements",
    "page/frame.py": "names of files",
    "page/lamp_faces.py": "positions that people write",
    "page/reading_charts.py": "names of beliefs",
    "page/style.py": "the drawing itself, as SVG",
    "plan/socket_voltages.py": "names of lamps",
    "plan/plan.py": "names of lamps",
    "plan/suitability.py": "names of lamps",
    "rules/functions.py": "cells of its own tables",
    "sources/interchange.py": "words that people type, and cells of its own tables",
    "sources/markings.py": "what people read off a lamp",
    "rules/intensity_limits.py": "cells of its own tables",
    "rules/limits.py": "cells of its own tables",
    "show.py": "long designations, which may wrap at their strokes",
    "sources/filament_lamps.py": "designations that people write",
    "vehicle/draft.py": "files that people write",
    "vehicle/file.py": "files that people write",
    "vehicle/lamps.py": "files that people write",
    "vehicle/one_lamp.py": "what people write on a command line",
    "vehicle/schema.py": "files that people write",
    "vehicle/vehicle.py": "files that people write",
    "tables.py": "cells of its own tables",
    "written_files.py": "files that people write",
}
"""Modules that take strings apart, and which: what people write, names, and cells of tables, but no sentence."""


def cuts() -> Iterator[tuple[str, int, ast.expr]]:
    """Module, line and what is taken apart, or searched for words, in each place where a string is."""
    for path in sorted(PACKAGE.rglob("*.py")):
        module = path.relative_to(PACKAGE).as_posix()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in CUTS:
                # `dataclasses.replace` and `os.replace` take apart nothing.
                if not (isinstance(node.func.value, ast.Name) and node.func.value.id in ("os", "written_files")):
                    yield module, node.lineno, node.func.value
            elif isinstance(node, ast.Compare) and any(isinstance(op, ast.In | ast.NotIn) for op in node.ops):
                searched = node.comparators[0]
                lowered = isinstance(searched, ast.Call) and isinstance(searched.func, ast.Attribute)
                written = isinstance(searched, ast.Call) and isinstance(searched.func, ast.Name)
                if (lowered and searched.func.attr in ("lower", "casefold")) or (written and searched.func.id == "str"):
                    yield module, node.lineno, searched


TAKEN_APART = [cut for cut in cuts() if not (isinstance(cut[2], ast.Name) and cut[2].id == "reading_charts")]


def is_said(taken: ast.expr) -> bool:
    """Tell whether what is taken apart was a statement or a field in which a result says something."""
    return any(
        (isinstance(node, ast.Attribute) and node.attr in SAID_OF_RESULTS)
        or (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("say", "named"))
        for node in ast.walk(taken)
    )


def test_no_sentence_is_cut_open_again() -> None:
    said = [f"{module}:{line} {ast.unparse(taken)}" for module, line, taken in TAKEN_APART if is_said(taken)]
    assert not said


def test_only_what_people_write_is_taken_apart() -> None:
    assert sorted({module for module, _, _ in TAKEN_APART} - set(CUT_OPEN)) == []
    assert sorted(set(CUT_OPEN) - {module for module, _, _ in TAKEN_APART}) == [], "no longer needed"


# --- another language -------------------------------------------------------------------------------------------------

GERMAN = """
[numbers]
point = ","
to = "bis"
and = "und"
below = "unter 1 %"
above = "ueber 99 %"

[cli]
card_written = "Die Karte steht in {{ file }}"
"""


@pytest.fixture
def german(tmp_path: Path) -> Iterator[Path]:
    file = tmp_path / "de.toml"
    file.write_text(GERMAN, encoding="utf-8")
    yield file
    statements.use("en")


def test_a_language_is_chosen_and_what_it_lacks_is_english(german: Path) -> None:
    spoken = statements.use(german)
    assert spoken.language == "de" and str(statements.say("cli.card_written", file="x")) == "Die Karte steht in x"
    assert str(statements.say("cli.readings_written", file="x")) == str(
        WORDS.text(Statement("cli.readings_written", {"file": "x"}))
    )
    assert len(spoken.lacking) == len(WORDS.sources) - 1 and "cli.card_written" not in spoken.lacking
    assert statements.use("en").lacking == () and str(statements.say("cli.card_written", file="x")).startswith("The ")


def test_the_environment_chooses_it_and_pages_say_so(german: Path, tmp_path: Path) -> None:
    surroundings = {**os.environ, "LAMPKIT_LANGUAGE": str(german)}
    words = [sys.executable, "-m", "lampkit", "procedure", "60", "-o", "card.html"]
    run = subprocess.run(words, cwd=tmp_path, env=surroundings, capture_output=True, text=True)
    assert run.returncode == 0 and run.stderr.splitlines()[-1] == "Die Karte steht in card.html"
    assert run.stderr.startswith(f"This language lacks {len(WORDS.sources) - 1} of {len(WORDS.sources)} statements")
    assert '<html lang="de">' in (tmp_path / "card.html").read_text(encoding="utf-8")
    run = subprocess.run(
        words, cwd=tmp_path, env={**surroundings, "LAMPKIT_LANGUAGE": "xx"}, capture_output=True, text=True
    )
    assert run.returncode == 2
    assert (
        run.stderr == "lampkit: there are no words for the language 'xx'; expected one of 'en', or a file of words.\n"
    )


def test_numbers_are_written_as_the_language_has_them(german: Path) -> None:
    german.write_text(GERMAN + 'readings_written = "{{ file|interval }}; {{ file|figures }}"\n', encoding="utf-8")
    spoken = statements.translated(german)
    assert spoken.text(Statement("cli.readings_written", {"file": (0.82, 1.25, 1.9)})) == (
        "1,2 (0,8 bis 1,9); 1,2 (0,82 bis 1,9)"
    )
    german.write_text(GERMAN + 'readings_written = "{{ file|share }}, {{ [1, 2.5]|listed }}"\n', encoding="utf-8")
    assert (
        statements.translated(german).text(Statement("cli.readings_written", {"file": 0.001})) == "unter 1 %, 1 und 2.5"
    )
    assert numbers.interval((0.82, 1.25, 1.9)) == "1.2 (0.8 to 1.9)" and numbers.share(0.995) == "above 99 %"


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ('readings_writen = "x"', "nothing is said by 'cli.readings_writen'; did you mean 'cli.readings_written'"),
        ('readings_written = "{{ datei }}"', "'cli.readings_written' has no value 'datei'; expected one of 'file'."),
        ('readings_written = "{{ file|intervall }}"', "'cli.readings_written' cannot be read (No filter named"),
        ('readings_written = "{{ file"', "'cli.readings_written' cannot be read ("),
        ("readings_written = x", "this is not TOML ("),
        ('[numbers]\npunkt = ","', "nothing is said by 'numbers.punkt'; did you mean 'numbers.point'"),
    ],
)
def test_a_slip_in_a_file_of_words_is_told(more: str, told: str, tmp_path: Path) -> None:
    file = tmp_path / "de.toml"
    file.write_text(more if more.startswith("[numbers]") else GERMAN + more, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        statements.use(file)
    assert told in str(caught.value) and str(statements.say("cli.card_written", file="x")).startswith("The ")
    with pytest.raises(InputError, match=r"there is no such file; expected a file of words, as words/en\.toml\."):
        statements.use(tmp_path / "none" / "fr.toml")
