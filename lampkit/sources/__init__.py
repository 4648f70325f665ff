"""Light sources: tungsten filaments at rest and in time, filament lamps, coloured and white LEDs."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
