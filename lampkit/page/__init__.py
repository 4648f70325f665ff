"""Pages and charts: what the plan and the readings say, drawn and written for screen and paper."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
