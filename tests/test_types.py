"""The types at the door: a misspelt folder, name or keyword is told before anything runs."""

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
RIGHT = 'lk.sources.filament("P21W", voltage=13.5)'
WRONG = {
    'lk.sorces.filamment("P21W", volt=13.5)': "sorces",
    'lk.sources.filamment("P21W", voltage=13.5)': "filamment",
    'lk.sources.filament("P21W", volt=13.5)': "volt",
    "lk.sources.filament(21, voltage=13.5)": "int",
    'lk.lenses.load("red").transmitance': "transmitance",
}


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> dict[str, str]:
    """What `mypy --strict` says of each call, of the code that calls alone."""
    folder = tmp_path_factory.mktemp("calls")
    files = {call: folder / f"call_{i}.py" for i, call in enumerate([RIGHT, *WRONG])}
    for call, file in files.items():
        file.write_text(f"import lampkit as lk\n\n{call}\n", encoding="utf-8")
    config = folder / "mypy.ini"
    config.write_text(
        f"[mypy]\nstrict = true\nfollow_imports = silent\nmypy_path = {ROOT}\n"
        # No call here takes or gives a thing of theirs, and reading them takes half of the time.
        "[mypy-scipy.*,pandas.*,matplotlib.*,IPython.*,ipywidgets.*,jinja2.*,tqdm.*,tomlkit.*,schemdraw.*]\n"
        "follow_imports = skip\n",
        encoding="utf-8",
    )
    kept = getattr(request.config, "cache", None)
    cache = kept.mkdir("mypy") if kept else folder / "cache"
    options = ["--config-file", str(config), "--cache-dir", str(cache), "--no-error-summary"]
    names = [file.name for file in files.values()]
    run = subprocess.run(
        [sys.executable, "-m", "mypy", *options, *names], cwd=folder, capture_output=True, text=True, check=False
    )
    assert run.returncode in (0, 1) and not run.stderr, run.stdout + run.stderr
    lines = run.stdout.splitlines()
    return {
        call: "\n".join(x for x in lines if x.startswith(f"{file.name}:") and ": error: " in x)
        for call, file in files.items()
    }


def test_a_right_call_passes(said: dict[str, str]) -> None:
    assert said[RIGHT] == ""


@pytest.mark.parametrize(("call", "word"), WRONG.items(), ids=WRONG.values())
def test_a_misspelt_one_is_told(said: dict[str, str], call: str, word: str) -> None:
    assert f'"{word}"' in said[call]
