"""The notebooks as they are copied for a user, each run once and looked at by several tests."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from lampkit.notebook import lab


@pytest.fixture(scope="session")
def mine(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lab.set_up(tmp_path_factory.mktemp("lab") / "mine").folder


@pytest.fixture(scope="session")
def execute(mine: Path) -> Iterator[Callable[[Any], Any]]:
    """Runs a notebook from top to bottom; all run in one kernel, which forgets every name before the next."""
    import nbclient
    import nbformat
    from nbclient.util import run_sync

    kernel = nbclient.NotebookClient(nbformat.v4.new_notebook(), kernel_name="python3").create_kernel_manager()
    with mock.patch.dict(os.environ, OPENBLAS_NUM_THREADS="1"):
        run_sync(kernel.start_kernel)(cwd=str(mine))

    def execute(book: Any) -> Any:
        book.cells.insert(0, nbformat.v4.new_code_cell("%reset -f"))
        nbclient.NotebookClient(book, km=kernel, timeout=240).execute()
        del book.cells[0]
        return book

    yield execute
    run_sync(kernel.shutdown_kernel)(now=True)


@pytest.fixture(scope="session")
def executed(mine: Path, execute: Callable[[Any], Any]) -> Callable[[str], Any]:
    """A notebook of the kit as it stands after it was run."""
    import nbformat

    kept: dict[str, Any] = {}

    def run(name: str) -> Any:
        if name not in kept:
            kept[name] = execute(nbformat.read(mine / name, as_version=4))
        return kept[name]

    return run
