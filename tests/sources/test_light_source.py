"""Light sources: ratings, models and their draws, against properties, other white LEDs, and bad input."""

import csv
import re
from pathlib import Path

import colour
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lampkit import grid, tables
from lampkit.errors import InputError
from lampkit.light import colorimetry, edges, illuminants, photometry
from lampkit.sources import filament_lamps, heat, incandescence, led_spectra, leds, light_source
from lampkit.uncertainty import sampling

RED, AMBER = edges.absorption_edge(598.0, 8.0), edges.absorption_edge(548.0, 11.5)
EVERY = [
    lambda: filament_lamps.filament("P21W"),
    lambda: filament_lamps.filament("P21W", 12.0),
    lambda: filament_lamps.filament("PY21/5W", part="minor"),
    lambda: leds.white_led(4000.0, luminous_flux=400.0),
    lambda: leds.coloured_led("red", luminous_flux=100.0),
    lambda: leds.coloured_led(peak=592.0, fwhm=16.0, luminous_flux=100.0),
    lambda: light_source.measured_source(illuminants.illuminant("LED-B3"), luminous_flux=100.0),
]


def draw(source: light_source.LightSource, n: int = 400) -> dict[str, np.ndarray]:
    return sampling.draw({source.name: source.beliefs}, n, 1).of(source.name)


@pytest.mark.parametrize("make", EVERY)
def test_a_source_keeps_the_contract(make) -> None:
    source = make()
    assert source.spectrum.shape == (471,)
    assert not source.spectrum.flags.writeable
    assert photometry.luminous_flux(source.spectrum) == pytest.approx(source.luminous_flux)
    assert "true over claimed lumens" in {b.name for b in source.beliefs}
    spectra = light_source.relative_spectra(source, draw(source))
    assert spectra.shape == (400, 471)
    assert np.all(spectra >= 0)
    assert photometry.luminous_flux(spectra) == pytest.approx(np.ones(400))
    typical = {b.name: np.array([0.0 if b.name == heat.DRIFT else b.typical]) for b in source.beliefs}
    assert light_source.relative_spectra(source, typical)[0] * source.luminous_flux == pytest.approx(source.spectrum)


def test_a_missing_parameter_is_named() -> None:
    with pytest.raises(InputError, match="filament temperature"):
        light_source.relative_spectra(filament_lamps.filament("P21W"), {"true over claimed lumens": np.ones(3)})


# --- filament lamps -------------------------------------------------------------------------------------------------


def test_the_minor_filament_shares_the_gas_of_the_major_one() -> None:
    """35 lm from 6 W is 5.83 lm/W; a fifth lost to the gas leaves 7.29 lm/W of radiation."""
    minor = filament_lamps.filament("P21/5W", part="minor").beliefs[0]
    assert incandescence.tungsten_efficacy(minor.typical) == pytest.approx(35.0 / 6.0 / 0.8)
    # A vacuum lamp of that efficacy, 6 % lost, stays within its spread.
    assert abs(minor.typical - incandescence.temperature_from_efficacy(35.0 / 6.0, 0.06)) < 1.5 * minor.spread


def test_every_rating_makes_a_lamp() -> None:
    for row in tables.load("lamps", "ratings").rows():
        lamp = filament_lamps.filament(row["designation"], part=row["filament"], rated_voltage=row["class_V"])
        assert lamp.luminous_flux == row["flux_lm"]
        assert lamp.electrical_power == row["power_W"]
        assert lamp.voltage == row["test_V"]
        # A lamp dimmer than red heat or hotter than a short-lived projector lamp would be a misprint in the table.
        assert 1950.0 < lamp.beliefs[0].typical < 3000.0, row
        assert lamp.layout == "all-round"


def test_two_filaments_of_one_lamp_have_their_own_names() -> None:
    names = {filament_lamps.filament("P21/5W", part=p).name for p in ("major", "minor")}
    assert names == {"P21/5W major", "P21/5W minor"}


