"""Published limits: signal colours, luminous intensities, flash rates and ratios, by rule set.

colours
    ColourPlace, ColourRegion, RequiredColour, colour_margin, colour_margins, colour_place, colour_region,
    colour_regions, inside, required_colour, share_inside
functions
    LampFunction, function
intensity_limits
    Distribution, GridComparison, GroupTotal, Requirement, against_grid, axis_margins, compare_on_axis,
    distribution, requirement
limits
    Limit, LimitComparison, LimitVerdict, compare_with_limit, flash_limits, further_limits, ratio_limits,
    required_ratio
rule_sets
    RuleSet, in_force, rule_set
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
