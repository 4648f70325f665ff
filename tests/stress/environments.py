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
    "tests/light",
    "tests/lenses",
    "tests/rules",
    "tests/sources",
    "tests/uncertainty",
    "tests/visibility",
    "tests/circuits",
    "tests/conversion",
    "tests/measurement",
    "tests/test_published.py",
    "tests/test_conversion.py",
    "tests/vehicle/test_vehicle.py",
    "tests/page/test_readings.py",
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


def tried(interpreter: str, libraries: list[str], words: str, place: Path) -> None:
    """Make one environment and print what it gives."""
    made = run(interpreter, "-m", "venv", place)
    python = place / "bin" / "python"
    if made.returncode == 0:
        made = run(python, "-m", "pip", "install", "-q", "--disable-pip-version-check", *libraries, *TESTERS)
    if made.returncode:
        print(f"\n{interpreter}, {words}: cannot be made ({(made.stderr.strip() or made.stdout).splitlines()[-1]})")
        return
    version = run(python, "-c", "import platform; print(platform.python_version())").stdout.strip()
    listed = run(python, "-m", "pip", "list", "--format=freeze", "--disable-pip-version-check").stdout.lower()
    there = dict(line.split("==", 1) for line in listed.splitlines() if "==" in line)
    print(f"\nPython {version}, {words}: " + ", ".join(f"{name} {there.get(name, '?')}" for name in SHOWN))
    for threads in (1, 2):
        bits = run(python, "tests/stress/same_bits.py", "--parts", threads=threads)
        said = bits.stdout.strip() if bits.returncode == 0 else (bits.stderr.strip().splitlines() or ["?"])[-1]
        print(f"  {threads} thread{'s' * (threads > 1)}:")
        print("\n".join(f"    {line}" for line in said.splitlines()))
    parts = [part for part in MAIN_PART if (ROOT / part).exists()]
    tests = run(python, "-m", "pytest", *parts, "-p", "no:cacheprovider", "-m", "not fuzz and not browser")
    failed = re.findall(r"^(?:FAILED|ERROR) .*", tests.stdout, re.MULTILINE)
    print("  tests:", (tests.stdout.strip() or tests.stderr.strip() or "nothing").splitlines()[-1])
    print("\n".join(f"    {line[:200]}" for line in failed[:20]), flush=True)


def main(interpreters: list[str]) -> None:
    print(f"{datetime.date.today()}, {platform.machine()}, {platform.system()}: {' '.join(MAIN_PART)}")
    with tempfile.TemporaryDirectory() as folder:
        for number, interpreter in enumerate(interpreters):
            tried(interpreter, asked_for(), "newest libraries", Path(folder) / f"new{number}")
        oldest = [asked.replace(">=", "==") for asked in asked_for()]
        tried(interpreters[0], oldest, "oldest libraries", Path(folder) / "old")


if __name__ == "__main__":
    main(sys.argv[1:] or [sys.executable])