@given(st.floats(9.0, 15.0), st.floats(9.0, 15.0))
def test_more_volts_give_more_light_and_a_whiter_one(a: float, b: float) -> None:
    low, high = (filament_lamps.filament("P21W", v) for v in sorted((a, b)))
    assert high.luminous_flux >= low.luminous_flux
    share = photometry.luminous_transmittance(RED, np.array([low.spectrum, high.spectrum]))
    assert share[1] <= share[0] + 1e-12


def test_the_voltage_class_is_found_or_asked() -> None:
    assert filament_lamps.filament("1129").voltage == 6.4
    assert filament_lamps.filament("P21W", rated_voltage=24).voltage == 28.0
    assert (filament_lamps.filament("p21 w").rating or {})["designation"] == "P21W"
    with pytest.raises(InputError, match="no rating for 24 V"):
        filament_lamps.filament("PY21W", rated_voltage=24)


def test_the_tolerance_of_the_rating_is_two_standard_deviations() -> None:
    def spread(lamp: light_source.LightSource) -> float:
        return next(b.spread for b in lamp.beliefs if b.name == "true over claimed lumens")

    assert spread(filament_lamps.filament("P21W")) == pytest.approx(0.075)
    assert spread(filament_lamps.filament("R5W")) == pytest.approx(0.10)
    assert spread(filament_lamps.filament("P21W", 11.0)) > 0.075


@pytest.mark.parametrize(("designation", "colour_name"), [("PY21W", "amber"), ("WY5W", "amber"), ("PR21W", "red")])
def test_coated_lamps_have_their_signal_colour(designation: str, colour_name: str) -> None:
    x, y = colorimetry.chromaticity(filament_lamps.filament(designation).spectrum)
    # UN R48, 2.29: red y <= 0.335 and y >= 0.980 - x; amber y <= x - 0.120, y >= 0.390, y >= 0.790 - 0.670 x.
    if colour_name == "red":
        assert y <= 0.335
        assert y >= 0.980 - x
    else:
        assert 0.390 <= y <= x - 0.120
        assert y >= 0.790 - 0.670 * x


@pytest.mark.parametrize(
    ("arguments", "options", "message"),
    [
        (("P21",), {}, "no filament lamp 'P21'.*'P21W'"),
        (("P21/5W",), {}, "two filaments.*'major' or 'minor'"),
        (("P21W",), {"part": "minor"}, "no filament 'minor'"),
        (("P21W", 24.0), {}, "0.5 to 1.3 times"),
        (("P21W", -3), {}, "volts above zero"),
        (("P21W", "twelve"), {}, "not a number"),
        (("P21W",), {"rated_voltage": "twelve"}, "not a number"),
    ],
)
def test_bad_filament_lamps_are_told(arguments: tuple, options: dict, message: str) -> None:
    with pytest.raises(InputError, match=message):
        filament_lamps.filament(*arguments, **options)


# --- white LEDs -----------------------------------------------------------------------------------------------------


@given(st.floats(2200.0, 8000.0), st.floats(-0.006, 0.006))
def test_a_white_led_has_the_colour_that_was_asked(cct: float, duv: float) -> None:
    spectrum = led_spectra.phosphor_white(cct, duv)
    found = colorimetry.cct_duv(colorimetry.chromaticity(spectrum))
    assert found.cct == pytest.approx(cct, abs=1.0)
    assert found.duv == pytest.approx(duv, abs=1e-4)
    assert spectrum.min() >= 0


@given(st.floats(2200.0, 7900.0))
def test_the_white_led_changes_smoothly_with_colour_temperature(cct: float) -> None:
    a, b = photometry.to_flux(led_spectra.phosphor_white([cct, cct + 10.0]), 1.0)
    assert np.abs(a - b).max() < 0.02 * a.max()


