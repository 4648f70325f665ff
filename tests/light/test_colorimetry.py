"""Colour, against the open reference library and against itself turned round."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampkit import grid
from lampkit.errors import InputError
from lampkit.light import colorimetry as cm

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour


def gaussians(n: int, seed: int = 5) -> np.ndarray:
    """Random smooth spectra: one to three bumps."""
    rng = np.random.default_rng(seed)
    peak, width = rng.uniform(420, 680, (n, 3, 1)), rng.uniform(8, 90, (n, 3, 1))
    return (rng.uniform(0, 1, (n, 3, 1)) * np.exp(-(((grid.WAVELENGTHS - peak) / width) ** 2))).sum(axis=1)


def test_tables_equal_the_reference_library() -> None:
    reference = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    np.testing.assert_allclose(cm.colour_matching_functions(), reference.values, rtol=1e-11, atol=0)


def test_chromaticity_against_reference_library() -> None:
    spectra = gaussians(50)
    ours = cm.chromaticity(spectra)
    for spectrum, xy in zip(spectra, ours, strict=True):
        sd = colour.SpectralDistribution(spectrum, grid.WAVELENGTHS)
        cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
        theirs = colour.XYZ_to_xy(colour.colorimetry.sd_to_XYZ_integration(sd, cmfs))
        np.testing.assert_allclose(xy, theirs, atol=1e-9)


@pytest.mark.parametrize("duv", [-0.02, -0.004, 0.0, 0.0015, 0.01])
def test_cct_comes_back(duv: float) -> None:
    cct = np.geomspace(1500, 20000, 40)
    back = cm.cct_duv(cm.chromaticity_from_cct(cct, duv))
    np.testing.assert_allclose(back.cct, cct, rtol=2e-4)
    np.testing.assert_allclose(back.duv, duv, atol=2e-6)


def test_cct_against_reference_library() -> None:
    xy = cm.chromaticity_from_cct(np.linspace(2000, 9000, 30)[:, None], np.array([-0.008, 0.0, 0.006]))
    ours = cm.cct_duv(xy)
    theirs = colour.temperature.uv_to_CCT_Ohno2013(cm.uv_1960(xy))
    # The reference takes c2 = 1.4388e-2 m K (ITS-90 as in CIE 015), 1.6e-5 above CODATA's: 0.1 K at 8000 K.
    np.testing.assert_allclose(ours.cct, theirs[..., 0], rtol=3e-4)
    np.testing.assert_allclose(ours.duv, theirs[..., 1], atol=1e-5)


def test_dominant_wavelength_against_reference_library() -> None:
    xy = cm.chromaticity(gaussians(50, seed=9))
    ours = cm.dominant_wavelength(xy)
    for pair, wavelength in zip(xy, ours.wavelength, strict=True):
        theirs, _, _ = colour.dominant_wavelength(pair, np.array([1 / 3, 1 / 3]))
        assert wavelength == pytest.approx(float(theirs), abs=0.5)


def test_excitation_purity_against_reference_library() -> None:
    xy = cm.chromaticity(gaussians(30, seed=2))
    ours = cm.dominant_wavelength(xy)
    spectral = ours.wavelength > 0
    theirs = np.array([colour.excitation_purity(pair, np.array([1 / 3, 1 / 3])) for pair in xy])
    np.testing.assert_allclose(ours.purity[spectral], theirs[spectral], atol=2e-3)


@given(st.floats(400, 690))
def test_a_single_wavelength_is_its_own_dominant_wavelength(wavelength: float) -> None:
    locus = cm.spectrum_locus()
    xy = [np.interp(wavelength, grid.WAVELENGTHS, locus[:, i]) for i in (0, 1)]
    found = cm.dominant_wavelength(xy)
    assert found.wavelength == pytest.approx(wavelength, abs=0.6)
    assert found.purity == pytest.approx(1.0, abs=1e-6)


def test_white_has_no_dominant_wavelength() -> None:
    found = cm.dominant_wavelength(cm.EQUAL_ENERGY_WHITE)
    assert np.isnan(found.wavelength)
    assert found.purity == 0.0


def test_cct_has_no_meaning_for_a_signal_red() -> None:
    assert np.isnan(cm.cct_duv([0.68, 0.32]).cct)


def test_srgb_of_screen_white_and_primaries() -> None:
    primaries = cm.srgb([[0.3127, 0.3290], [0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
    np.testing.assert_allclose(primaries, [[1, 1, 1], [1, 0, 0], [0, 1, 0], [0, 0, 1]], atol=0.03)


@given(st.floats(0.05, 0.7), st.floats(0.05, 0.7))
def test_srgb_is_always_a_screen_colour(x: float, y: float) -> None:
    colour_shown = cm.srgb([x, y])
    assert np.all((colour_shown >= 0) & (colour_shown <= 1))
    assert colour_shown.max() == pytest.approx(1.0, abs=1e-9)


def test_scalar_and_batch_agree() -> None:
    spectra = gaussians(6)
    xy = cm.chromaticity(spectra)
    for i, spectrum in enumerate(spectra):
        np.testing.assert_allclose(cm.chromaticity(spectrum), xy[i], atol=1e-12)
        np.testing.assert_allclose(cm.dominant_wavelength(xy[i]).wavelength, cm.dominant_wavelength(xy).wavelength[i])


def test_darkness_has_no_chromaticity() -> None:
    with pytest.raises(InputError, match="no chromaticity"):
        cm.chromaticity(np.zeros(471))


@pytest.mark.parametrize(("cct", "duv"), [(500, 0), (3000, 0.2), (np.nan, 0)])
def test_impossible_colour_temperature_is_refused(cct: float, duv: float) -> None:
    with pytest.raises(InputError, match="out of range"):
        cm.chromaticity_from_cct(cct, duv)


def test_chromaticity_from_cct_lies_on_the_integrated_locus() -> None:
    temperature = np.geomspace(1050, 39000, 300)
    direct = cm.xy_from_uv_1960(cm.planckian_uv(temperature))
    np.testing.assert_allclose(cm.chromaticity_from_cct(temperature), direct, atol=1e-8)


def test_a_purple_has_the_negative_of_its_complement_and_a_purity_against_the_line_of_purples() -> None:
    """Half way from E to the middle of the line from (0.1741, 0.0050) to (0.7347, 0.2653), CIE 018: purity one half."""
    middle = np.array([0.5 * (0.1741 + 0.7347), 0.5 * (0.0050 + 0.2653)])
    half = 0.5 * (middle + 1.0 / 3.0)
    found = cm.dominant_wavelength(half)
    theirs, _, _ = colour.complementary_wavelength(half, np.array([1 / 3, 1 / 3]))
    assert float(found.purity) == pytest.approx(0.5, abs=1e-3)
    assert float(found.wavelength) == pytest.approx(-abs(float(theirs)), abs=0.5)


@pytest.mark.parametrize(
    ("linear", "code"), [(0.001, 0.01292), (0.0031308, 0.040450), (0.5, 0.735357), (-0.1, 0.0), (1.2, 1.0)]
)
def test_the_code_of_a_screen_is_that_of_the_standard(linear: float, code: float) -> None:
    """IEC 61966-2-1: 12.92 times below 0.0031308, else 1.055 L^(1/2.4) - 0.055; half light is code 188 of 255."""
    assert float(cm.screen_code(linear)) == pytest.approx(code, abs=2e-6)


def test_a_part_of_the_wavelengths_weighs_as_much_as_all() -> None:
    for part in (*grid.SEEN, grid.FIFTHS):
        assert cm.observer(part).sum(axis=0) == pytest.approx(cm.observer().sum(axis=0), rel=2e-4)


def test_uv_of_white_and_back() -> None:
    """E lies at u = 4/19, v = 6/19 of CIE 1960: 4 x / (-2 x + 12 y + 3) with x = y = 1/3."""
    np.testing.assert_allclose(cm.uv_1960([1 / 3, 1 / 3]), [4 / 19, 6 / 19], atol=1e-12)
    np.testing.assert_allclose(cm.xy_from_uv_1960([4 / 19, 6 / 19]), [1 / 3, 1 / 3], atol=1e-12)


@pytest.mark.parametrize(("cct", "duv", "taken"), [(1000.0, 0.0, True), (40000.0, 0.0, True), (3000.0, 0.05, True),
    (3000.0, -0.05, True), (999.0, 0.0, False), (40100.0, 0.0, False), (3000.0, 0.051, False)])  # fmt: skip
def test_both_ends_of_colour_temperature_and_duv_are_taken(cct: float, duv: float, taken: bool) -> None:
    if taken:
        back = cm.planckian_uv(cct) - cm.uv_1960(cm.chromaticity_from_cct(cct, duv))
        assert float(np.hypot(*back)) == pytest.approx(abs(duv), abs=1e-6)
    else:
        with pytest.raises(InputError, match="out of range"):
            cm.chromaticity_from_cct(cct, duv)


def test_many_sources_behind_lenses_are_those_one_by_one() -> None:
    """More sources than one block of the product holds, each against the plain sum."""
    lights, lenses = gaussians(130), np.clip(gaussians(2, seed=3), 0.0, 1.0)
    found = cm.through_lenses(lights, lenses)
    for i in (0, 63, 64, 129):
        for k in (0, 1):
            plain = (lights[i] * lenses[k])[:, np.newaxis] * cm.colour_matching_functions()
            np.testing.assert_allclose(found[i, k], plain.sum(axis=0), rtol=1e-9)
    for wrong in ((lights[0], lenses), (lights, lenses[0])):
        with pytest.raises(InputError, match="no tables of spectra"):
            cm.through_lenses(*wrong)


def test_what_a_screen_cannot_show() -> None:
    """The primaries of IEC 61966-2-1 and its white can be shown, single wavelengths cannot."""
    assert not np.any(cm.outside_screen([[0.3127, 0.3290], [0.64, 0.33], [0.30, 0.60], [0.15, 0.06]]))
    locus = cm.spectrum_locus()
    assert all(cm.outside_screen(locus[nm - 360]) for nm in (480, 520, 560, 580))
