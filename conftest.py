"""How examples print, and what every test does without."""

import gc
import sys
from collections.abc import Iterator

import numpy as np
import pytest

# While thousands of tests are collected nothing is let go: looking for it takes a third of the time.
gc.disable()
# jsonschema builds grammars of addresses where it finds this, which takes a second; no schema here asks for one.
sys.modules["rfc3987_syntax"] = None  # type: ignore[assignment]


def pytest_collection_finish() -> None:
    gc.freeze()
    gc.enable()


@pytest.fixture(autouse=True)
def numpy_writes_arrays_as_documented() -> Iterator[None]:
    """A library that some tests load changes how NumPy writes arrays, for the whole process."""
    with np.printoptions(legacy=False):
        yield
