"""Published limits: signal colours, luminous intensities, flash rates and ratios, by rule set."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
