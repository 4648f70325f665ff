"""What is handed over: the wheel holds all that the kit needs, and what is missing or in the way is told plainly.

The long way, an empty environment and the first command of the README, runs with `pytest -m slow`.
"""

import os
import re
import subprocess
import sys
import tarfile
import tomllib
import venv
import zipfile
from pathlib import Path

import pytest

import lampkit
from lampkit import cli, written_files
from lampkit.errors import InputError, missing_library
from lampkit.notebook import lab

ROOT = Path(__file__).resolve().parent.parent
ODD = "Omas Wägen, 灯 & co"
"""A name of a folder as people have them."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The wheel and the source archive, as the build makes them."""
    from hatchling.builders.sdist import SdistBuilder
    from hatchling.builders.wheel import WheelBuilder

    folder = str(tmp_path_factory.mktemp("made"))
    return {
        "wheel": Path(next(iter(WheelBuilder(str(ROOT)).build(directory=folder, versions=["standard"])))),
        "sdist": Path(next(iter(SdistBuilder(str(ROOT)).build(directory=folder, versions=["standard"])))),
    }


def kept(*folders: str) -> set[str]:
    """The files of the checkout below some folders."""
    found = (path for folder in folders for path in (ROOT / folder).rglob("*"))
    hidden = ("__pycache__", ".ipynb_checkpoints")
    return {str(path.relative_to(ROOT)) for path in found if path.is_file() and not set(hidden) & set(path.parts)}


def test_the_wheel_holds_what_the_kit_reads(made: dict[str, Path]) -> None:
    with zipfile.ZipFile(made["wheel"]) as wheel:
        there = {name for name in wheel.namelist() if not name.startswith("lampkit-")}
    expected = kept("lampkit")
    expected |= {f"lampkit/{name}" for name in kept("data", "notebooks")}
    expected |= {name.replace("tests/", "lampkit/") for name in kept("tests/published")}
    expected |= {f"lampkit/notebooks/{name}" for name in lab.EXPLAINED}
    assert there == expected


def test_the_source_archive_makes_the_same_wheel(made: dict[str, Path], tmp_path: Path) -> None:
    from hatchling.builders.wheel import WheelBuilder

    with tarfile.open(made["sdist"]) as archive:
        archive.extractall(tmp_path, filter="data")
    (unpacked,) = tmp_path.iterdir()
    again = Path(next(iter(WheelBuilder(str(unpacked)).build(directory=str(tmp_path), versions=["standard"]))))
    with zipfile.ZipFile(again) as second, zipfile.ZipFile(made["wheel"]) as first:
        assert {i.filename: i.CRC for i in second.infolist()} == {i.filename: i.CRC for i in first.infolist()}
    for name in ("CHANGELOG.md", "CITATION.cff", "LICENSE", "DEVELOPERS.md", "tests/test_install.py"):
        assert (unpacked / name).is_file()


def test_an_unpacked_wheel_works_without_the_checkout(made: dict[str, Path], tmp_path: Path) -> None:
    place = tmp_path / ODD
    with zipfile.ZipFile(made["wheel"]) as wheel:
        wheel.extractall(place)
    program = (
        "import lampkit, sys; from lampkit import cli; assert lampkit.__file__.startswith(sys.argv[1]); "
        "lampkit.checks.checks()[0].passes(); "
        "sys.exit(cli.main(['lab', 'own', '--no-open']) or cli.main(['rules', '--year', '1964']))"
    )
    surroundings = {**os.environ, "PYTHONPATH": str(place)}
    run = subprocess.run(
        [sys.executable, "-c", program, str(place)], cwd=place, env=surroundings, capture_output=True, text=True
    )
    assert run.returncode == 0, run.stderr
    assert (place / "own" / "library_van" / "vehicle.toml").is_file() and (place / "own" / lab.START).is_file()


def test_the_version_stands_in_one_place(made: dict[str, Path]) -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert "version" not in project and project["dynamic"] == ["version"]
    assert made["wheel"].name.startswith(f"lampkit-{lampkit.__version__}-")
    # Two texts name it for people; they may not fall behind.
    cited = re.search(r"^version: (.*)$", (ROOT / "CITATION.cff").read_text(encoding="utf-8"), re.MULTILINE)
    newest = re.search(r"^## (\S+), ", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), re.MULTILINE)
    assert cited and newest and cited[1] == newest[1] == lampkit.__version__


WITHOUT = {
    "ipywidgets": ("lampkit.notebook.lens_bench", "lab"),
    "colour": ("lampkit.light.read_curve('curve.spdx', what='spectrum')", "spectra"),
}


@pytest.mark.parametrize("library", WITHOUT)
def test_a_part_that_is_not_installed_names_its_extra(library: str, tmp_path: Path) -> None:
    call, extra = WITHOUT[library]
    (tmp_path / "curve.spdx").write_text("<a/>")
    program = (
        f"import sys; sys.modules['{library}'] = None; import lampkit\n"
        f"try: {call}\nexcept lampkit.errors.InputError as e: print(e)"
    )
    run = subprocess.run([sys.executable, "-c", program], cwd=tmp_path, capture_output=True, text=True)
    assert run.stdout == (
        f"the library {library} is needed for this and is not installed; "
        f"install it with: pip install 'lampkit[{extra}]'.\n"
    ), run.stderr


def test_the_command_tells_what_is_not_installed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(lab, "find_spec", lambda name: None)
    assert cli.main(["lab", str(tmp_path / "own")]) == 2
    assert capsys.readouterr().err == (
        "lampkit: the library jupyterlab is needed for this and is not installed; "
        "install it with: pip install 'lampkit[lab]'.\n"
    )
    assert not (tmp_path / "own").exists()
    assert str(missing_library(ModuleNotFoundError(name="scipy.special"))).endswith("pip install 'lampkit'.")


def test_every_extra_that_is_named_is_there() -> None:
    from lampkit.errors import EXTRAS

    extras = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    assert set(EXTRAS.values()) <= set(extras)


def test_a_folder_that_may_not_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refused(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(written_files.tempfile, "mkstemp", refused)
    assert cli.main(["procedure", "60", "-o", str(tmp_path / "card.html")]) == 2
    told = capsys.readouterr().err
    assert "cannot be written (Permission denied)" in told and told.rstrip().endswith("with -o.")
    monkeypatch.setattr(Path, "mkdir", refused)
    with pytest.raises(InputError, match=r"it cannot be written \(Permission denied\); name another folder\.$"):
        lab.set_up(tmp_path / "own")
    assert not list(tmp_path.iterdir())


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["wheel", "sdist"])
def test_the_first_command_in_an_empty_environment(kind: str, made: dict[str, Path], tmp_path: Path) -> None:
    place = tmp_path / ODD
    venv.create(place / ".venv", with_pip=True)
    surroundings = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "VIRTUAL_ENV")}
    for words in (
        ["-m", "pip", "install", "--quiet", "--disable-pip-version-check", str(made[kind])],
        ["-m", "lampkit", "report", "--demo", "--draws", "100"],
    ):
        run = subprocess.run(
            [place / ".venv" / "bin" / "python", *words], cwd=place, env=surroundings, capture_output=True, text=True
        )
        assert run.returncode == 0, run.stderr
    assert "Stop lamp left" in run.stdout
    assert (place / "library_van.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    lab_run = subprocess.run(
        [place / ".venv" / "bin" / "lampkit", "lab", "own"], cwd=place, env=surroundings, capture_output=True, text=True
    )
    assert lab_run.returncode == 2 and lab_run.stderr.endswith("pip install 'lampkit[lab]'.\n")
