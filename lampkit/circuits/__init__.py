"""Circuits of a vehicle: loads, wires, fuses, flashers, ballast resistors, tell-tales, earth, faults."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
