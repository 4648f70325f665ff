"""Meters: responsivities, mismatch, leak and advice; printed values stand under tests/published."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lampkit import grid
from lampkit.circuits import loads
from lampkit.errors import InputError
from lampkit.light import photometry
from lampkit.light.illuminants import illuminant
from lampkit.light.measured_curves import read_curve
from lampkit.measurement import colour_response, measurement_model, meters
from lampkit.measurement.colour_response import Trust, mismatch_correction, mismatch_index
from lampkit.sources import incandescence
from lampkit.uncertainty import sampling

LED = np.exp(-4 * np.log(2) * ((grid.WAVELENGTHS - 630) / 18) ** 2)
RED = 0.85 / (1 + np.exp(-(grid.WAVELENGTHS - 605) / 5))


def test_the_calibration_light_is_illuminant_a() -> None:
    # CIE 015:2018, table of illuminant A: 59.86 at 500 nm, 100 at 560 nm, 129.04 at 600 nm, 198.26 at 700 nm.
    assert meters.phone().calibration[[140, 200, 240, 340]] == pytest.approx([59.86, 100.0, 129.04, 198.26], abs=0.006)


def test_a_photopic_meter_reads_everything_right() -> None:
    assert meters.responsivity() == pytest.approx(photometry.luminous_efficiency(), rel=1e-12)
    assert mismatch_correction(meters.responsivity(), np.stack([LED, RED])) == pytest.approx([1, 1], abs=1e-12)
    assert mismatch_index(meters.responsivity()) == pytest.approx(0.0, abs=1e-12)


@given(st.floats(-20, 20), st.floats(-0.5, 0.5), st.floats(0.7, 1.4), st.floats(0, 0.02))
@settings(max_examples=30)
def test_any_meter_reads_its_calibration_light_right(shift: float, tilt: float, breadth: float, leak: float) -> None:
    curve = meters.responsivity(shift, tilt, breadth, leak)
    assert mismatch_correction(curve, illuminant("A"), leak=leak) == pytest.approx(1.0, rel=1e-12)
    assert np.all(curve > 0)


def test_scale_of_curve_and_light_cancels() -> None:
    curve = meters.responsivity(shift=4.0)
    once = mismatch_correction(curve, LED)
    assert mismatch_correction(7.0 * curve, 0.3 * LED) == pytest.approx(once, rel=1e-12)
    assert once.shape == ()


def test_batches_broadcast_as_single_calls_do() -> None:
    curves = meters.responsivity(shift=[-3.0, 0.0, 2.5], tilt=0.1)
    lights = np.stack([LED, RED, LED * RED])
    pairs = mismatch_correction(curves, lights)
    table = mismatch_correction(curves[:, np.newaxis], lights)
    assert table.shape == (3, 3)
    assert np.diag(table) == pytest.approx(pairs, rel=1e-12)
    single = mismatch_correction(meters.responsivity(shift=2.5, tilt=0.1), LED * RED)
    assert pairs[2] == pytest.approx(float(single), rel=1e-12)


@pytest.mark.parametrize("temperature", [2400.0, 2800.0, 3100.0])
def test_infrared_goes_on_as_planck_does_for_a_filament(temperature: float) -> None:
    far = np.arange(831.0, 1001.0)
    planck = lambda x: x**-5.0 / np.expm1(1.4388e7 / (x * temperature))  # noqa: E731
    true = planck(far).sum() / planck(grid.WAVELENGTHS)[200]
    on_grid = planck(grid.WAVELENGTHS) / planck(grid.WAVELENGTHS)[200]
    assert meters.infrared_beyond_grid(on_grid) == pytest.approx(true, rel=2e-3)
    # behind a lens that is flat there, the same times its transmittance
    assert meters.infrared_beyond_grid(0.85 * on_grid) == pytest.approx(0.85 * true, rel=2e-3)
    # and for tungsten, whose emissivity falls, a little less than for a black body
    tungsten = incandescence.tungsten(temperature)
    ratio = meters.infrared_beyond_grid(tungsten / tungsten[200]) / true
    assert 0.75 < ratio < 1.0


def test_an_led_has_no_infrared_to_leak() -> None:
    assert meters.infrared_beyond_grid(LED) == pytest.approx(0.0, abs=1e-6 * LED.sum())


def test_a_leak_makes_the_filament_look_brighter_and_leaves_the_led_alone() -> None:
    leak = 0.005
    curve = meters.responsivity(leak=leak)
    lamp = mismatch_correction(curve, illuminant("A") * RED, leak=leak)
    led = mismatch_correction(curve, LED * RED, leak=leak)
    assert lamp < 0.9
    assert led == pytest.approx(1.0 + 0.036, abs=0.01)  # only the calibration on tungsten moved


def test_most_of_the_error_cancels_behind_the_same_lens_but_not_bare_or_deep_red() -> None:
    values = sampling.draw({meters.OWNER: meters.phone().beliefs}, 2000, 1).of(meters.OWNER)
    curves, leak = meters.phone().model(values), values["near-infrared leak"]
    deep = np.exp(-4 * np.log(2) * ((grid.WAVELENGTHS - 660) / 20) ** 2)

    def width(new: np.ndarray, old: np.ndarray) -> float:
        ratio = mismatch_correction(curves, new, leak=leak) / mismatch_correction(curves, old, leak=leak)
        low, high = np.quantile(np.log(ratio), [0.025, 0.975])
        return float(high - low)

    behind = width(LED * RED, illuminant("A") * RED)
    bare, far = width(LED, illuminant("A")), width(deep * RED, illuminant("A") * RED)
    assert behind < 0.5 * bare
    assert far > 2 * behind


def test_meters_follow_the_eye_as_those_that_were_measured() -> None:
    """Within f1' 9 % were 9 of 22 lux meters and none of 3 phones (Tabaka and Wtorkiewicz, Energies 2022, 15, 5847)."""

    def share(meter: meters.Meter) -> float:
        values = sampling.draw({meters.OWNER: meter.beliefs}, 1000, 1).of(meters.OWNER)
        index = mismatch_index(meter.model(values), leak=values["near-infrared leak"])
        return float(np.mean(index < 0.09))

    assert share(meters.lux_meter()) == pytest.approx(9 / 22, abs=0.04)
    assert (1.0 - share(meters.phone())) ** 3 > 0.4  # that all three fail is no surprise


