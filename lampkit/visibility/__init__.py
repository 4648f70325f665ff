"""How far and how soon a lamp is seen: range, effective intensity of a flash, brightness of saturated colour."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
