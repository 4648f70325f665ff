"""The notebooks: thin, without stored output, prose first; each runs as a user would run it, with no error anywhere."""

import ast
import json
import re
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import lampkit
from lampkit.cli import main
from lampkit.errors import InputError
from lampkit.notebook import lab

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
NAMES = sorted(path.name for path in FOLDER.glob("*.ipynb"))

TOO_MUCH = (
    ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.For, ast.While, ast.Try, ast.With, ast.Lambda, ast.If,
    ast.ListComp, ast.DictComp, ast.SetComp, ast.GeneratorExp,
)  # fmt: skip
"""What belongs into the library and not into a cell."""


def cells(name: str) -> list[dict[str, Any]]:
    held: list[dict[str, Any]] = json.loads((FOLDER / name).read_text(encoding="utf-8"))["cells"]
    return held


def text(cell: dict[str, Any]) -> str:
    return "".join(cell["source"])


def test_the_set_is_complete() -> None:
    assert [name[:2] for name in NAMES] == [f"{i:02d}" for i in range(9)]
    start = "".join(text(c) for c in cells(lab.START))
    for name in NAMES[1:]:
        assert f"({name})" in start, f"the start page does not lead to {name}"
        assert re.search(rf"\[!\[[^\]]+\]\(pictures/\w+\.svg\)\]\({name}\)", start), f"{name} has no picture"


@pytest.mark.parametrize("name", NAMES)
def test_no_output_is_stored(name: str) -> None:
    for cell in cells(name):
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            assert cell["execution_count"] is None
    assert "widgets" not in json.loads((FOLDER / name).read_text())["metadata"]


@pytest.mark.parametrize("name", NAMES)
def test_prose_comes_first_and_last(name: str) -> None:
    held = cells(name)
    assert held[0]["cell_type"] == "markdown"
    assert text(held[0]).startswith("# ")
    if name != lab.START:
        assert "**The question.**" in text(held[0])
    assert held[-1]["cell_type"] == "markdown"
    assert re.match(r"## What was learnt, and its limits\n", text(held[-1]))
    seen = False
    for cell in held:
        if cell["cell_type"] == "markdown":
            seen = True
            assert len(text(cell)) > 20
        assert seen, "code before any prose"


@pytest.mark.parametrize("name", NAMES)
def test_cells_are_thin(name: str) -> None:
    for cell in cells(name):
        if cell["cell_type"] != "code":
            continue
        tree = ast.parse(text(cell))
        heavy = [type(node).__name__ for node in ast.walk(tree) if isinstance(node, TOO_MUCH)]
        assert not heavy, f"{heavy} in: {text(cell)[:60]}"
        assert len(tree.body) <= 8, text(cell)[:60]
        assert text(cell).count("\n") < 20, text(cell)[:60]
        imported = [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]
        assert all(ast.unparse(node) == "import lampkit as lk" for node in imported)


@pytest.mark.parametrize("name", NAMES)
def test_it_runs_and_no_error_hides_in_a_widget(name: str, executed: Callable[[str], Any]) -> None:
    book = executed(name)
    shown = 0
    for cell in book.cells:
        for output in cell.get("outputs", []):
            assert output.output_type != "error", output.traceback
            assert output.get("name") != "stderr", output.get("text")
            plain = output.get("data", {}).get("text/plain", "")
            # Something that does not know how to show itself would give its address, or fields without end.
            assert " object at 0x" not in plain
            assert len(plain) < 8000
            shown += 1
    assert shown
    widgets = book.metadata.get("widgets", {})
    state = json.dumps(widgets)
    assert "Traceback" not in state
    assert "lampkit-message" not in state, re.findall(r"Not used:.{0,200}", state)
    if any("lk.notebook." in text(c) and "show_" not in text(c) for c in cells(name) if c["cell_type"] == "code"):
        assert widgets or name in ("04_know_your_lens.ipynb",)


