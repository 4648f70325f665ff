"""Lenses: what dye, surfaces, thickness, fading and warmth make of the light that passes.

changed_lens
    at_temperature, faded, from_measured, stack, thicker
coloured_lens
    Lens, load, neutral, read, transmittances
spectral_transmittance
    refractive_index, slab_transmittance
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
