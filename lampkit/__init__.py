"""Photometry and spectral filters for converting an older vehicle's signal lamps from filament to LED.

The folders load when they are first used, so that `import lampkit` costs next to nothing.
"""

import lazy_loader

__version__ = "0.1.0"

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
