"""How examples print: a library that some tests load changes how NumPy writes arrays, for the whole process."""

from collections.abc import Iterator

import numpy as np
import pytest


@pytest.fixture(autouse=True)
def numpy_writes_arrays_as_documented() -> Iterator[None]:
    with np.printoptions(legacy=False):
        yield
