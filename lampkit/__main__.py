"""Runs the command line, as `lampkit` and as `python -m lampkit`."""

import os
import sys


def run() -> int:
    """Run one command of the command line."""
    # Before the linear algebra loads: its products are small here, and a second thread only waits for the first.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    try:
        from lampkit.cli import main

        return main()
    except KeyboardInterrupt:
        # Stopped before the command began.
        print("lampkit: stopped; files are as they were, or whole", file=sys.stderr)
        return 130


if __name__ == "__main__":
    raise SystemExit(run())
