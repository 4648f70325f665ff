"""Panels of the notebooks, and the command that opens them.

lens_panel
    lens_as_set, lens_bench
lesson
    pick_one, show_for_the_eye, show_rise, show_through, show_whole, show_words, work_out
readings_panel
    readings_desk
vehicle_panel
    plan_chart, vehicle_sheet
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
