"""The plan for a whole vehicle: what to fit in each lamp, and what hangs on it."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
