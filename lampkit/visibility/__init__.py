"""How far and how soon a lamp is seen: range, effective intensity of a flash, brightness of saturated colour.

brightness
    brightness_to_luminance
sight
    day_and_night_range, distance_gained, luminous_range, modified_allard, reaction_time_gained, thresholds
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