def test_the_limit_of_each_class() -> None:
    # DIN 5032-7:1985: L 1.5 %, A 3 %, B 6 %, C 9 %
    assert [meters.class_limit(one) for one in "LABC"] == [1.5, 3.0, 6.0, 9.0]
    assert [meters.class_limit(one, "total") for one in "LABC"] == [3.0, 5.0, 10.0, 20.0]


def test_the_advice_grows_with_the_spread_and_names_the_leak() -> None:
    rng = np.random.default_rng(1)
    z = rng.standard_normal(2000)
    trust = [colour_response.judge(spread * z).trust for spread in (0.02, 0.08, 0.3)]
    assert trust == [Trust.MATTERS_LITTLE, Trust.MAY_HAVE_SHIFTED, Trust.NOT_AS_READ]
    assert colour_response.judge(0.08 * z).shift == pytest.approx(np.expm1(1.96 * 0.08), rel=0.05)
    leaking, tight = (colour_response.judge(0.02 * z, leak_share=share).advice for share in (0.15, 0.0))
    assert leaking.values["leak"].key == "meter.leak" and tight.values["leak"] == ""
    assert str(leaking).startswith(str(tight)) and len(str(leaking)) > len(str(tight))


def test_a_measured_responsivity_can_be_loaded(tmp_path: Path) -> None:
    path = tmp_path / "my meter.csv"
    wavelengths = np.arange(380, 781, 5)
    v = np.interp(wavelengths, grid.WAVELENGTHS, photometry.luminous_efficiency())
    rows = "\n".join(f"{w},{x:.6f}" for w, x in zip(wavelengths, v, strict=True))
    path.write_text(f"wavelength_nm,relative_responsivity\n{rows}\n")
    meter = meters.measured_meter("my meter", read_curve(path, what="responsivity", outside="zero"))
    values = sampling.draw({meters.OWNER: meter.beliefs}, 5, 1).of(meters.OWNER)
    assert meter.model(values).shape == (5, 471)
    assert mismatch_index(meter.model(values)[0]) < 0.01


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: meters.responsivity(shift=80.0), "so far off"),
        (lambda: meters.responsivity(breadth=0.0), "so far off"),
        (lambda: meters.directional_response(95.0), "faces away"),
        (lambda: meters.measured_meter("m", -photometry.luminous_efficiency()), "not a responsivity"),
        (lambda: meters.measured_meter("m", [1.0, 2.0]), "grid"),
        (lambda: mismatch_correction(np.zeros(471), LED), "sees nothing"),
    ],
)
def test_bad_input_is_told(call: object, word: str) -> None:
    with pytest.raises(InputError, match=word):
        call()  # type: ignore[operator]


