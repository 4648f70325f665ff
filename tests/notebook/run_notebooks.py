"""Runs notebooks from top to bottom in one kernel, which forgets every name before the next.

    python tests/notebook/run_notebooks.py NOTEBOOK [NOTEBOOK ...]

Beside each stands NAME.ran, what came of it, with what went wrong among its outputs. One that is not there is the one
in which the start page takes its first steps, with these steps taken.
"""

import sys
from pathlib import Path
from typing import Any

FIRST = "01_one_lamp.ipynb"


def take_first_steps(book: Any) -> None:
    """Change a notebook by the words of the start page: another lens and function, and an LED of one's own."""
    for cell in book.cells[:9]:
        if cell.cell_type == "code":
            cell.source = cell.source.replace('load("red"', 'load("amber"').replace('"stop"', '"rear turn"')
            if cell.source.startswith("mine ="):
                cell.source = cell.source.replace('"red-orange"', '"amber"').replace("=190", "=560")


def run(paths: list[Path]) -> None:
    """Run them; a kernel that dies ends all."""
    import nbclient
    import nbformat
    from nbclient.util import run_sync

    kernel = nbclient.NotebookClient(nbformat.v4.new_notebook(), kernel_name="python3").create_kernel_manager()
    run_sync(kernel.start_kernel)(cwd=str(paths[0].parent))
    try:
        for path in paths:
            book = nbformat.read(path if path.exists() else path.with_name(FIRST), as_version=4)
            if not path.exists():
                take_first_steps(book)
            book.cells.insert(0, nbformat.v4.new_code_cell("%reset -f"))
            nbclient.NotebookClient(book, km=kernel, timeout=240, allow_errors=True).execute()
            del book.cells[0]
            nbformat.write(book, path.with_suffix(".part"))
            path.with_suffix(".part").replace(path.with_suffix(".ran"))
    finally:
        run_sync(kernel.shutdown_kernel)(now=True)


if __name__ == "__main__":
    run([*map(Path, sys.argv[1:])])
