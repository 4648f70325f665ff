"""Runs the kit on other Pythons, and on the oldest and newest libraries that it asks for: same bits, same tests.

    python tests/stress/environments.py PYTHON [PYTHON ...] > tests/stress/environments_YYYY-MM-DD.txt

Each PYTHON is an interpreter. All get the libraries that are the newest now; the first one once more the oldest that
pyproject.toml allows. Each prints the fingerprint of `same_bits.py` with one and with two threads, and what came of
the main part of the suite. It takes half an hour, loads from the package registry, and leaves nothing behind.
"""

import datetime
import os
import platform
import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
MAIN_PART = (
    "tests/conversion",
    "tests/light",
    "tests/sources",
    "tests/lenses",
    "tests/rules",
    "tests/circuits",
    "tests/uncertainty",
    "tests/visibility",
    "tests/test_published.py",
    "tests/test_statements.py",
    "tests/test_equations.py",
    "tests/test_written_files.py",
    "tests/test_printed_numbers.py",
    "tests/vehicle",
    "tests/plan",
    "tests/measurement",
)
TESTERS = ("pytest", "hypothesis", "nbformat")
SHOWN = ("numpy", "scipy", "pandas", "matplotlib", "colour-science", "jinja2")


def asked_for() -> list[str]:
    """The libraries of pyproject.toml with their least versions."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    return [*project["dependencies"], *extras["lab"], *extras["spectra"]]


def run(*words: str | Path, threads: int = 1, **options: object) -> subprocess.CompletedProcess[str]:
    names = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
    surroundings = {**os.environ, **dict.fromkeys(names, str(threads)), "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        list(map(str, words)), cwd=ROOT, env=surroundings, capture_output=True, text=True, check=False
    )


def made(interpreter: str, libraries: list[str], words: str, place: Path) -> Path | None:
    """Make one environment and say what is in it; nothing when it cannot be made."""
    tried = run(interpreter, "-m", "venv", place)
    python = place / "bin" / "python"
    if tried.returncode == 0:
        tried = run(python, "-m", "pip", "install", "-q", "--disable-pip-version-check", *libraries, *TESTERS)
    if tried.returncode:
        print(f"\n{interpreter}, {words}: cannot be made ({(tried.stderr.strip() or tried.stdout).splitlines()[-1]})")
        return None
    version = run(python, "-c", "import platform; print(platform.python_version())").stdout.strip()
    listed = run(python, "-m", "pip", "list", "--format=freeze", "--disable-pip-version-check").stdout.lower()
    there = dict(line.split("==", 1) for line in listed.splitlines() if "==" in line)
    print(
        f"\n{place.name}: Python {version}, {words}: " + ", ".join(f"{name} {there.get(name, '?')}" for name in SHOWN)
    )
    return python


def show_bits(python: Path) -> None:
    """Print the fingerprint of what it works out, with one and with two threads."""
    for threads in (1, 2):
        bits = run(python, "tests/stress/same_bits.py", "--parts", threads=threads)
        said = bits.stdout.strip() if bits.returncode == 0 else (bits.stderr.strip().splitlines() or ["?"])[-1]
        print(f"  {threads} thread{'s' * (threads > 1)}:", flush=True)
        print("\n".join(f"    {line}" for line in said.splitlines()), flush=True)


def show_tests(python: Path, name: str) -> None:
    """Print what comes of the main part of the suite."""
    parts = [part for part in MAIN_PART if (ROOT / part).exists()]
    tests = run(python, "-m", "pytest", *parts, "-p", "no:cacheprovider", "-m", "not fuzz and not slow and not browser")
    failed = re.findall(r"^(?:FAILED|ERROR) .*", tests.stdout, re.MULTILINE)
    print(f"\n{name}, tests:", (tests.stdout.strip() or tests.stderr.strip() or "nothing").splitlines()[-1])
    print("\n".join(f"    {line[:200]}" for line in failed[:20]), flush=True)


def main(interpreters: list[str]) -> None:
    print(f"{datetime.date.today()}, {platform.machine()}, {platform.system()}")
    with tempfile.TemporaryDirectory() as folder:
        asked = [(interpreter, asked_for(), "newest libraries") for interpreter in interpreters]
        asked.insert(1, (interpreters[0], [one.replace(">=", "==") for one in asked_for()], "oldest libraries"))
        pythons = {}
        for number, (interpreter, libraries, words) in enumerate(asked, start=1):
            python = made(interpreter, libraries, words, Path(folder) / f"environment {number}")
            if python is not None:
                pythons[f"environment {number}"] = python
                show_bits(python)
        print(f"\nThe main part: {' '.join(MAIN_PART)}")
        for name, python in pythons.items():
            show_tests(python, name)


if __name__ == "__main__":
    main(sys.argv[1:] or [sys.executable])