def test_every_belief_about_measuring_says_on_what_ground() -> None:
    from lampkit.measurement import measurement_model, shortfall

    held = [
        *measurement_model.AFTERNOON,
        measurement_model.OPTICS,
        measurement_model.PATTERNED,
        measurement_model.SUPPLY,
    ]
    held += [measurement_model.FILAMENT_EXPONENT, measurement_model.LED_EXPONENT, measurement_model.RESISTOR_EXPONENT]
    held += [shortfall.beam_belief(layout) for layout in ("all-round", "forward", None)]
    held += [*meters.phone().beliefs, *meters.lux_meter().beliefs]
    for belief in held:
        if belief.spread:  # what is fixed is no doubt
            ground = "assumption" in belief.source or "common practice" in belief.source
            assert ground or any(map(str.isdigit, belief.source)), belief


def test_only_a_smooth_light_is_added_up_at_every_fifth_wavelength() -> None:
    smooth = np.ones(471)  # equal energy
    line = np.where(grid.WAVELENGTHS == 632, 1.0, 0.0)  # between two fifths: they would see none of it
    on_a_fifth = np.where(grid.WAVELENGTHS == 630, 1.0, 0.0)  # they would count it five times
    phone = meters.phone()
    assert measurement_model.smooth_part(smooth, 0.9 * smooth, phone) == grid.FIFTHS
    for light in (line, on_a_fifth, np.array([smooth, line]), np.zeros(471)):
        assert measurement_model.smooth_part(light, 0.9 * light, phone) == grid.WHOLE


def test_an_led_behind_a_resistor_gives_light_by_the_diode_equation() -> None:
    # Shockley 1949: V = n (Vf + m kT/q ln(I/I0)) + R I, with R from the rated point; kT/q = 25.85 mV at 300 K, m = 2
    # (from memory). Forward voltages at the rated current, 2.0 V to 2.2 V red, 3.0 V to 3.2 V white: common practice,
    # no source.
    def exponent(dies: int, forward: float, low: float, rated: float) -> float:
        current = np.linspace(0.05, 1.0, 20_000)
        rest = rated - dies * forward
        voltage = dies * (forward + 2 * 0.02585 * np.log(current)) + rest * current
        return float(np.log(np.interp(low, voltage, current)) / np.log(low / rated))

    usual = {
        "red, 12 V": [exponent(n, forward, 12.0, 13.5) for n in (2, 3, 4) for forward in (2.0, 2.2)],
        "white, 12 V": [exponent(n, forward, 12.0, 13.5) for n in (2, 3) for forward in (3.0, 3.1)],
        "6 V": [exponent(1, forward, 6.0, 6.75) for forward in (2.0, 2.2, 3.0, 3.2)],
        "24 V": [exponent(n, forward, 24.0, 28.0) for n, forward in ((5, 2.0), (8, 2.0), (5, 3.0), (6, 3.1))],
    }
    assert usual["red, 12 V"][2] == pytest.approx(1.9, abs=0.1), "three red dies of 2.0 V"
    assert usual["white, 12 V"][2] == pytest.approx(3.3, abs=0.1), "three white dies of 3.0 V"
    low, typical, high = measurement_model.RESISTOR_EXPONENT.value([-1.96, 0.0, 1.96])
    every = [one for some in usual.values() for one in some]
    assert low - 0.1 <= min(every) and max(every) <= high + 0.1
    assert np.median(every) == pytest.approx(typical, abs=0.3)
    # The circuits take one such string for all: it lies among them.
    in_circuits = float(loads.relative_light(loads.led_load(2.0, 13.5), 12.0))
    assert low < np.log(in_circuits) / np.log(12.0 / 13.5) < high
