"""One lamp: its filament, the light sources on offer, the lens and the road, and what to fit.

assessment
    Assessment, Result, assess
suggestion
    Suggestion, suggest
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
