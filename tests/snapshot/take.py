"""Takes the answers of the kit to seven invented vehicles, and freezes them.

`python tests/snapshot/take.py` writes `answers/`; `test_snapshot.py` asks again and holds the new answers against them.
Only the command line and the example of the README are used, so that the modules behind them may move. The frozen
answers are no truth: they say what the kit answered before, not what is right.
"""

import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
ANSWERS = HERE / "answers"
VEHICLES = {
    "library_van": ROOT / "data" / "library_van",
    **{path.parent.name: path.parent for path in sorted((HERE / "vehicles").glob("*/vehicle.toml"))},
}
DRAWS = ("--draws", "500", "--seed", "1")
EXAMPLE = "readme.example.json"

# A number of the example, and the attributes under which a result may hold it.
NUMBERS = {
    "luminous_flux": ("source.luminous_flux",),
    "luminous_transmittance": ("luminous_transmittance",),
    "flux_through": ("flux_through",),
    "k": ("k",),
    "ratio": ("ratio",),
    "probability": ("probability",),
    "lumens_to_buy": ("lumens_to_buy",),
    "chromaticity": ("chromaticity",),
    "share_inside": ("share_inside",),
    "spectrum_through": ("spectrum_through",),
}


def names() -> list[str]:
    """List the names of all answers, as in 'library_van.report.json'."""
    found = []
    for vehicle, folder in VEHICLES.items():
        whats = ["report"]
        if (folder / "readings.csv").is_file():
            whats += ["readings", "readings_beside_vehicle"]
        found += [f"{vehicle}.{what}.{kind}" for what in whats for kind in ("json", "txt")]
    return [*found, EXAMPLE]


def answer(name: str) -> str:
    """Ask the kit for one answer, in the form in which it is frozen."""
    if name == EXAMPLE:
        return written(example())
    vehicle, what, kind = name.split(".")
    folder = VEHICLES[vehicle]
    with tempfile.TemporaryDirectory() as place:
        if what == "report":
            arguments, where = ["report", str(folder)], Path(place)
        elif what == "readings_beside_vehicle":
            arguments, where = ["readings", "readings.csv"], folder
        else:
            # Away from its vehicle the log has to speak for itself.
            shutil.copy(folder / "readings.csv", place)
            arguments, where = ["readings", "readings.csv"], Path(place)
        shown = command(*arguments, *DRAWS, *(["--json"] if kind == "json" else []), where=where)
    return written(json.loads(shown)) if kind == "json" else shown


def command(*arguments: str, where: Path) -> str:
    """Run the command line and return what it prints."""
    path = os.pathsep.join(filter(None, (str(ROOT), os.environ.get("PYTHONPATH"))))
    done = subprocess.run(
        [sys.executable, "-m", "lampkit", *arguments],
        cwd=where,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=300,
        env={**os.environ, "PYTHONPATH": path, "PYTHONIOENCODING": "utf-8", "OPENBLAS_NUM_THREADS": "1"},
    )
    if done.returncode:
        raise RuntimeError(f"lampkit {' '.join(arguments)} ended with {done.returncode}: {done.stderr}")
    return done.stdout


def example() -> dict[str, Any]:
    """Run the example of the README and list the numbers of its result."""
    import lampkit as lk

    old = lk.sources.filament("P21W", voltage=13.5)
    white = lk.sources.white_led(cct=6000, luminous_flux=420)
    red = lk.sources.coloured_led("red", luminous_flux=110)
    lens = lk.lenses.load("red")
    assessed = lk.conversion.assess(old, [white, red], lens, function="stop", rules="UN", seed=1)
    candidates = assessed.results if hasattr(assessed, "results") else assessed.rows
    return {"old": numbers(assessed.old), "results": [numbers(result) for result in candidates]}


def numbers(result: Any) -> dict[str, Any]:
    """List the numbers of one result, those that it still holds."""
    found = {}
    for name, attributes in NUMBERS.items():
        for attribute in attributes:
            value = result
            for step in attribute.split("."):
                value = getattr(value, step, None)
            if value is not None:
                found[name] = plain(value.tolist() if hasattr(value, "tolist") else value)
                break
    return found


def plain(value: Any) -> Any:
    """Write not-a-number as null, for JSON has no word for it."""
    if isinstance(value, list):
        return [plain(item) for item in value]
    return None if isinstance(value, float) and math.isnan(value) else value


def written(content: Any) -> str:
    """Write JSON as it is frozen."""
    return json.dumps(content, indent=1, sort_keys=True, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    taken = {name: answer(name) for name in names()}
    ANSWERS.mkdir(exist_ok=True)
    for name, content in taken.items():
        (ANSWERS / name).write_text(content, encoding="utf-8")
