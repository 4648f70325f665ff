"""Light: from a spectrum to lumens, candela, lux and colour, and measured curves on the one wavelength grid."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
