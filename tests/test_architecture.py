"""The rules of the house: what an import costs, what a docstring says, what a table carries."""

import ast
import inspect
import re
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

import lampkit
from lampkit import tables

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "lampkit"
PATHS = {
    ".".join(path.relative_to(PACKAGE).with_suffix("").parts): path
    for path in sorted(PACKAGE.rglob("*.py"))
    if not path.stem.startswith("__")
}
MODULES = list(PATHS)
FLOORS = sorted(path.parent.name for path in PACKAGE.glob("*/__init__.py"))
HEAVY = {"scipy", "pandas", "matplotlib", "colour", "ipywidgets", "IPython", "jinja2", "tqdm", "jupyterlab"}


def loaded_by(statement: str) -> set[str]:
    code = f"import sys; {statement}; print(*sorted({{m.split('.')[0] for m in sys.modules}}))"
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return set(run.stdout.split())


def test_import_loads_nothing_heavier_than_numpy() -> None:
    loaded = loaded_by("import lampkit")
    allowed = {"lampkit", "numpy", "lazy_loader"} | loaded_by("import numpy") | set(sys.stdlib_module_names)
    # The finder of an editable install is not a library that the kit asks for.
    extra = {m for m in loaded - allowed if not m.startswith(("_", "sitecustomize"))}
    assert not extra, f"import lampkit also loads {sorted(extra)}"
    assert not loaded & HEAVY


@pytest.mark.parametrize("module", MODULES)
def test_every_module_loads_from_the_package(module: str) -> None:
    found = lampkit
    for name in module.split("."):
        assert name in dir(found)
        found = getattr(found, name)
    assert found.__name__ == f"lampkit.{module}"


# --- docstrings ---------------------------------------------------------------------------------------------------


