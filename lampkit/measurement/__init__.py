"""Readings in a garage: meters, logs, the fair ratio of two lamps, and what they tell about a lens.

colour_response
    mismatch_correction, mismatch_index
fair_ratio
    Comparison, FairRatio, compare_readings
illuminance_log
    IlluminanceLog, load_log, read_log
lens_identification
    believed_lens, learn_lens, next_reading
meters
    Meter, lux_meter, measured_meter, phone
procedure
    plan_measurement
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
