"""Grid and photometry, against numpy, the open reference library and their own definitions."""

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from lampkit import grid, tables
from lampkit.errors import InputError, nearest
from lampkit.light import photometry

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

SPECTRA = arrays(float, (3, 471), elements=st.floats(0.01, 100.0))
CURVES = arrays(float, (2, 471), elements=st.floats(0.0, 1.0))


def test_efficiency_tables_equal_the_reference_library() -> None:
    for observer, key in (
        ("photopic", "CIE 1924 Photopic Standard Observer"),
        ("scotopic", "CIE 1951 Scotopic Standard Observer"),
    ):
        reference = colour.SDS_LEFS[key]
        table = tables.load("observers", observer)
        np.testing.assert_array_equal(table["wavelength_nm"], reference.wavelengths)
        np.testing.assert_allclose(table["efficiency"], reference.values, rtol=1e-11, atol=0)


@pytest.mark.skipif(
    not hasattr(np, "trapezoid"), reason="colour-science 0.4.6 calls numpy.trapezoid here, which numpy has since 2.0"
)
def test_flux_and_efficacy_against_the_reference_library() -> None:
    rng = np.random.default_rng(4)
    for _ in range(20):
        values = np.exp(-(((grid.WAVELENGTHS - rng.uniform(430, 660)) / rng.uniform(15, 120)) ** 2))
        sd = colour.SpectralDistribution(values, grid.WAVELENGTHS)
        lef = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"]
        # The reference takes K_m = 683 lm/W, the CIE 683.002.
        theirs = colour.luminous_flux(sd, lef) * photometry.K_M / 683.0
        assert float(photometry.luminous_flux(values)) == pytest.approx(float(theirs), rel=2e-4)
        efficacy = colour.luminous_efficacy(sd, lef) * photometry.K_M / 683.0
        assert float(photometry.efficacy_of_radiation(values)) == pytest.approx(float(efficacy), rel=2e-3)


@settings(max_examples=25)
@given(SPECTRA, st.floats(0.1, 10.0))
def test_flux_is_linear_in_the_spectrum(spectra: np.ndarray, factor: float) -> None:
    flux = photometry.luminous_flux(spectra)
    np.testing.assert_allclose(photometry.luminous_flux(factor * spectra), factor * flux, rtol=1e-12)
    np.testing.assert_allclose(photometry.luminous_flux(spectra[0] + spectra[1]), flux[0] + flux[1], rtol=1e-12)


@settings(max_examples=25)
@given(CURVES, SPECTRA)
def test_transmittance_lies_within_the_curve(curves: np.ndarray, spectra: np.ndarray) -> None:
    tau = photometry.transmittance_table(curves, spectra)
    assert tau.shape == (2, 3)
    low, high = curves.min(axis=1)[:, None], curves.max(axis=1)[:, None]
    assert np.all((tau >= low - 1e-12) & (tau <= high + 1e-12))
    one_by_one = photometry.luminous_transmittance(curves[:, None, :], spectra)
    np.testing.assert_allclose(tau, one_by_one, atol=1e-12)
    for i in range(2):
        for j in range(3):
            alone = photometry.luminous_transmittance(curves[i], spectra[j])
            assert alone.ndim == 0
            assert float(alone) == pytest.approx(tau[i, j], abs=1e-12)


@given(st.floats(0.5, 1e4))
def test_to_flux_carries_the_flux_asked_for(flux: float) -> None:
    spectrum = photometry.to_flux(np.ones(471), flux)
    assert float(photometry.luminous_flux(spectrum)) == pytest.approx(flux, rel=1e-12)


@given(st.floats(0.01, 1e5), st.floats(0.05, 100.0), st.floats(-80, 80))
def test_intensity_and_illuminance_are_inverse(intensity: float, distance: float, tilt: float) -> None:
    lux = photometry.illuminance(intensity, distance, tilt)
    assert float(photometry.luminous_intensity(lux, distance, tilt)) == pytest.approx(intensity, rel=1e-12)


def test_a_candela_at_a_metre_makes_a_lux() -> None:
    assert float(photometry.illuminance(1.0, 1.0)) == 1.0
    assert float(photometry.illuminance(1.0, 2.0, 60.0)) == pytest.approx(0.125)


def test_resampling_is_linear_interpolation() -> None:
    wavelength = np.arange(300.0, 900.0, 5.0)
    values = np.random.default_rng(1).uniform(size=(2, wavelength.size))
    expected = [np.interp(grid.WAVELENGTHS, wavelength, row) for row in values]
    np.testing.assert_allclose(grid.resample(wavelength, values), expected, atol=1e-14)


def test_the_rule_outside_the_table() -> None:
    table = ([400.0, 700.0], [1.0, 2.0])
    with pytest.raises(InputError, match="covers 400 nm to 700 nm only"):
        grid.resample(*table)
    zero, held = grid.resample(*table, outside="zero"), grid.resample(*table, outside="hold")
    assert (zero[0], zero[-1]) == (0.0, 0.0)
    assert (held[0], held[-1]) == (1.0, 2.0)
    inside = (grid.WAVELENGTHS >= 400) & (grid.WAVELENGTHS <= 700)
    np.testing.assert_array_equal(zero[inside], held[inside])


