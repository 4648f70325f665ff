"""Runs the command line as `python -m lampkit`."""

import sys

try:
    from lampkit.cli import main

    code = main()
except KeyboardInterrupt:
    # Stopped before the command began.
    print("lampkit: stopped; files are as they were, or whole", file=sys.stderr)
    code = 130
raise SystemExit(code)
