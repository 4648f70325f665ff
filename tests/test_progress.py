"""How far a long piece of work is: told to whoever watches, drawn in a terminal only, and a stop in the middle."""

import fcntl
import os
import pty
import signal
import struct
import subprocess
import sys
import termios
from pathlib import Path

import commands

import lampkit as lk
from lampkit import progress
from lampkit.progress import Phase

ROOT = Path(__file__).resolve().parent
MOPED = ROOT / "vehicles" / "bread_moped"


def test_whoever_watches_is_told_of_every_lamp() -> None:
    told: list[tuple[Phase, int, int]] = []
    held = lk.vehicle.load(MOPED)
    with progress.watched(lambda phase, done, total: told.append((phase, done, total))):
        lk.plan.make(held, draws=100)
    lamps = len(held.lamps)
    assert [one for one in told if one[0] is Phase.LAMPS] == [(Phase.LAMPS, n, lamps) for n in range(lamps + 1)]
    before = len(told)
    lk.plan.make(held, draws=100)
    assert len(told) == before, "nobody watches any more"


def test_an_error_inside_ends_the_watch() -> None:
    try:
        with progress.watched(print):
            raise KeyboardInterrupt
    except KeyboardInterrupt:
        pass
    assert list(progress.steps([1, 2], Phase.LAMPS)) == [1, 2]


def command(folder: Path, draws: int = 400, vehicle: Path = MOPED) -> list[str]:
    page = folder / "moped.html"
    return [sys.executable, "-m", "lampkit", "report", str(vehicle), "--draws", str(draws), "-o", str(page)]


def test_a_bar_is_drawn_in_a_terminal_and_nowhere_else(tmp_path: Path) -> None:
    away = commands.here(*command(tmp_path)[3:], cwd=tmp_path)
    assert away.returncode == 0
    assert "%|" not in away.stderr and len(away.stderr.splitlines()) == 1
    inner, outer = pty.openpty()
    fcntl.ioctl(outer, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    done = subprocess.Popen(command(tmp_path), stdout=subprocess.DEVNULL, stderr=outer)
    os.close(outer)
    shown = b""
    while True:
        try:
            more = os.read(inner, 4096)
        except OSError:  # the other end is closed
            break
        if not more:
            break
        shown += more
    assert done.wait() == 0
    assert b"lamps" in shown and b"%|" in shown
    assert shown.rstrip().endswith(b".html"), "the bar is gone, the last line stays"


def test_a_stop_in_the_middle_is_one_sentence_and_no_half_file(tmp_path: Path) -> None:
    (tmp_path / "moped.html").write_text("an older page", encoding="utf-8")
    inner, outer = pty.openpty()
    fcntl.ioctl(outer, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    # Eleven kinds of lamps take long enough that the stop comes in the middle on a busy machine, too.
    words = command(tmp_path, 20_000, lk.tables.folder() / "library_van")
    running = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=outer, text=True)
    os.close(outer)
    shown = b""
    while b"lamps" not in shown:
        shown += os.read(inner, 4096)
    running.send_signal(signal.SIGINT)
    out, _ = running.communicate(timeout=120)
    while True:
        try:
            shown += os.read(inner, 4096)
        except OSError:  # the other end is closed
            break
    assert running.returncode == 130 and out == ""
    assert shown.rstrip().splitlines()[-1].rpartition(b"\r")[2].startswith(b"lampkit: stopped")
    assert b"Traceback" not in shown
    assert [path.name for path in tmp_path.iterdir()] == ["moped.html"]
    assert (tmp_path / "moped.html").read_text(encoding="utf-8") == "an older page"