@pytest.mark.parametrize(
    ("wavelength", "values", "told"),
    [
        ([500.0], [1.0], "at least two"),
        ([400.0, 390.0, 800.0], [1.0, 1.0, 1.0], "strictly increasing"),
        ([400.0, np.nan, 800.0], [1.0, 1.0, 1.0], "strictly increasing"),
        ([400.0, 800.0], [1.0, 1.0, 1.0], "beside values"),
    ],
)
def test_an_unusable_table_is_refused(wavelength: list, values: list, told: str) -> None:
    with pytest.raises(InputError, match=told):
        grid.resample(wavelength, values, outside="hold")


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda: grid.integrate(np.ones(470)), "not on the wavelength grid"),
        (lambda: grid.integrate(1.0), "not on the wavelength grid"),
        (lambda: grid.resample([400, 800], [1, 1], outside="ignore"), "unknown"),
        (lambda: photometry.luminous_efficiency("mesopic"), "unknown"),
        (lambda: photometry.luminous_transmittance(np.ones(471), np.zeros(471)), "no visible light"),
        (lambda: photometry.transmittance_table(np.ones((1, 471)), np.zeros((1, 471))), "no visible light"),
        (lambda: photometry.efficacy_of_radiation(np.ones(471), band=(300, 780)), "leaves the grid"),
        (lambda: photometry.to_flux(np.ones(471), -1.0), "negative"),
        (lambda: photometry.to_flux(np.zeros(471), 1.0), "no visible light"),
        (lambda: photometry.illuminance(1.0, 0.0), "not positive"),
        (lambda: photometry.luminous_intensity(1.0, np.nan), "not positive"),
    ],
)
def test_bad_input_gets_one_sentence(call, told: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InputError, match=told) as refused:
        call()
    assert str(refused.value).count("\n") == 0
    assert str(refused.value).endswith(".")


def test_an_unknown_table_or_column_suggests_the_nearest() -> None:
    with pytest.raises(InputError, match="photopic"):
        tables.load("observers", "fotopic")
    with pytest.raises(InputError, match="efficiency"):
        tables.load("observers", "photopic")["efficency"]


def test_tables_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        tables.load("observers", "photopic")["efficiency"][0] = 1.0


def test_nearest_lists_few_names_and_picks_among_many() -> None:
    assert nearest("rde", ["red", "amber"]) == "one of 'red', 'amber'"
    assert "P21W" in nearest("P12W", [*"abcdefghij", "P21W"])


def test_one_spectrum_gives_an_array_without_axes() -> None:
    for value in (photometry.luminous_flux(np.ones(471)), grid.integrate(np.ones(471))):
        assert isinstance(value, np.ndarray)
        assert value.shape == ()


def test_what_is_looked_up_once_cannot_be_changed() -> None:
    for observer in ("photopic", "scotopic"):
        with pytest.raises(ValueError, match="read-only"):
            photometry.luminous_efficiency(observer)[0] = 1.0


def test_a_weak_light_is_light_and_none_is_refused() -> None:
    weak = np.zeros(471)
    weak[200] = 1e-3
    assert photometry.luminous_transmittance(np.full(471, 0.5), weak) == pytest.approx(0.5)
    assert photometry.efficacy_of_radiation(weak) == pytest.approx(
        photometry.K_M * photometry.luminous_efficiency()[200]
    )
    for work in (
        lambda: photometry.luminous_transmittance(np.full(471, 0.5), np.zeros(471)),
        lambda: photometry.efficacy_of_radiation(np.zeros(471)),
        lambda: photometry.to_flux(np.zeros(471), 1.0),
    ):
        with pytest.raises(InputError):
            work()


def test_a_band_holds_both_its_ends() -> None:
    at_500, at_600 = (np.where(wavelength == grid.WAVELENGTHS, 1.0, 0.0) for wavelength in (500, 600))
    v = photometry.luminous_efficiency()
    whole = photometry.efficacy_of_radiation(at_500 + at_600, band=(500, 600))
    assert whole == pytest.approx(photometry.K_M * (v[140] + v[240]) / 2)
    with pytest.raises(InputError, match="no power in the band"):
        photometry.efficacy_of_radiation(at_500 + at_600, band=(501, 599))


def test_bounds_of_what_is_asked_for() -> None:
    for flux in (np.nan, np.inf, -1e-9, [1.0, np.nan]):
        with pytest.raises(InputError, match="luminous flux"):
            photometry.to_flux(np.ones(471), flux)
    assert photometry.to_flux(np.ones(471), 0.0).max() == 0.0
    assert photometry.illuminance(1.0, [1e-6, 1e9]) == pytest.approx([1e12, 1e-18])
    assert photometry.illuminance([1e15, -1e15], 1e3).tolist() == [1e9, -1e9]
    for intensity in (1.01e15, np.inf, np.nan):
        with pytest.raises(InputError, match="intensity"):
            photometry.illuminance(intensity, 1e3)
    for distance in (0.99e-6, 1.01e9, 0.0, -1.0, np.nan):
        with pytest.raises(InputError, match="distance"):
            photometry.illuminance(1.0, distance)


def test_a_cone_is_wider_than_nothing_and_no_wider_than_all() -> None:
    assert photometry.cone_intensity(4 * np.pi, 180.0) == pytest.approx(1.0)
    for angle in (0.0, 1e-4, 180.5, np.nan):
        with pytest.raises(InputError, match="no cone"):
            photometry.cone_intensity(100.0, angle)
