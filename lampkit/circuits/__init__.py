"""Circuits of a vehicle: loads, wires, fuses, flashers, ballast resistors, tell-tales, charging, earth, tasks, faults.

charging
    GeneratorKind, standing_time
circuit_change
    LampCircuit, before_and_after
flasher_cures
    ballast
flashers
    flash, flasher, flasher_state
loads
    Load, LoadKind, filament_load, led_load, load_current, relative_light, resistor_load, total_current
meter_readings
    judge_current, judge_voltage
network
    lamp_voltage, shared_earth
tasks
    Caution, cautions, order_of_work
tell_tale
    tell_tale_state
wiring
    Wire, current_ratings, resistance_per_length
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
