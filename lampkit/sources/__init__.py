"""Light sources: tungsten filaments at rest and in time, filament lamps, coloured and white LEDs.

filament_lamps
    designations, filament, led_must_be, rating
hot_wire
    hot_wire_current, hot_wire_light, hot_wire_of_rating, hot_wire_resistance, steady_temperature
incandescence
    colour_temperature, emissivity, exponent, planck, temperature_from_efficacy, tungsten, voltage_law
interchange
    listed_lamps, replacements
led_spectra
    narrow_band, phosphor_white
leds
    coloured_led, white_led
light_source
    LightSource, measured_source
warming
    rise_time, settling_time, switch_on
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
