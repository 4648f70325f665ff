"""Lenses: what dye, surfaces, thickness, fading and warmth make of the light that passes."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
