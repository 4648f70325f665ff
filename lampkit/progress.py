"""How far a long piece of work is: told to whoever watches, a bar in a terminal or a panel."""

import importlib
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from enum import Enum
from typing import TYPE_CHECKING, TypeVar

from lampkit.statements import named

if TYPE_CHECKING:
    from tqdm import tqdm

T = TypeVar("T")


class Phase(Enum):
    """What is being worked on."""

    LAMPS = "lamps"
    PAGE = "page"


Watcher = Callable[[Phase, int, int], None]
"""What is told how far it is: the phase, how many of it are done, and how many there are."""

_WATCHER: ContextVar[Watcher | None] = ContextVar("_WATCHER", default=None)


@contextmanager
def watched(watcher: Watcher) -> Iterator[None]:
    """Tell a watcher how far everything is that is worked on inside."""
    before = _WATCHER.set(watcher)
    try:
        yield
    finally:
        _WATCHER.reset(before)


def steps(items: Sequence[T], phase: Phase) -> Iterator[T]:
    """Go through items one after the other, and tell whoever watches how many are done."""
    watcher, total = _WATCHER.get(), len(items)
    for done, item in enumerate(items):
        if watcher is not None:
            watcher(phase, done, total)
        yield item
    if watcher is not None:
        watcher(phase, total, total)


@contextmanager
def bar() -> Iterator[None]:
    """Show a bar where somebody looks at a terminal, or a notebook, and nothing where the output goes elsewhere."""
    in_notebook = "IPython" in sys.modules
    if not (in_notebook or sys.stderr.isatty()):
        yield  # the bar's library is not loaded for nobody
        return
    shown: dict[Phase, tqdm[None]] = {}

    def told(phase: Phase, done: int, total: int) -> None:
        # A terminal's own bar loads in half the time of the one that chooses.
        tqdm = importlib.import_module("tqdm.auto" if in_notebook else "tqdm").tqdm
        if phase not in shown:
            # disable=None: only in a terminal or a notebook.
            shown[phase] = tqdm(total=total, desc=str(named(phase)), leave=False, disable=None)
        shown[phase].update(done - shown[phase].n)
        if done == total:
            shown.pop(phase).close()

    try:
        with watched(told):
            yield
    finally:
        for one in shown.values():
            one.close()