@settings(max_examples=10)
@given(st.floats(2500.0, 7000.0))
def test_a_cooler_white_loses_more_behind_a_red_lens(cct: float) -> None:
    warm, cool = photometry.luminous_transmittance(RED, led_spectra.phosphor_white([cct, cct + 300.0]))
    assert cool < warm


@pytest.mark.parametrize("name", ["LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5"])
def test_the_model_behind_a_lens_against_the_illuminants_it_was_fitted_to(name: str, record_property) -> None:
    truth = illuminants.illuminant(name)
    found = led_spectra.phosphor_white(*colorimetry.cct_duv(colorimetry.chromaticity(truth)))
    for label, lens in (("red", RED), ("amber", AMBER)):
        ratio = photometry.luminous_transmittance(lens, found) / photometry.luminous_transmittance(lens, truth)
        record_property(f"{name} {label} lens", f"{ratio - 1:+.2%}")
        print(f"{name} behind a {label} lens: {ratio - 1:+.2%}")
        assert abs(ratio - 1.0) <= 0.05


# White LED spectra that the shape was not fitted to, as the reference library carries them; the third and fourth are
# converters made up for good colour rendering, rich in red.
OTHERS = ["PHOS-1", "PHOS-2", "PHOS-3", "PHOS-4", "Phosphor LED YAG"]


@pytest.mark.parametrize("name", OTHERS)
def test_the_spread_of_the_model_covers_white_leds_of_other_origin(name: str) -> None:
    table = colour.SDS_LIGHT_SOURCES[name]
    truth = grid.resample(table.wavelengths, np.maximum(table.values, 0.0), outside="zero")
    cct, duv = colorimetry.cct_duv(colorimetry.chromaticity(truth))
    source = leds.white_led(float(cct), float(np.clip(duv, -0.01, 0.01)), luminous_flux=400.0)
    values = draw(source, 4000)
    values["correlated colour temperature"], values["Duv"] = np.full(4000, cct), np.full(4000, duv)
    spectra = light_source.relative_spectra(source, values)
    for lens in (RED, AMBER):
        known = np.log(photometry.luminous_transmittance(lens, truth))
        drawn = np.log(photometry.luminous_transmittance(lens, spectra))
        assert abs(known - drawn.mean()) < 3.0 * drawn.std()


def test_duv_follows_the_line_of_the_classes() -> None:
    # ANSI C78.377 (from memory): -0.0001 at 2700 K, +0.0010 at 4000 K, +0.0031 at 6500 K; its classes as printed.
    assert led_spectra.usual_duv([2700.0, 4000.0, 6500.0]) == pytest.approx([-0.0001, 0.0010, 0.0031], abs=1e-4)
    believed = {b.name: b for b in leds.white_led(6500.0, luminous_flux=1.0).beliefs}
    assert believed["Duv"].typical == pytest.approx(0.0031, abs=1e-4)
    given = {b.name: b for b in leds.white_led(6500.0, 0.0, luminous_flux=1.0).beliefs}
    assert given["Duv"].typical == 0.0 and given["Duv"].spread < believed["Duv"].spread


def test_a_number_on_a_box_that_is_no_class_is_less_sure() -> None:
    # Classes of ANSI C78.377 (from memory): 5310 K to 6020 K for 5700 K, 6020 K to 7040 K for 6500 K. What says 6000 K
    # may be a die of either.
    def spread(cct: float, **given: float) -> dict[str, float]:
        return {b.name: b.spread for b in leds.white_led(cct, luminous_flux=1.0, **given).beliefs}

    beside, of_a_class = spread(6000.0), spread(6500.0)
    drawn = 6000.0 * np.exp(np.array([-1.96, 1.96]) * beside["correlated colour temperature"])
    assert drawn[0] < 5400.0 and 6700.0 < drawn[1] < 7100.0
    assert of_a_class["correlated colour temperature"] == pytest.approx(0.03)
    assert beside["Duv"] > 1.3 * of_a_class["Duv"]
    # Who measured it knows.
    measured = spread(6000.0, cct_uncertainty=60.0, duv=0.002)
    assert (measured["correlated colour temperature"], measured["Duv"]) == pytest.approx((0.01, 0.0015))


