"""The panels of the notebooks, in one place: lens bench, readings desk, vehicle sheet, questions of a lesson."""

from lampkit.lens_bench import lens_as_set, lens_bench
from lampkit.lesson import pick_one, show_for_the_eye, show_rise, show_through, show_whole, show_words, work_out
from lampkit.readings_desk import log_of, readings_desk
from lampkit.vehicle_sheet import plan_chart, vehicle_sheet

__all__ = [
    "lens_as_set",
    "lens_bench",
    "log_of",
    "pick_one",
    "plan_chart",
    "readings_desk",
    "show_for_the_eye",
    "show_rise",
    "show_through",
    "show_whole",
    "show_words",
    "vehicle_sheet",
    "work_out",
]
