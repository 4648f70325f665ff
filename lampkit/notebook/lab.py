"""Starts the notebooks: a folder of the user's own with notebooks and demo data, opened in JupyterLab."""

import os
import shutil
import socket
import subprocess
import sys
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import NamedTuple

from lampkit import tables
from lampkit.errors import InputError, missing_library

START = "00_start.ipynb"
"""The notebook that opens first."""

EXPLAINED = ("vehicle_file.md", "readings_file.md")
"""What explains the files that a user writes."""


class Copied(NamedTuple):
    """What was copied into a folder, and what was there already and was kept."""

    folder: Path
    copied: tuple[str, ...]
    kept: tuple[str, ...]


def notebooks() -> Path:
    """Find the folder of notebooks, of the installed kit or of the checkout."""
    return tables.shipped("notebooks", "notebooks", START)


def set_up(folder: str | Path) -> Copied:
    """Copy the notebooks and the demo data into a folder, and never write over anything."""
    target = Path(folder).expanduser().resolve()
    if target.exists() and not target.is_dir():
        raise InputError("this is a file", file=target, expected="the name of a folder")
    demo = tables.folder() / "library_van"
    ours = notebooks()
    wanted = [(path, Path(path.name)) for path in sorted(ours.glob("*.ipynb"))]
    wanted += [(path, Path("pictures") / path.name) for path in sorted(ours.glob("pictures/*.svg"))]
    # The wheel holds what explains the files beside the notebooks, the checkout in a folder of its own.
    explained = [ours / name if (ours / name).is_file() else ours.parent / "references" / name for name in EXPLAINED]
    wanted += [(path, Path(path.name)) for path in explained if path.is_file()]
    wanted += [
        (path, Path(demo.name) / path.relative_to(demo))
        for path in sorted(demo.rglob("*"))
        if path.is_file() and not path.name.startswith(".")
    ]
    copied, kept = [], []
    try:
        for source, name in wanted:
            place = target / name
            if place.exists() or place.is_symlink():
                kept.append(str(name))
                continue
            place.parent.mkdir(parents=True, exist_ok=True)
            # A file that appears in the meantime is kept, too.
            with source.open("rb") as read, place.open("xb") as write:
                shutil.copyfileobj(read, write)
            copied.append(str(name))
    except FileExistsError as error:
        raise InputError("a file stands where a folder is needed", file=error.filename) from None
    except OSError as error:
        raise InputError(
            f"it cannot be written ({error.strerror})", file=target, remedy="name another folder"
        ) from None
    return Copied(target, tuple(copied), tuple(kept))


def refuse_missing() -> None:
    """Refuse to begin where JupyterLab is not installed."""
    for name in ("jupyterlab", "ipywidgets"):
        if find_spec(name) is None:
            raise missing_library(ModuleNotFoundError(name=name))


def refuse_taken(port: int) -> None:
    """Refuse a port that another program listens on."""
    with socket.socket() as probe:
        taken = probe.connect_ex(("127.0.0.1", port)) == 0
    if taken:
        raise InputError(
            f"another program uses port {port}", key="--port", remedy="name another one, or leave it out for a free one"
        )


def command(folder: Path, *, browser: bool = True, port: int | None = None) -> list[str]:
    """Word the command that starts JupyterLab on the start page of a folder."""
    # No news and no updates: nothing asks before the start page shows, and nothing leaves this computer.
    quiet = ["--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate", "--LabApp.news_url=None"]
    quiet.append(f"--LabApp.app_settings_dir={Path(__file__).resolve().parent / 'lab_settings'}")
    start = [f"--ServerApp.root_dir={folder}", f"--LabApp.default_url=/lab/tree/{START}"]
    words = [sys.executable, "-m", "jupyterlab", *start, *quiet]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        # In a container there is often no other user; the server listens on this computer only, and asks for a token.
        words.append("--allow-root")
    if not browser:
        words.append("--no-browser")
    if port is not None:
        words += [f"--port={port}", "--ServerApp.port_retries=0"]
    return words


def surroundings() -> dict[str, str]:
    """Give the environment in which the notebooks answer quickest.

    Source: own measurement: on two cores the threads of the linear algebra wait for each other, and a slider answers
    three to five times later than with one.
    """
    return {"OPENBLAS_NUM_THREADS": "1", **os.environ}


def start(folder: Path, *, browser: bool = True, port: int | None = None, more: Sequence[str] = ()) -> int:
    """Run JupyterLab on a folder until it is stopped."""
    with subprocess.Popen([*command(folder, browser=browser, port=port), *more], env=surroundings()) as running:
        while True:
            try:
                return running.wait()
            except KeyboardInterrupt:
                continue  # JupyterLab heard it, too, and asks whether to stop
