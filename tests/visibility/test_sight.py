"""Range, reaction, flashes, the half-dark eye and brightness: identities, oracles and refusals."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from reference import flashes, seeing
from scipy.integrate import quad
from scipy.optimize import brentq

from lampkit import grid
from lampkit.errors import InputError
from lampkit.sources import hot_wire, warming
from lampkit.visibility import brightness, sight

candela = st.floats(0.01, 1e4)
visibilities = st.floats(20.0, 1e5)
thresholds = st.floats(1e-8, 1e-2)


# --- range --------------------------------------------------------------------------------------------------------


@given(candela, visibilities, thresholds)
def test_range_solves_allards_law(intensity: float, meteorological: float, threshold: float) -> None:
    d = float(sight.luminous_range(intensity, meteorological, threshold))
    assert intensity * 0.05 ** (d / meteorological) / d**2 == pytest.approx(threshold, rel=1e-9)
    assert seeing.intensity_for_range(d, meteorological, threshold) == pytest.approx(intensity, rel=1e-9)


@given(candela, visibilities, thresholds)
def test_range_agrees_with_a_root_finder(intensity: float, meteorological: float, threshold: float) -> None:
    clear = np.sqrt(intensity / threshold)
    found = brentq(
        lambda d: 2 * np.log(d / clear) + d / meteorological * np.log(20), 1e-9 * clear, clear, xtol=1e-12, rtol=1e-13
    )
    assert float(sight.luminous_range(intensity, meteorological, threshold)) == pytest.approx(found, rel=1e-8)


def test_in_clear_space_the_range_is_the_inverse_square() -> None:
    assert sight.luminous_range(20.0, np.inf, 2e-7) == pytest.approx(1e4)
    assert sight.luminous_range(0.0, 500.0) == 0.0
    assert sight.luminous_range(20.0, 1e15, 2e-7) == pytest.approx(1e4, rel=1e-8)


def test_day_is_shorter_than_night_and_both_are_ranges() -> None:
    d = sight.day_and_night_range([5.0, 60.0], 1e4)
    assert d.shape == (2, 2, 2)
    assert np.all(d[..., 0] < d[..., 1])
    assert np.all(d[:, 0].max(-1) < d[:, 1].min(-1))


# --- reaction -----------------------------------------------------------------------------------------------------


@given(st.floats(0.0, 130.0), st.floats(0.0, 2.0))
def test_the_later_driver_runs_on_by_the_distance_gained(speed: float, time: float) -> None:
    sooner = seeing.stopping_distance(speed, 1.5)
    later = seeing.stopping_distance(speed, 1.5 + time)
    assert later - sooner == pytest.approx(float(sight.distance_gained(speed, time)), abs=1e-9)
    left = float(seeing.speed_left(speed, time))
    assert 0.0 <= left <= speed + 1e-9
    # Braking from the speed left takes the distance gained, unless the later one had not begun to brake.
    if left < speed * 0.999:
        assert seeing.stopping_distance(left, 0.0) == pytest.approx(float(sight.distance_gained(speed, time)), abs=1e-6)


def test_gain_scales_with_the_filament_and_keeps_its_range() -> None:
    gain = sight.reaction_time_gained([0.125, 0.25])
    assert gain.shape == (2, 3)
    assert np.allclose(2 * gain[0], gain[1])
    assert np.all(np.diff(gain, axis=-1) > 0)


@given(st.floats(0.1, 1000.0), st.floats(1.0, 10.0))
def test_a_dimmer_lamp_never_gains_time(intensity: float, factor: float) -> None:
    lost = seeing.reaction_time_lost([intensity, intensity * factor])
    assert 0.084 + 1e-12 >= lost[0] >= lost[1] >= 0.0


# --- effective intensity ------------------------------------------------------------------------------------------


def pulse(duration: float, step: float = 1e-3, total: float = 2.0) -> tuple[np.ndarray, np.ndarray]:
    """An on-off flash with edges far steeper than the step."""
    t = np.unique(
        np.concatenate([np.arange(0.0, total, step), [0.1, 0.1 + 1e-7, 0.1 + duration, 0.1 + duration + 1e-7]])
    )
    return t, np.interp(t, [0.1, 0.1 + 1e-7, 0.1 + duration, 0.1 + duration + 1e-7], [0.0, 1.0, 1.0, 0.0])


@given(st.floats(0.02, 1.0), st.floats(0.1, 0.3))
def test_the_laws_agree_on_an_on_off_flash(duration: float, a: float) -> None:
    t, i = pulse(duration)
    wanted = float(flashes.blondel_rey(duration, a))
    found = flashes.effective_intensities(t, i, time_constant=a)
    assert float(found["Blondel-Rey-Douglas"]) == pytest.approx(wanted, rel=1e-5)
    assert float(found["Schmidt-Clausen"]) == pytest.approx(wanted, rel=1e-5)
    # The memory is convolved in equal steps of 1/8 ms, which catch an edge to within one of them.
    assert float(found["Modified Allard"]) == pytest.approx(wanted, abs=0.0015)


@given(st.lists(st.floats(0.0, 10.0), min_size=3, max_size=25), st.floats(0.05, 0.4))
def test_douglas_limits_are_the_best_of_all(values: list[float], a: float) -> None:
    t, i = np.linspace(0.0, 1.0, len(values)), np.array(values)
    area = np.concatenate([[0.0], np.cumsum(0.5 * (i[1:] + i[:-1]) * np.diff(t))])
    every = [(area[k] - area[j]) / (a + t[k] - t[j]) for j in range(t.size) for k in range(j, t.size)]
    assert float(flashes.blondel_rey_douglas(t, i, time_constant=a)) == pytest.approx(max(every), abs=1e-10)


def test_douglas_limits_lie_where_the_intensity_is_the_effective_one() -> None:
    t = np.linspace(0.0, 1.0, 20001)
    i = np.exp(-4 * np.log(2) * ((t - 0.5) / 0.2) ** 2)
    effective = float(flashes.blondel_rey_douglas(t, i))
    half = 0.1 * np.sqrt(-np.log(effective) / np.log(2))
    area = quad(lambda x: np.exp(-4 * np.log(2) * (x / 0.2) ** 2), -half, half)[0]
    assert area / (0.2 + 2 * half) == pytest.approx(effective, rel=1e-6)


@pytest.mark.parametrize(
    ("law", "memory"),
    [
        (sight.modified_allard, lambda t: 0.2 / (0.2 + t) ** 2),
        (flashes.allard, lambda t: np.exp(-t / 0.2) / 0.2),
    ],
)
def test_convolution_agrees_with_quadrature(law, memory) -> None:
    t = np.linspace(0.0, 1.0, 501)
    i = np.clip(1 - np.abs(t - 0.2) / 0.2, 0.0, None)
    by_hand = [
        quad(lambda u, now=now: max(1 - abs(u - 0.2) / 0.2, 0.0) * memory(now - u), 0.0, now, points=[0.2])[0]
        for now in np.arange(0.2, 0.36, 0.002)
    ]
    assert float(law(t, i)) == pytest.approx(max(by_hand), rel=2e-5)


def test_few_instants_are_joined_by_straight_lines_from_a_rise_within_one_step() -> None:
    """Lit at 0 s and 0.2 s, dark from 0.4 s: a trapezium that rises from -0.2 s, by quadrature at each instant."""
    corners = [-0.2, 0.0, 0.2, 0.4]
    by_hand = [
        quad(lambda u, now=now: np.interp(u, corners, [0, 1, 1, 0]) * 0.2 / (0.2 + now - u) ** 2, -0.2, now)[0]
        for now in (0.0, 0.2, 0.4)
    ]
    found = sight.modified_allard(np.linspace(0, 1, 6), [1, 1, 0, 0, 0, 0])
    assert float(found) == pytest.approx(max(by_hand), rel=1e-4)


@given(st.floats(0.1, 50.0), st.floats(-0.09, 0.5))
def test_effective_intensity_scales_and_does_not_care_when(factor: float, shift: float) -> None:
    t, i = pulse(0.3)
    base = flashes.effective_intensities(t, i)
    moved = flashes.effective_intensities(t + shift, factor * i)
    for name in base:
        assert float(moved[name]) == pytest.approx(factor * float(base[name]), rel=1e-9)


def test_effective_intensity_of_a_batch() -> None:
    t = np.linspace(0.0, 1.0, 1001)
    i = np.stack([np.exp(-t / 0.1), np.zeros_like(t), np.ones_like(t)])
    for name, found in flashes.effective_intensities(t, i).items():
        assert found.shape == (3,), name
        assert found[1] == 0.0
        assert found[2] == pytest.approx(1.0 / 1.2, rel=2e-3)
        assert flashes.effective_intensities(t, i[0])[name] == pytest.approx(float(found[0]), rel=1e-12)
        assert np.all(found <= i.max(axis=-1) + 1e-12)


def test_a_filament_flash_counts_for_less_than_an_on_off_flash() -> None:
    course = warming.filament_flash(hot_wire.hot_wire_of_rating(13.5, 25, 2800), cycles=1)
    filament = flashes.effective_intensities(course.time, course.light)
    on_off = float(flashes.blondel_rey(1 / 3))
    assert all(0.3 < float(found) < 0.97 * on_off for found in filament.values())


# --- the half-dark eye --------------------------------------------------------------------------------------------


@given(st.floats(1e-4, 20.0), st.floats(0.01, 20.0))
def test_mesopic_luminance_is_a_fixed_point_between_photopic_and_scotopic(photopic: float, ratio: float) -> None:
    found = float(seeing.mesopic_luminance(photopic, ratio))
    low, high = sorted([photopic, photopic * ratio])
    assert low * (1 - 1e-12) <= found <= high * (1 + 1e-12)
    if photopic >= 5.0:
        assert found == photopic
        return
    m = np.clip(0.7670 + 0.3334 * np.log10(found), 0.0, 1.0)
    rod = (1 - m) * 683 / 1699
    assert found == pytest.approx((m * photopic + rod * photopic * ratio) / (m + rod), rel=1e-6)


@given(st.floats(0.006, 4.9))
def test_a_light_with_equal_ratio_is_left_alone(photopic: float) -> None:
    assert float(seeing.mesopic_luminance(photopic, 1.0)) == pytest.approx(photopic, rel=1e-12)


def test_white_favours_the_half_dark_eye_over_red() -> None:
    x = grid.WAVELENGTHS
    red = np.exp(-(((x - 630) / 11) ** 2))
    ratio = seeing.scotopic_to_photopic(np.stack([red, np.ones_like(x)]))
    assert ratio[0] < 0.1 < 2.0 < ratio[1]
    dim = seeing.mesopic_luminance(0.1, ratio)
    assert dim[0] < 0.1 < dim[1]


# --- brightness of saturated colours ------------------------------------------------------------------------------


def test_nayatani_agrees_with_the_reference_library() -> None:
    import colour

    xy = np.array([[0.7036, 0.2963], [0.5721, 0.4273], [0.1512, 0.7587], [0.1353, 0.0471], [0.4476, 0.4074]])
    white = colour.xy_to_Luv_uv(np.array(brightness.WHITE))
    for level in (0.5, 20.0, 63.66, 500.0):
        ours = brightness.brightness_to_luminance(xy, adapting_luminance=level)
        for method, name in (("VCC", "Nayatani, variable chromatic"), ("VAC", "Nayatani, variable achromatic")):
            theirs = colour.appearance.HelmholtzKohlrausch_effect_luminous_Nayatani1997(
                colour.xy_to_Luv_uv(xy), white, level, method
            )
            assert np.allclose(ours[name], theirs, rtol=1e-9)


def test_the_models_conflict_for_red_and_agree_for_white() -> None:
    low, high = brightness.brightness_range([0.7036, 0.2963])
    assert high > 2 * low > 2
    low, high = brightness.brightness_range(brightness.WHITE)
    assert 0.99 < low <= high < 1.01


def test_brightness_keeps_the_shape_of_what_it_is_given() -> None:
    xy = np.tile([0.69, 0.31], (3, 4, 1))
    assert brightness.brightness_range(xy).shape == (3, 4, 2)
    found = brightness.brightness_to_luminance(xy)
    assert set(found) == set(brightness.MODELS)
    assert all(v.shape == (3, 4) for v in found.values())


@given(st.floats(0.0, 1.0), st.floats(0.05, 0.9))
def test_brightness_is_finite_inside_the_spectrum_locus(share: float, along: float) -> None:
    import colour

    locus = colour.XYZ_to_xy(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"][410 + int(270 * along)])
    xy = share * np.asarray(locus) + (1 - share) * np.array(brightness.WHITE)
    assume(xy.min() > 1e-3)
    low, high = brightness.brightness_range(xy)
    assert 0.3 < low <= high < 30


INSTANTS, FLASH = pulse(0.3)
WRONG = [
    lambda: sight.luminous_range(-1.0, 500.0),
    lambda: sight.luminous_range(1.0, 0.0),
    lambda: sight.luminous_range(1.0, np.nan),
    lambda: sight.luminous_range(1.0, 500.0, 0.0),
    lambda: sight.thresholds("dusk"),
    lambda: sight.reaction_time_gained(-0.1),
    lambda: sight.distance_gained(-50, 0.1),
    lambda: sight.modified_allard(INSTANTS, -FLASH),
    lambda: sight.modified_allard(INSTANTS, FLASH[:-1]),
    lambda: sight.modified_allard(INSTANTS[::-1], FLASH),
    lambda: sight.modified_allard(INSTANTS, FLASH, time_constant=-0.2),
    lambda: sight.modified_allard([0.0], [1.0]),
    lambda: sight.modified_allard([0.0, 0.1, 0.1, 0.2], [1.0, 1.0, 0.0, 0.0]),
    lambda: sight.modified_allard(INSTANTS, np.full_like(FLASH, np.nan)),
    lambda: brightness.brightness_range([0.7, 0.4]),
    lambda: brightness.brightness_range([0.0, 0.4]),
    lambda: brightness.brightness_range(0.5),
    lambda: brightness.brightness_range([0.6, 0.3], adapting_luminance=0.0),
]


@pytest.mark.parametrize("wrong", WRONG)
def test_bad_input_is_told(wrong) -> None:
    with pytest.raises(InputError) as told:
        wrong()
    assert str(told.value).endswith(".")
