"""Readings in a garage: meters, logs, the fair ratio of two lamps, and what they tell about a lens."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
