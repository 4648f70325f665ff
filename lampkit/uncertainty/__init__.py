"""Uncertainty: what is believed, drawn from a seed; what readings leave of it; first-order budgets.

budget
    fieller, normalised_error, propagate
sampling
    Belief, draw, interval, set_belief, standard_normal
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
