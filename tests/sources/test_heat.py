"""Heat: light and drift by family against data sheets, what watts, base and duty change, and bad input."""

import numpy as np
import pytest

from lampkit.errors import InputError
from lampkit.light import colorimetry, photometry
from lampkit.sources import filament_lamps, heat, leds, light_source
from lampkit.uncertainty import sampling


def at_fifty(colour: str) -> light_source.LightSource:
    """Five watts on a base of 15 mm: fifty kelvin."""
    return leds.coloured_led(colour, luminous_flux=100.0, electrical_power=5.0, base="BA15s")


# Data sheets of emitters at +50 K, from memory: light lost, and drift of the dominant wavelength [nm].
DATA_SHEETS = [("amber", 0.35, 0.50, 4.0, 5.0), ("red", 0.25, 0.35, 2.0, 3.0), ("phosphor amber", 0.10, 0.15, 0.0, 0.3)]


@pytest.mark.parametrize(("colour", "least", "most", "nearest", "farthest"), DATA_SHEETS)
def test_light_and_drift_at_fifty_kelvin(
    colour: str, least: float, most: float, nearest: float, farthest: float
) -> None:
    source = at_fifty(colour)
    hot = light_source.warm_spectrum(source)
    assert least <= 1.0 - photometry.luminous_flux(hot) / 100.0 <= most
    dominant = [colorimetry.dominant_wavelength(colorimetry.chromaticity(s)).wavelength for s in (source.spectrum, hot)]
    assert nearest <= dominant[1] - dominant[0] <= farthest
    drawn = sampling.draw({source.name: source.beliefs}, 4000, 1).of(source.name)[heat.HOT_OVER_COLD]
    low, high = np.quantile(1.0 - drawn, [0.025, 0.975])
    # The rise is not known either, so that the interval is wider than the data sheets' range, not narrower.
    assert low <= least + 0.02 and high >= most - 0.02


def test_white_loses_as_a_phosphor_does() -> None:
    source = leds.white_led(4000.0, luminous_flux=100.0, electrical_power=5.0, base="BA15s")
    assert 0.10 <= 1.0 - photometry.luminous_flux(light_source.warm_spectrum(source)) / 100.0 <= 0.15


def test_flashing_halves_the_heat() -> None:
    source = at_fifty("amber")
    steady, flashing = (
        photometry.luminous_flux(light_source.warm_spectrum(source, duty=d)) / 100.0 for d in (1.0, heat.FLASHING)
    )
    assert flashing == pytest.approx(np.sqrt(steady))
    peaks = [np.argmax(light_source.warm_spectrum(source, duty=d)) for d in (1e-6, heat.FLASHING, 1.0)]
    assert peaks[2] - peaks[0] == pytest.approx(2 * (peaks[1] - peaks[0]), abs=1)


def test_a_light_source_limits_itself() -> None:
    """Ninety-five kelvin by its watts are cut to sixty; flashing they are 47.5 K, more than half of that."""
    assert heat.duty_share(95.0, 1.0) == 1.0
    assert heat.duty_share(95.0, 0.5) == pytest.approx(47.5 / 60.0)


def test_more_watts_cost_more_light_and_a_smaller_base_too() -> None:
    def left(watts: float, base: str) -> float:
        source = leds.coloured_led("red", luminous_flux=1.0, electrical_power=watts, base=base)
        return float(photometry.luminous_flux(light_source.warm_spectrum(source)))

    assert left(1.0, "BA15s") > left(3.0, "BA15s") > left(5.0, "BA15s")
    assert left(0.5, "BA15s") > left(0.5, "BA9s")


def test_the_users_own_range_is_kept_and_a_bad_one_told() -> None:
    own = leds.coloured_led("amber", luminous_flux=100.0, hot_over_cold=(0.8, 0.9))
    drawn = sampling.draw({own.name: own.beliefs}, 20000, 1).of(own.name)[heat.HOT_OVER_COLD]
    assert np.quantile(drawn, [0.025, 0.975]) == pytest.approx([0.8, 0.9], rel=0.02)
    with pytest.raises(InputError, match="warm over that when cold"):
        leds.white_led(4000.0, luminous_flux=1.0, hot_over_cold=(0.9, 0.8))
    with pytest.raises(InputError, match="duty"):
        heat.duty_share(10.0, 0.0)


def test_an_unknown_base_has_no_limit_of_watts() -> None:
    assert heat.shedding("no such base").most_power is None
    assert heat.shedding("BA9s").most_power == 1.0  # an assumption of the table, of which the sentence is said


def test_an_old_lamp_has_lost_light_and_a_new_or_halogen_one_not() -> None:
    old = filament_lamps.filament("P21W")
    drawn = sampling.draw({old.name: old.beliefs}, 20000, 1).of(old.name)[light_source.BLACKENING]
    assert np.quantile(drawn, [0.025, 0.975]) == pytest.approx([0.75, 0.90], abs=0.01)
    new = filament_lamps.filament("P21W", blackened=None)
    assert light_source.BLACKENING not in {b.name for b in new.beliefs}
    with pytest.raises(InputError, match="blackened"):
        filament_lamps.filament("P21W", blackened=(0.3, 0.1))


def test_amber_dies_spread_as_the_trade_sorts_them() -> None:
    """From 588 nm to 598 nm (common practice, no source), cold, whether a peak is meant or a dominant wavelength."""
    cold = leds.coloured_led("amber", luminous_flux=1.0, hot_over_cold=(1.0, 1.0), drift=(0.0, 0.0))
    drawn = sampling.draw({cold.name: cold.beliefs}, 4000, 1).of(cold.name)
    xy = colorimetry.chromaticity(light_source.relative_spectra(cold, drawn))
    for wavelength in (drawn["peak wavelength"], colorimetry.dominant_wavelength(xy).wavelength):
        low, high = np.quantile(wavelength, [0.025, 0.975])
        assert 584.5 < low < 588.5 and 597.5 < high < 601.5


def test_what_the_user_knows_of_the_drift_is_kept_and_a_bad_range_told() -> None:
    known = leds.coloured_led("amber", luminous_flux=100.0, drift=(3.0, 5.0))
    drawn = sampling.draw({known.name: known.beliefs}, 20000, 1).of(known.name)[heat.DRIFT]
    assert np.quantile(drawn, [0.025, 0.5, 0.975]) == pytest.approx([3.0, 4.0, 5.0], abs=0.05)
    with pytest.raises(InputError, match="drift of the colour"):
        leds.coloured_led("amber", luminous_flux=100.0, drift=(5.0, 3.0))
    with pytest.raises(InputError, match="candela for each lumen"):
        leds.coloured_led("amber", luminous_flux=100.0, beam_ratio=(0.0, 3.0))
