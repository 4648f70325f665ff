"""The plan for a whole vehicle: what to fit in each lamp, and what hangs on it.

agreement
    Confrontation, confront_readings
alike
    AlikeLamps
choice
    Choice, choose
intensity
    LampIntensity, predict_intensity
plan
    Plan, make, pick
timing
    LampTiming, assess_timing
wishes
    Family, Wishes
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