@pytest.mark.parametrize("name", ["first_steps.ipynb"])
def test_the_first_steps_of_the_start_page_work(name: str, executed: Callable[[str], Any]) -> None:
    """Another lens and an LED of one's own, by the words of the start page and no more."""
    start = "".join(text(c) for c in cells(lab.START))
    assert 'write `"amber"` for `"red"`, and `"rear turn"` for `"stop"`' in start
    book = executed(name)
    changed = [c.source for c, old in zip(book.cells, cells(NAMES[1]), strict=True) if c.source != text(old)]
    assert len(changed) == 2  # lens and function, and the LED
    outputs = [output for c in book.cells for output in c.get("outputs", [])]
    assert not [output.traceback for output in outputs if output.output_type == "error"]
    answers = [output.data.get("text/html", "") for output in outputs if "data" in output]
    assert any("my own LED" in answer for answer in answers)
    assert any("the limits of UN amber" in answer for answer in answers)


# --- lampkit lab --------------------------------------------------------------------------------------------------


def test_lab_copies_once_and_keeps_what_is_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "my van"
    assert lab.set_up(target).kept == ()
    (target / lab.START).write_text("mine")
    (target / "library_van" / "vehicle.toml").write_text("mine, too")
    (target / NAMES[1]).unlink()
    assert main(["lab", str(target), "--no-open"]) == 0
    said = capsys.readouterr().out
    assert (target / lab.START).read_text() == "mine"
    assert (target / "library_van" / "vehicle.toml").read_text() == "mine, too"
    assert f"copied: {NAMES[1]}" in said
    assert "kept as they were" in said
    assert lab.START in said.split("kept as they were")[1]
    assert {p.name for p in target.glob("*.ipynb")} == set(NAMES)
    assert (target / "library_van" / "readings.csv").is_file()
    start = "".join(text(c) for c in cells(lab.START))
    for picture in re.findall(r"\((pictures/[^)]+)\)", start):
        assert (target / picture).is_file()
    for name in lab.EXPLAINED:
        assert (target / name).is_file(), f"the start page leads to {name}"


def test_lab_does_not_write_through_a_link(tmp_path: Path) -> None:
    target, elsewhere = tmp_path / "mine", tmp_path / "elsewhere.ipynb"
    target.mkdir()
    (target / lab.START).symlink_to(elsewhere)
    assert lab.START in lab.set_up(target).kept
    assert not elsewhere.exists()


def test_lab_refuses_a_file_and_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "file"
    place.write_text("x")
    assert main(["lab", str(place), "--no-open"]) == 2
    assert "this is a file" in capsys.readouterr().err
    (tmp_path / "half").mkdir()
    (tmp_path / "half" / "library_van").write_text("x")
    with pytest.raises(InputError, match="library_van"):
        lab.set_up(tmp_path / "half")


def test_lab_says_when_the_port_is_taken(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        assert main(["lab", str(tmp_path / "mine"), "--port", str(port)]) == 2
    assert f"another program uses port {port}" in capsys.readouterr().err
    assert not (tmp_path / "mine").exists()


def test_lab_command_stays_on_this_computer(tmp_path: Path) -> None:
    words = lab.command(tmp_path, browser=False, port=8123)
    assert f"--ServerApp.root_dir={tmp_path}" in words
    assert "--port=8123" in words
    assert "--no-browser" in words
    assert not any("ip=" in word or "allow_origin" in word for word in words)
    (settings,) = [word.split("=")[1] for word in words if "app_settings_dir" in word]
    config = json.loads((Path(settings) / "page_config.json").read_text())
    assert config["disabledExtensions"]["@jupyterlab/apputils-extension:announcements"], "nothing asks about news"
    assert lab.surroundings()["OPENBLAS_NUM_THREADS"]


def test_lab_is_in_the_help(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    assert "lab" in capsys.readouterr().out
    assert lampkit.__version__
