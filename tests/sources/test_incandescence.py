"""Tungsten and the voltage laws: properties, a reference library as oracle, bad input."""

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference import radiation
from scipy.integrate import trapezoid

from lampkit import grid, tables
from lampkit.errors import InputError
from lampkit.light import colorimetry, photometry
from lampkit.sources import incandescence

KELVIN = st.floats(1300.0, 3300.0)
RATIO = st.floats(0.8, 1.25)


@pytest.mark.parametrize("kelvin", [1500.0, 2856.0, 6500.0])
def test_planck_against_the_reference_library(kelvin: float) -> None:
    radiance = colour.colorimetry.planck_law(grid.WAVELENGTHS * 1e-9, kelvin, c1=incandescence.FIRST_RADIATION_CONSTANT)
    ours = incandescence.planck(kelvin)
    theirs = np.asarray(radiance)
    assert ours / ours[200] == pytest.approx(theirs / theirs[200], rel=2e-4)  # the library keeps an older c2


def test_planck_integrates_to_the_law_of_stefan_and_boltzmann() -> None:
    # At 20000 K the grid holds a part only; the tail sums by the closed series, so this checks c1, c2 and sigma.
    metres = np.geomspace(2e-8, 1e-3, 40001)
    c1, c2 = incandescence.FIRST_RADIATION_CONSTANT, colorimetry.SECOND_RADIATION_CONSTANT
    with np.errstate(over="ignore"):
        total = trapezoid(c1 / (metres**5 * np.expm1(c2 / (metres * 3000.0))), metres)
    assert total == pytest.approx(radiation.STEFAN_BOLTZMANN_CONSTANT * 3000.0**4, rel=1e-5)
    nm500 = c1 * 1e-9 / (5e-7**5 * np.expm1(c2 / (5e-7 * 3000.0)))
    assert incandescence.planck(3000.0)[140] == pytest.approx(nm500, rel=1e-12)


def test_every_cell_of_the_emissivity_table_comes_back() -> None:
    table = tables.load("filament", "emissivity_de_vos")
    kelvin = np.arange(1600.0, 2801.0, 200.0)
    for i, nm in enumerate(table["wavelength_nm"]):
        if 360.0 <= nm <= 830.0:
            printed = [table[f"emissivity_at_{k:.0f}_K"][i] for k in kelvin]
            assert incandescence.emissivity(kelvin)[:, int(nm) - 360] == pytest.approx(printed, abs=1e-12)


def test_emissivity_goes_on_along_its_last_slope() -> None:
    e = incandescence.emissivity([1400.0, 1600.0, 1800.0, 2600.0, 2800.0, 3000.0])
    assert e[0] - e[1] == pytest.approx(e[1] - e[2], abs=1e-12)
    assert e[5] - e[4] == pytest.approx(e[4] - e[3], abs=1e-12)


@given(KELVIN, KELVIN)
def test_hotter_is_brighter_at_every_wavelength(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert np.all(incandescence.tungsten(high) >= incandescence.tungsten(low) * (1 - 1e-12))


@given(st.lists(KELVIN, min_size=1, max_size=5))
def test_a_batch_is_its_members(kelvin: list[float]) -> None:
    batch = incandescence.tungsten(np.array(kelvin).reshape(-1, 1))
    assert batch.shape == (len(kelvin), 1, 471)
    np.testing.assert_allclose(batch[:, 0], np.array([incandescence.tungsten(k) for k in kelvin]), rtol=1e-14)


@given(st.floats(1900.0, 3300.0), st.floats(0.0, 0.4))
def test_temperature_and_efficacy_are_inverse(kelvin: float, loss: float) -> None:
    efficacy = incandescence.tungsten_efficacy(kelvin) * (1.0 - loss)
    assert incandescence.temperature_from_efficacy(efficacy, loss) == pytest.approx(kelvin, rel=1e-9)


@given(KELVIN)
def test_the_colour_of_tungsten_is_a_little_above_its_temperature(kelvin: float) -> None:
    assert 1.005 < incandescence.colour_temperature(kelvin) / kelvin < 1.026


@given(st.floats(1600.0, 2900.0), RATIO, st.floats(0.35, 0.42))
def test_voltage_moves_the_colour_by_its_exponent_and_back(kelvin: float, ratio: float, n: float) -> None:
    moved = incandescence.temperature_at_voltage(kelvin, ratio, n)
    expected = incandescence.colour_temperature(kelvin) * ratio**n
    assert incandescence.colour_temperature(moved) == pytest.approx(expected, rel=1e-6)
    assert incandescence.temperature_at_voltage(moved, 1.0 / ratio, n) == pytest.approx(kelvin, abs=0.5)


def test_flux_grows_as_its_own_radiation_says() -> None:
    """The published flux exponent lies near what tungsten itself does over the published temperature exponent."""
    ratio = np.array([0.95, 1.05])
    t = incandescence.temperature_at_voltage(2800.0, ratio, 0.385)
    flux = photometry.luminous_flux(incandescence.tungsten(t))
    assert np.log(flux[1] / flux[0]) / np.log(ratio[1] / ratio[0]) == pytest.approx(3.4, abs=0.3)


@pytest.mark.parametrize("law", ["general", "gas-filled", "vacuum"])
@given(ratio=RATIO)
def test_the_laws_are_one_at_the_rated_voltage_and_multiply(law: str, ratio: float) -> None:
    for quantity in ("flux", "power", "current", "life"):
        assert incandescence.voltage_law(1.0, quantity, law) == 1.0
        there_and_back = incandescence.voltage_law(ratio, quantity, law) * incandescence.voltage_law(
            1 / ratio, quantity, law
        )
        assert there_and_back == pytest.approx(1.0)
    low, used, high = incandescence.exponent("flux", law)
    assert low <= used <= high


def test_shapes_and_scalars() -> None:
    assert incandescence.planck(2856.0).shape == (471,)
    assert radiation.blackbody_efficacy(2856.0).shape == ()
    assert incandescence.temperature_from_efficacy(18.0).shape == ()
    assert incandescence.temperature_at_voltage([2400.0, 2800.0], 0.9).shape == (2,)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: incandescence.tungsten(900.0), "1200 K to 3400 K"),
        (lambda: incandescence.tungsten([2800.0, np.nan]), "1200 K to 3400 K"),
        (lambda: incandescence.planck(0.0), "500 K"),
        (lambda: incandescence.temperature_from_efficacy(100.0), "no tungsten filament gives"),
        (lambda: incandescence.temperature_from_efficacy(10.0, 0.9), "loss"),
        (lambda: incandescence.voltage_law(2.0, "flux"), "0.5 to 1.3 times"),
        (lambda: incandescence.voltage_law(1.0, "price"), "'general' says nothing of 'price'"),
        (lambda: incandescence.voltage_law(1.0, "flux", "halogen"), "'halogen' is unknown"),
        (lambda: incandescence.tungsten_efficacy(1000.0), "1800 K to 3655 K"),
    ],
)
def test_bad_input_is_told(call, message: str) -> None:
    with pytest.raises(InputError, match=message):
        call()


def test_many_filaments_in_single_precision_are_those_in_double() -> None:
    kelvin = np.linspace(1200.0, 3400.0, 3001)
    for part in grid.SEEN[:-1]:
        np.testing.assert_allclose(
            incandescence.tungsten(kelvin, part=part), incandescence.tungsten(kelvin)[:, part], rtol=1e-5
        )
    assert incandescence.tungsten([[1200.0], [3400.0]], part=grid.SEEN[0]).shape == (2, 1, 95)
