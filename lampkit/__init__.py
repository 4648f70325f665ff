"""Photometry and spectral filters for converting an older vehicle's signal lamps from filament to LED.

The submodules load when they are first used, so that `import lampkit` costs no more than numpy.
"""

import importlib
import pkgutil
from types import ModuleType

import numpy as _numpy  # noqa: F401  the one library that every submodule needs

__version__ = "0.1.0"

_SUBMODULES = frozenset(found.name for found in pkgutil.iter_modules(__path__) if not found.name.startswith("_"))


def __getattr__(name: str) -> ModuleType:
    if name in _SUBMODULES:
        return importlib.import_module(f"lampkit.{name}")
    raise AttributeError(f"module 'lampkit' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_SUBMODULES])
