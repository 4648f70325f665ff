"""Vehicles to start from: invented, plain, with comments that say what to change; one is copied into a folder."""

import os
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from lampkit import tables
from lampkit.errors import InputError, nearest
from lampkit.vehicle import file

VAN = "van"
"""The name under which the demo is a starter, too."""


def starters() -> Mapping[str, str]:
    """List the vehicles to start from: the name of each, and what it is, as the first line of its file says."""
    known = {folder.name: folder for folder in sorted((tables.folder() / "starters").iterdir()) if folder.is_dir()}
    known[VAN] = tables.folder() / "library_van"
    return MappingProxyType({name: _title(folder) for name, folder in known.items()})


def _title(folder: Path) -> str:
    with (folder / file.NAME).open(encoding="utf-8") as text:
        return text.readline().strip("# \n").partition(". ")[0]


def begin(folder: str | Path, like: str) -> tuple[Path, ...]:
    """Copy a vehicle to start from into a folder, whole or not at all; nothing that stands there is touched.

    Source: data/starters, invented.
    """
    known = starters()
    if like not in known:
        raise InputError(f"there is no vehicle '{like}' to start from", key="--like", expected=nearest(like, known))
    target = Path(folder).expanduser()
    ours = tables.folder() / ("library_van" if like == VAN else f"starters/{like}")
    wanted = {path: target / path.name for path in sorted(ours.iterdir()) if path.is_file() and path.suffix != ".md"}
    if target.exists() and not target.is_dir():
        raise InputError("this is a file", file=target, expected="the name of a folder")
    for place in wanted.values():
        if place.exists() or place.is_symlink():
            raise InputError("this stands there already, and stays as it is", file=place, remedy="name another folder")
    made: list[Path] = []
    try:
        target.mkdir(parents=True, exist_ok=True)
        for source, place in wanted.items():
            raw = source.read_bytes()
            with place.open("xb") as stream:  # a file that appears in the meantime is kept
                made.append(place)
                stream.write(raw)
    except OSError as error:
        _take_back(made)
        why = error.strerror or str(error)
        raise InputError(f"it cannot be written ({why})", file=target, remedy="name another folder") from None
    except KeyboardInterrupt:
        _take_back(made)
        raise
    return tuple(made)


def _take_back(made: list[Path]) -> None:
    for place in made:
        os.unlink(place)
