"""Photometry and spectral filters for converting an older vehicle's signal lamps from filament to LED.

The submodules load when they are first used, so that `import lampkit` costs no more than numpy.
"""

import importlib
from types import ModuleType

import numpy as _numpy  # noqa: F401  the one library that every submodule needs

__version__ = "0.1.0"

_SUBMODULES = (
    "ballast",
    "brightness",
    "budget",
    "charts",
    "checks",
    "circuit",
    "colorimetry",
    "conversion",
    "crossref",
    "curves",
    "edges",
    "errors",
    "estimation",
    "faults",
    "filament",
    "filament_timing",
    "flash_intensity",
    "flash_rhythm",
    "flasher",
    "grid",
    "hot_wire",
    "identify",
    "illuminance_log",
    "illuminants",
    "lamp_face",
    "lamp_ratings",
    "led_spectra",
    "lens_fit",
    "lens_models",
    "lenses",
    "light_distribution",
    "light_source",
    "limits",
    "loads",
    "log_file",
    "measurement_model",
    "measurement_plan",
    "meters",
    "mismatch",
    "outline",
    "panels",
    "photometry",
    "plan",
    "polarity",
    "readings",
    "report",
    "requirements",
    "shortfall",
    "signals",
    "sources",
    "surfaces",
    "tables",
    "telltale",
    "tungsten",
    "uncertainty",
    "vehicle",
    "visibility",
    "wiring",
)


def __getattr__(name: str) -> ModuleType:
    if name in _SUBMODULES:
        return importlib.import_module(f"lampkit.{name}")
    raise AttributeError(f"module 'lampkit' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted([*globals(), *_SUBMODULES])
