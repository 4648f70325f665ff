"""The plan for a whole vehicle: what to fit in each lamp, and what hangs on it.

agreement
    confront_readings
choice
    Choice, choose
faults
    find_fault
intensity
    predict_intensity
plan
    Plan, make, pick
timing
    assess_timing
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
