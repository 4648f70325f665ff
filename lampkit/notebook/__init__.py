"""Panels of the notebooks, and the command that opens them.

circuit_panel
    circuit_loop, earth_bench, fault_finder, leak_bench
lens_panel
    lens_as_set, lens_bench
lesson
    background_rule, compare_without_lens, show_rise, show_three_ways, show_whole, show_words, walk_through
readings_panel
    lens_desk, readings_desk
vehicle_form
    your_vehicle
vehicle_panel
    plan_chart, vehicle_sheet
"""

import lazy_loader

from lampkit.errors import missing_library

_attached, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)


def __getattr__(name: str) -> object:
    """Load a panel, or say what has to be installed for it."""
    try:
        return _attached(name)
    except ModuleNotFoundError as error:
        raise missing_library(error) from None
