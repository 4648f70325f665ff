"""Published limits: signal colours, luminous intensities, flash rates and ratios, by rule set.

colours
    colour_margins, colour_place, colour_region, inside, required_colour
functions
    function
intensity_limits
    compare_on_axis, requirement
light_distribution
    against_grid
limits
    flash_limits, further_limits, ratio_limits, required_ratio
rule_sets
    in_force, rule_set
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