def nomenclature() -> set[str]:
    """The units of the table in DEVELOPERS.md."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    part = text.split("## Nomenclature", 1)[1].split("\n## ", 1)[0]
    return {match.group(1) for match in re.finditer(r"^\|[^|]+\|\s*`([^`]+)`\s*\|", part, flags=re.MULTILINE)}


def public_names() -> set[str]:
    """Module and name of what the stub of each folder lists, and of what the modules without a folder give."""
    names = {"grid.integrate", "grid.on_grid", "grid.resample", "errors.InputError"}
    for stub in PACKAGE.glob("*/__init__.pyi"):
        listed = re.findall(r"^from \.(\w+) import (\w+)", stub.read_text(encoding="utf-8"), re.MULTILINE)
        names |= {f"{stub.parent.name}.{module}.{name}" for module, name in listed}
    return names


def objects() -> dict[str, ast.FunctionDef | ast.ClassDef]:
    found: dict[str, ast.FunctionDef | ast.ClassDef] = {}
    for module in MODULES:
        for node in ast.parse(PATHS[module].read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                found[f"{module}.{node.name}"] = node
                for inner in node.body if isinstance(node, ast.ClassDef) else ():
                    if isinstance(inner, ast.FunctionDef):
                        found[f"{module}.{node.name}.{inner.name}"] = inner
    return found


OBJECTS = objects()
PUBLIC = sorted(public_names())
SECTION = re.compile(r"^(Parameters|Returns|Raises|Yields|Notes|Examples)\n-+\n", re.MULTILINE)


def section(doc: str, title: str) -> str:
    match = re.search(rf"^{title}\n-+\n(.*?)(?=^\w+\n-+\n|^Source: |\Z)", doc, re.MULTILINE | re.DOTALL)
    return match.group(1) if match else ""


def documented(doc: str) -> dict[str, str]:
    lines = re.findall(r"^([\w*][\w*, ]*?) : (.+)$|^(\*\*?\w+)$", section(doc, "Parameters"), re.MULTILINE)
    return {name.strip().lstrip("*"): kind for names, kind, star in lines for name in (names or star).split(",")}


def expected_parameters(node: ast.AST) -> list[str]:
    if isinstance(node, ast.FunctionDef):
        a = node.args
        every = [*a.posonlyargs, *a.args, *a.kwonlyargs]
        names = [arg.arg for arg in every if arg.arg not in ("self", "cls")]
        return names + [extra.arg for extra in (a.vararg, a.kwarg) if extra is not None]
    assert isinstance(node, ast.ClassDef)
    fields = [
        item.target.id
        for item in node.body
        if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name) and "ClassVar" not in ast.unparse(item)
    ]
    init = next((i for i in node.body if isinstance(i, ast.FunctionDef) and i.name == "__init__"), None)
    return expected_parameters(init) if init is not None else fields


@pytest.mark.parametrize("name", sorted(set(OBJECTS) - set(PUBLIC)))
def test_other_names_have_one_sentence(name: str) -> None:
    doc = ast.get_docstring(OBJECTS[name])
    if doc is None:
        assert "._" in name, "no docstring"
        return
    assert doc.split("\n\nSource: ")[0].endswith("."), "one plain sentence with a full stop"
    assert not SECTION.search(doc), "sections belong to public names; the types say the rest"


@pytest.mark.parametrize("name", PUBLIC)
def test_public_names_are_explained(name: str) -> None:
    node = OBJECTS[name]
    doc = ast.get_docstring(node) or ""
    assert doc, "no docstring"
    first = doc.split("\n\n", 1)[0].replace("\n", " ")
    assert first.endswith("."), "the first paragraph is one plain sentence with a full stop"
    named = documented(doc)
    private = {p for p in expected_parameters(node) if p.startswith("_")}
    assert set(named) == set(expected_parameters(node)) - private, "parameters differ from the signature"
    units = nomenclature()
    for parameter, kind in named.items():
        bracket = re.search(r"\[([^\]]+)\]\s*$", kind)
        if re.match(r"(float|int|ndarray|array_like)\b", kind) and "array_like of" not in kind:
            assert bracket, f"{parameter}: no unit in '{kind}'"
        if bracket:
            assert bracket.group(1) in units, f"{parameter}: [{bracket.group(1)}] is not in the nomenclature"
    if isinstance(node, ast.FunctionDef) and any(
        isinstance(n, ast.Return) and n.value is not None for n in ast.walk(node)
    ):
        assert section(doc, "Returns"), "no section Returns"
    raises = isinstance(node, ast.FunctionDef) and any(
        isinstance(n, ast.Raise) and n.exc is not None for n in ast.walk(node)
    )
    if raises:
        assert section(doc, "Raises"), "it raises, and has no section Raises"
    assert ">>> " in section(doc, "Examples"), "no example that runs"


def contents(folder: str) -> str:
    """The list of public names, module by module, as the stub of a folder has it."""
    stub = (PACKAGE / folder / "__init__.pyi").read_text(encoding="utf-8")
    names: dict[str, list[str]] = {}
    for module, name in re.findall(r"^from \.(\w+) import (\w+)", stub, re.MULTILINE):
        names.setdefault(module, []).append(name)
    lines = (
        textwrap.fill(", ".join(names[module]), 116, initial_indent="    ", subsequent_indent="    ")
        for module in sorted(names)
    )
    return "\n".join(f"{module}\n{line}" for module, line in zip(sorted(names), lines, strict=True))


@pytest.mark.parametrize("folder", FLOORS)
def test_a_folder_lists_its_public_names(folder: str) -> None:
    doc = ast.get_docstring(ast.parse((PACKAGE / folder / "__init__.py").read_text(encoding="utf-8"))) or ""
    first, _, listed = doc.partition("\n\n")
    assert first.endswith(".") and "\n" not in first, "the first line says what the folder is about"
    assert listed == contents(folder), "python tests/test_architecture.py writes the lists anew"


def write_contents() -> None:
    """Write the list of public names into the docstring of each folder, as its stub has them."""
    for folder in FLOORS:
        path = PACKAGE / folder / "__init__.py"
        text = path.read_text(encoding="utf-8")
        first = (ast.get_docstring(ast.parse(text)) or "").split("\n\n")[0]
        _, _, code = text.partition("import lazy_loader")
        path.write_text(f'"""{first}\n\n{contents(folder)}\n"""\n\nimport lazy_loader{code}', encoding="utf-8")


# --- data ---------------------------------------------------------------------------------------------------------

TABLES = sorted((ROOT / "data").rglob("*.csv"))


@pytest.mark.parametrize(
    "path", [p for p in TABLES if p.parent.name != "library_van"], ids=lambda p: f"{p.parent.name}/{p.stem}"
)
def test_table_carries_its_provenance(path: Path) -> None:
    table = tables.load(path.parent.name, path.stem)
    assert table.provenance["obtained"] in ("published", "transcribed", "computed", "from memory", "invented", "mixed")
    assert set(table.provenance["columns"]) == set(table.columns), "each column has its unit, or the word text"
    assert len(table) > 0


def test_modules_hold_one_subject() -> None:
    for module in MODULES:
        lines = inspect.cleandoc(PATHS[module].read_text(encoding="utf-8")).count("\n")
        assert lines < 600, f"{module}.py has {lines} lines: it holds two subjects"


@pytest.mark.parametrize("floor", FLOORS)
def test_every_floor_stands_in_the_guide(floor: str) -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## One model", 1)[0]
    assert f"`{floor}`" in guide, "name the folder in the table of floors"


WRITTEN = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *(ROOT / "references").glob("*.md"),
    *ROOT.glob("notebooks/*.ipynb"),
]


@pytest.mark.parametrize("path", sorted(WRITTEN), ids=lambda path: path.name)
def test_names_of_the_kit_are_written_as_they_are(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    shown_being_added = set(re.findall(r"^def (\w+)", text, re.M))
    for dotted in set(re.findall(r"\blk((?:\.[A-Za-z]\w*)+)", text)):
        found: object = lampkit
        for name in dotted[1:].split("."):
            if not inspect.ismodule(found):
                break  # what a result holds is for the type checker
            if name in shown_being_added:
                break  # an example that another test carries out
            assert name in dir(found), f"there is no lk{dotted}"
            found = getattr(found, name)


if __name__ == "__main__":
    write_contents()
