"""Runs the command line as `python -m lampkit`."""

from lampkit.cli import main

raise SystemExit(main())