def assert_goals(rows: list[dict[str, object]], room: float = 0.0) -> None:
    """Medians within 5 % and 8 %, 90 to 98 % held of all and at least 85 % in each class."""
    for row in rows:
        assert abs(float(row["median_error_590"])) <= 0.05, row  # type: ignore[arg-type]
        assert abs(float(row["median_error_610"])) <= 0.08, row  # type: ignore[arg-type]
        assert min(float(row[f"coverage_{lens}"]) for lens in ("red", "amber", "590", "610")) >= 0.85 - room, row  # type: ignore[arg-type]
    assert 0.90 <= float(rows[-1]["coverage"]) <= 0.98 + room, rows[-1]  # type: ignore[arg-type]


def test_white_leds_against_the_goals_of_the_study() -> None:
    from tests.studies import white_leds

    with white_leds.BY_CLASS.open(encoding="utf-8") as stream:
        table: list[dict[str, object]] = list(csv.DictReader(stream))
    assert [row["class_K"] for row in table] == [f"{kind:g}" for kind in white_leds.CLASSES] + ["all"]
    assert_goals(table)
    # The same anew with other makes, 30 of a class: 85 % is then known to 0.065, twice which is left as room.
    anew = white_leds.rows_by_class(30, seed=11, classes=(3000.0, 5000.0, 6500.0))
    assert_goals(anew, room=2 * np.sqrt(0.85 * 0.15 / 30))


def test_the_table_of_white_leds_is_what_the_kit_gives() -> None:
    from tests.studies import white_leds

    with white_leds.RESULT.open(encoding="utf-8") as stream:
        table = list(csv.DictReader(stream))
    for row, anew in zip(table, white_leds.table_rows(), strict=True):
        assert {key: str(value) for key, value in anew.items()} == {k: v for k, v in row.items() if k != "computed"}


# --- coloured LEDs --------------------------------------------------------------------------------------------------


@given(st.floats(420.0, 700.0), st.floats(4.0, 40.0), st.floats(4.0, 40.0))
def test_half_widths_are_half_widths(peak: float, short: float, long: float) -> None:
    """At each half-width the shape is at half its maximum: the width parameter is not the half-width."""
    shape = led_spectra.narrow_band([peak, peak + short, peak - long], short, long)
    at = round(peak) - 360
    exact = led_spectra.narrow_band(grid.WAVELENGTHS[at] + np.array([short, -long]), short, long)[:, at]
    assert exact == pytest.approx([0.5, 0.5], abs=1e-6)
    assert shape.max() <= 1.0


@pytest.mark.parametrize("fwhm", [16.0, 30.0])
def test_the_symmetric_shape_against_the_reference_library(fwhm: float) -> None:
    table = colour.colorimetry.sd_single_led_Ohno2005(
        520.0, fwhm / (2.0 * led_spectra.OHNO_HALF_WIDTH), shape=colour.SpectralShape(360, 830, 1)
    )
    assert led_spectra.narrow_band(520.0, fwhm / 2, fwhm / 2) == pytest.approx(table.values, abs=1e-6)


def test_a_preset_takes_another_peak_and_width() -> None:
    led = leds.coloured_led("red", peak=640.0, fwhm=20.0, luminous_flux=50.0)
    half = grid.WAVELENGTHS[led.spectrum >= led.spectrum.max() / 2]
    assert half[-1] - half[0] == pytest.approx(20.0, abs=1.0)
    assert grid.WAVELENGTHS[np.argmax(led.spectrum)] == 640.0


def test_phosphor_amber_is_amber() -> None:
    led = leds.coloured_led("phosphor amber", luminous_flux=100.0)
    found = colorimetry.dominant_wavelength(colorimetry.chromaticity(led.spectrum))
    assert 588.0 <= found.wavelength <= 594.0  # common range of the trade, from memory


