"""The vehicle file: lamps, lenses, circuits and light sources on offer, read, checked and written.

draft
    Change, Draft
file
    document
lamps
    Lamp
vehicle
    Vehicle, asking, load, write
vehicle_parts
    Offer
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
