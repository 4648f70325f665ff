"""The command line, run as a program of its own or, where that is not the point, in the process of the tests."""

import contextlib
import io
import os
import subprocess
import sys
from pathlib import Path

from lampkit.cli import main

Finished = subprocess.CompletedProcess[str]


def program(*arguments: str | Path, cwd: Path, environment: dict[str, str] | None = None) -> Finished:
    return subprocess.run(
        [sys.executable, "-m", "lampkit", *map(str, arguments)],
        cwd=cwd,
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=300,
        env={**os.environ, **(environment or {})},
    )


def here(*arguments: str | Path, cwd: Path) -> Finished:
    out, err = io.StringIO(), io.StringIO()
    words = [*map(str, arguments)]
    with contextlib.chdir(cwd), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main(words)
    return Finished(words, code, out.getvalue(), err.getvalue())