def test_the_users_own_range_of_true_lumens_is_kept() -> None:
    led = leds.coloured_led("red", luminous_flux=100.0, true_over_claimed=(0.5, 0.9))
    values = draw(led, 20000)["true over claimed lumens"]
    assert np.quantile(values, [0.025, 0.975]) == pytest.approx([0.5, 0.9], rel=0.02)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: leds.coloured_led(luminous_flux=1), "colour or its peak"),
        (lambda: leds.coloured_led("purple", luminous_flux=1), "'purple' is unknown"),
        (lambda: leds.coloured_led(peak=900, luminous_flux=1), "not a signal colour"),
        (lambda: leds.coloured_led(peak=600, fwhm=1, luminous_flux=1), "not an LED"),
        (lambda: leds.coloured_led("red", luminous_flux=0), "lumens above zero"),
        (lambda: leds.coloured_led("red", luminous_flux=np.nan), "lumens above zero"),
        (lambda: leds.coloured_led("red", luminous_flux=1, layout="round"), "'all-round' or 'forward'"),
        (lambda: leds.coloured_led("red", luminous_flux=1, true_over_claimed=(1.0, 0.5)), "no range"),
        (lambda: leds.white_led(1500, luminous_flux=1), "2200 K to 8000 K"),
        (lambda: leds.white_led(4000, 0.05, luminous_flux=1), "Duv"),
        (lambda: leds.white_led(4000, "green", luminous_flux=1), "Duv"),  # type: ignore[arg-type]
        (lambda: leds.white_led(4000, luminous_flux=1, electrical_power=-1), "watts above zero"),
        (lambda: illuminants.illuminant("B5"), "'B5' is unknown.*'LED-B5'"),
        (lambda: light_source.measured_source(np.ones(10), luminous_flux=1), "not on the wavelength grid"),
        (lambda: light_source.measured_source(-np.ones(471), luminous_flux=1), "below zero"),
        (lambda: light_source.measured_source(([400, 700], [1, 1]), luminous_flux=1), "400 nm to 700 nm only"),
        (lambda: light_source.measured_source("no_such_file.csv", luminous_flux=1), "no such file"),
    ],
)
def test_bad_leds_are_told(call, message: str) -> None:
    with pytest.raises(InputError, match=message):
        call()


# --- measured spectra and illuminants -------------------------------------------------------------------------------


def test_a_measured_spectrum_comes_from_a_file_or_a_table(tmp_path: Path) -> None:
    path = tmp_path / "shop_lamp.csv"
    path.write_text("wavelength_nm,relative_power\n" + "".join(f"{n},{n - 300}\n" for n in range(380, 781, 5)))
    from_file = light_source.measured_source(path, luminous_flux=200.0, outside="zero")
    x = np.arange(380, 781, 5)
    from_table = light_source.measured_source((x, x - 300), luminous_flux=200.0, outside="zero")
    assert from_file.name == "shop_lamp"
    assert from_file.spectrum == pytest.approx(from_table.spectrum)


@pytest.mark.parametrize("name", ["A", "LED-B1", "LED-B5", "LED-V2", "LED-RGB1"])
def test_illuminants_against_the_reference_library(name: str) -> None:
    table = colour.SDS_ILLUMINANTS[name]
    at = [int(nm) - 360 for nm in table.wavelengths if 360 <= nm <= 830]
    known = np.array([v for nm, v in zip(table.wavelengths, table.values, strict=True) if 360 <= nm <= 830])
    found = illuminants.illuminant(name)[at]
    assert found / found.max() == pytest.approx(known / known.max(), abs=1e-5)


def test_no_assumption_is_without_its_ground() -> None:
    for make in EVERY:
        for belief in make().beliefs:
            assert re.search(r"[a-z]{3}", belief.source), belief
