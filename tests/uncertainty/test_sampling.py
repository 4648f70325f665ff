"""Beliefs, draws and intervals, against closed forms and scipy's distributions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from lampkit.errors import InputError
from lampkit.uncertainty.sampling import Belief, draw, interval, quantile, set_belief, share, standard_normal

EDGE = Belief("edge wavelength", 598.0, 8.0, "nm", "an assumption")


def test_same_seed_same_numbers_to_the_bit() -> None:
    first = draw({"lens": [EDGE]}, 1000, 7).of("lens")["edge wavelength"]
    again = draw({"other": [EDGE], "lens": [EDGE]}, 1000, 7).of("lens")["edge wavelength"]
    assert first.tobytes() == again.tobytes(), "another owner must not change what is drawn for the lens"
    assert first.tobytes() != draw({"lens": [EDGE]}, 1000, 8).of("lens")["edge wavelength"].tobytes()


def test_streams_of_different_names_are_independent() -> None:
    a, b = (standard_normal(1, "lens", name, 20000) for name in ("edge wavelength", "edge width"))
    assert abs(np.corrcoef(a, b)[0, 1]) < 0.03
    assert stats.kstest(a, "norm").pvalue > 1e-3


@pytest.mark.parametrize(
    ("belief", "law"),
    [
        (EDGE, stats.norm(598, 8)),
        (Belief("w", 8.0, 0.25, "nm", "an assumption", "lognormal"), stats.lognorm(0.25, scale=8)),
        (Belief("u", 1.0, 0.15, "1", "an assumption", "uniform"), stats.uniform(0.85, 0.3)),
    ],
)
def test_shapes_against_scipy(belief: Belief, law: stats.rv_continuous) -> None:
    z = np.linspace(-3, 3, 41)
    np.testing.assert_allclose(belief.value(z), law.ppf(stats.norm.cdf(z)), rtol=1e-9)


@given(st.floats(586.0, 597.9), st.floats(598.1, 625.0), st.floats(-6, 6))
def test_a_limited_belief_stays_inside_and_keeps_its_median(low: float, high: float, z: float) -> None:
    belief = Belief("edge", 598.0, 8.0, "nm", "an assumption", low=low, high=high)
    assert low <= float(belief.value(z)) <= high
    assert belief.value(0.0) == pytest.approx(598.0, abs=1e-6)


def test_nothing_piles_up_at_a_limit() -> None:
    belief = Belief("edge", 598.0, 8.0, "nm", "an assumption", low=590.0, high=606.0)
    drawn = belief.value(standard_normal(3, "lens", "edge", 20000))
    assert np.mean(drawn <= 590.001) < 1e-3
    half = stats.truncnorm(-1, 0, 598, 8)
    assert np.mean(drawn < 594) * 2 == pytest.approx(half.cdf(594), abs=0.02)


def test_interval_of_a_normal_quantity() -> None:
    z = standard_normal(1, "a", "b", 200_000)
    np.testing.assert_allclose(interval(z), [-1.96, 0.0, 1.96], atol=0.02)
    np.testing.assert_allclose(interval(z, np.full(z.size, 1 / z.size)), interval(z), atol=1e-3)


def test_weights_move_an_interval_as_bayes_says() -> None:
    # Prior N(0, 1), one reading 1.0 with standard uncertainty 0.5: posterior mean 0.8, variance 0.2.
    z = standard_normal(1, "a", "b", 200_000)
    weights = np.exp(-0.5 * ((z - 1.0) / 0.5) ** 2)
    low, middle, high = interval(z, weights / weights.sum())
    assert middle == pytest.approx(0.8, abs=0.01)
    assert high - low == pytest.approx(2 * 1.96 * np.sqrt(0.2), rel=0.02)
    assert share(z > 0.8, weights) == pytest.approx(0.5, abs=0.01)


def test_quantile_broadcasts() -> None:
    values = np.random.default_rng(0).normal(size=(3, 2, 500))
    assert quantile(values, 0.5).shape == (3, 2)
    assert quantile(values, [0.1, 0.9], np.ones(500)).shape == (3, 2, 2)


def test_a_belief_can_be_replaced_by_name() -> None:
    changed = set_belief([EDGE], "edge wavelength", typical=601.0, source="measured")
    assert changed[0].typical == 601.0
    with pytest.raises(InputError, match="no belief named 'edge'"):
        set_belief([EDGE], "edge", typical=601.0)


@pytest.mark.parametrize(
    "bad",
    [
        {"spread": -1.0},
        {"typical": float("nan")},
        {"shape": "triangular"},
        {"source": ""},
        {"shape": "lognormal", "typical": 0.0},
        {"low": 600.0},
    ],
)
def test_an_impossible_belief_is_refused(bad: dict) -> None:
    fields = {"name": "x", "typical": 598.0, "spread": 8.0, "unit": "nm", "source": "an assumption"} | bad
    with pytest.raises(InputError):
        Belief(**fields)


def test_no_draws_and_no_coverage_are_refused() -> None:
    with pytest.raises(InputError, match="0 draws"):
        draw({"lens": [EDGE]}, 0, 1)
    with pytest.raises(InputError, match="coverage"):
        interval([1.0, 2.0], coverage=95)


@pytest.mark.parametrize(("low", "high"), [(-1.5, 3.4), (-np.inf, 0.7), (-4.5, 6.0), (-0.2, 0.2)])
def test_many_draws_of_a_cut_distribution_are_those_of_few(low: float, high: float) -> None:
    belief = Belief("a length", 0.0, 1.0, "mm", "an assumption", low=low, high=high)
    z = np.append(np.random.default_rng(3).normal(0.0, 2.0, 50_000), [0.0, -8.0, 8.0, -9.0, 9.0])
    few = np.concatenate([belief.value(piece) for piece in np.array_split(z, 60)])
    assert np.abs(belief.value(z) - few).max() < 1e-6


@pytest.mark.parametrize("draws", [100, 400, 1000, 4000])
def test_the_share_of_all_draws_is_one_and_no_more(draws: int) -> None:
    assert float(share(np.ones(draws), np.full(draws, 1.0 / draws))) == 1.0
