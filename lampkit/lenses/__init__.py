"""Lenses: what dye, surfaces, thickness, fading and warmth make of the light that passes.

coloured_lens
    Lens, at_temperature, faded, load, neutral, read, stack, thicker, transmittances
fitting
    from_measured
spectral_transmittance
    refractive_index, slab_transmittance
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
