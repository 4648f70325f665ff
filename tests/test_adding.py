"""What DEVELOPERS.md says of adding something, done word by word in a copy of the tree."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## To add something\n")[2].partition("\n## ")[0]
BLOCK = re.compile(r"^```(\w+) ?(\S*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
PARTS = {
    found[1]: found[2] for found in re.finditer(r"^\*\*([^*]+)\.\*\*(.*?)(?=^\*\*|\Z)", GUIDE, re.MULTILINE | re.DOTALL)
}


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the tree with every block appended to its file."""
    folder = tmp_path_factory.mktemp("copy")
    # With what is compiled already: the times of the files are copied too.
    for name in ("lampkit", "data", "notebooks", "references", "tests"):
        shutil.copytree(ROOT / name, folder / name)
    for name in ("DEVELOPERS.md", "README.md", "pyproject.toml", "conftest.py"):
        shutil.copy(ROOT / name, folder / name)
    for _, file, lines in BLOCK.findall(GUIDE):
        if file:
            with (folder / file).open("a", encoding="utf-8") as stream:
                stream.write(lines)
    done = run(folder, "tests/test_architecture.py")
    assert done.returncode == 0, done.stderr
    return folder


def run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    surroundings = {name: value for name, value in os.environ.items() if not name.startswith("LAMPKIT_")}
    surroundings["PYTHONPATH"] = str(folder)
    return subprocess.run(
        [sys.executable, *words], cwd=folder, env=surroundings, capture_output=True, text=True, check=False
    )


def calls(part: str) -> str:
    return "".join(lines for kind, file, lines in BLOCK.findall(PARTS[part]) if kind == "python" and not file)


def test_the_guide_tells_of_all_six() -> None:
    assert list(PARTS) == ["A lens", "A light source", "A rule set", "A lamp function", "A panel", "A language"]
    assert all(calls(part) for part in PARTS)


TRY_EACH = """
import json, sys, traceback
failed = {}
for part, program in json.loads(sys.argv[1]).items():
    try:
        exec("import lampkit as lk\\n" + program, {})
    except Exception:
        failed[part] = traceback.format_exc()
print(json.dumps(failed))
"""


def failing(folder: Path) -> dict[str, str]:
    """The parts whose calls fail in a tree, each with what was said."""
    done = run(folder, "-c", TRY_EACH, json.dumps({part: calls(part) for part in PARTS}))
    assert done.returncode == 0, done.stderr
    return dict(json.loads(done.stdout))


def test_what_was_added_works_and_was_not_there_before(tree: Path) -> None:
    assert failing(tree) == {}
    assert list(failing(ROOT)) == list(PARTS)


def test_the_tree_keeps_its_own_rules(tree: Path) -> None:
    done = run(
        tree, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/test_architecture.py", "tests/test_statements.py",
        "tests/test_bibliography.py", "lampkit/notebook/lux_panel.py",
        "-k", "lux or presets or coloured or ratings or rule_sets or functions or notebook or key or value or language",
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-2000:]


def test_a_vehicle_takes_all_of_it_at_once(tree: Path, tmp_path: Path) -> None:
    (tmp_path / "vehicle.toml").write_text(
        """[vehicle]
name = "Example, invented"
supply_voltage_V = 12
rules = "Quay rules"
[[light_source]]
name = "cyan bead"
colour = "cyan"
claimed_lumens_lm = 200
[[lamp]]
name = "Corner lamp"
function = "lamp for corners"
lens = "yellow"
filament = "X7W"
candidates = ["cyan bead"]
""",
        encoding="utf-8",
    )
    done = run(
        tree, "-m", "lampkit", "report", str(tmp_path), "--all", "--draws", "100", "-o", str(tmp_path / "page.html")
    )
    assert done.returncode == 0, done.stderr
    for said in ("Corner lamp (yellow plastic, assumed)", "filament X7W", "Harbour"):
        assert said in done.stdout
    german = subprocess.run(
        [sys.executable, "-m", "lampkit", "procedure", "60", "-o", "karte.html"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tree), "LAMPKIT_LANGUAGE": "de"},
        capture_output=True,
        text=True,
    )
    assert german.stderr.endswith("Die Karte steht in karte.html\n"), german.stderr
