"""Light: from a spectrum to lumens, candela, lux and colour, and measured curves on the one wavelength grid.

colorimetry
    cct_duv, chromaticity, chromaticity_from_cct, colour_matching_functions, dominant_wavelength, through_lenses
edges
    absorption_edge, edge_at_strength
illuminants
    illuminant
measured_curves
    read_curve
photometry
    cone_intensity, efficacy_of_radiation, illuminance, luminous_efficiency, luminous_flux, luminous_intensity,
    luminous_transmittance, transmittance_table
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
