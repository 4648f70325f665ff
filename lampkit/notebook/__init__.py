"""Panels of the notebooks, and the command that opens them.

fair_comparison
    background_rule, compare_without_lens, show_three_ways
fault_panel
    fault_finder
lens_panel
    lens_as_set, lens_bench
lesson
    show_rise, show_whole, show_words, walk_through
readings_panel
    readings_desk
vehicle_form
    your_vehicle
vehicle_panel
    plan_chart, vehicle_sheet
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
