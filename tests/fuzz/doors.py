"""The doors of the kit, and what may come of an input: it is taken, or refused in plain sentences, and nothing else."""

import contextlib
import io
import json
import math
import os
import resource
import signal
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import matplotlib
from command_lines import check_files, files_in, numbers_of

import lampkit as lk
from lampkit import cli
from lampkit.errors import InputError
from lampkit.light import measured_curves
from lampkit.measurement import fair_ratio, illuminance_log

LONGEST_SENTENCE = 900
"""Letters of one sentence that a person still reads."""

MOST_MEMORY = 500_000
"""Memory that the inputs of one door may add to what the plain run took [kB]."""

BLOCKED = 120
"""Seconds after which an input counts as one that waits for ever, whatever else runs on the machine [s]."""

SLOWEST = 2.0
"""Processor seconds beyond the plain run after which an input counts as one that hangs."""


@dataclass
class Watch:
    """What the process opened while an input was inside."""

    folder: Path | None = None
    outside: list[str] = field(default_factory=list)


WATCH = Watch()
OWN = tuple(
    str(Path(place).resolve())
    for place in {sys.prefix, sys.base_prefix, str(lk.tables.folder()), str(Path(lk.__file__).parent.parent)}
)
FONTS = (matplotlib.get_cachedir(), matplotlib.get_configdir())
SYSTEM = ("/usr/share", "/usr/lib", "/dev/null", "/dev/urandom", "/etc/localtime", "/proc/self", "/sys/devices")


def _heard(event: str, arguments: tuple[Any, ...]) -> None:
    """Note each file outside and each connection, as the interpreter reports them."""
    if WATCH.folder is None:
        return
    if event in ("socket.connect", "socket.getaddrinfo", "socket.sendto", "socket.bind", "subprocess.Popen"):
        WATCH.outside.append(event)
    if event in ("os.remove", "os.rename", "os.mkdir", "os.rmdir", "os.symlink", "os.truncate", "os.chmod"):
        changed = os.path.realpath(os.fsdecode(arguments[0]))
        if not changed.startswith((str(WATCH.folder), *FONTS)):
            WATCH.outside.append(f"{event} {changed}")
    if event != "open" or not isinstance(arguments[0], (str, bytes)):
        return
    path = os.path.realpath(os.fsdecode(arguments[0]))
    writes = isinstance(arguments[1], str) and set(arguments[1]) & set("wax+")
    allowed = (str(WATCH.folder), *FONTS) if writes else (str(WATCH.folder), *OWN, *SYSTEM, *FONTS)
    if not path.startswith(allowed) and not path.endswith(".pyc"):
        WATCH.outside.append(path)


sys.addaudithook(_heard)


@contextlib.contextmanager
def watched(folder: Path) -> Iterator[None]:
    """Let nothing outside a folder be opened but the kit's own files and the libraries."""
    WATCH.folder, WATCH.outside = folder.resolve(), []
    try:
        yield
    finally:
        WATCH.folder = None
    assert not WATCH.outside, f"opened outside the folder: {WATCH.outside[:3]}"


@contextlib.contextmanager
def never_blocked() -> Iterator[None]:
    """End what waits for ever, as the opening of a pipe does."""

    def ended(*_: object) -> None:
        raise TimeoutError("it waits for ever")

    before = signal.signal(signal.SIGALRM, ended)
    signal.alarm(BLOCKED)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


class Refused(Exception):
    """What a command refuses, as it stands on the error stream."""


def held(door: Callable[[], Any], folder: Path, plain: float) -> bool:
    """Send one input through a door; say whether it was taken, and fail on anything but that or a plain refusal."""
    began, memory = time.process_time(), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with watched(folder), never_blocked(), warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        try:
            _check_finite(door())
            taken = True
        except (InputError, Refused) as error:
            told = str(error)
            taken = False
    if not taken:
        for line in told.split("\n"):
            assert line.isprintable() and line.endswith("."), line[:200]
            assert len(line) <= LONGEST_SENTENCE, line[:200]
    assert time.process_time() - began <= plain + SLOWEST, "too slow"
    added = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - memory
    assert added <= MOST_MEMORY, f"{added / 1000:.0f} MB more"
    return taken


def _check_finite(result: Any) -> None:
    """No number that comes out is none."""
    if isinstance(result, dict):
        for value in result.values():
            _check_finite(value)
    elif isinstance(result, (list, tuple)):
        for value in result:
            _check_finite(value)
    elif isinstance(result, float):
        assert math.isfinite(result), "a number that is none came out"


def vehicle_door(folder: Path, text: bytes) -> Callable[[], Any]:
    """A vehicle file, read."""
    (folder / "vehicle.toml").write_bytes(text)

    def door() -> Any:
        lk.vehicle.load(folder)

    return door


def readings_door(folder: Path, text: bytes) -> Callable[[], Any]:
    """A log of readings, read and compared, to the numbers that a program gets."""
    place = folder / "log.csv"
    place.write_bytes(text)

    def door() -> Any:
        log = illuminance_log.load_log(place)
        found = lk.page.readings_as_dict(fair_ratio.compare_readings(log, draws=200, seed=1))
        return json.loads(json.dumps(found, allow_nan=False))

    return door


def curve_door(folder: Path, text: bytes, name: str, what: Any) -> Callable[[], Any]:
    """A measured curve, read and integrated."""
    place = folder / name
    place.write_bytes(text)

    def door() -> Any:
        curve = measured_curves.read_curve(place, what=what, outside="hold")
        return [float(value) for value in curve]

    return door


def command_door(folder: Path, arguments: list[str]) -> Callable[[], Any]:
    """A command line; what it refuses, it refuses with exit status 2, on the error stream and in plain lines.

    Files are whole or as they were.
    """

    def door() -> Any:
        before = files_in(folder)
        out, err = io.StringIO(), io.StringIO()
        with contextlib.chdir(folder), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            try:
                status = cli.main(arguments)
            except SystemExit as ended:
                status = ended.code
        assert status in (0, 2), f"exit status {status}"
        check_files(folder, before, status == 0)
        printed = out.getvalue()
        assert "nan" not in printed.lower().split() and "inf" not in printed.lower().split()
        if status == 0 and "--json" in arguments:
            numbers_of(printed)
        if status == 2:
            lines = err.getvalue().rstrip("\n").split("\n")
            assert lines != [""] and not printed.strip()
            if lines[0].startswith("usage: "):
                lines = lines[-1:]
            assert all(line.startswith("lampkit: ") for line in lines)
            raise Refused("\n".join(lines))
        return None

    return door
