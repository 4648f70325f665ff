"""The hot wire: energy, agreement with a reference solver and with the steady state, and refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference import filaments, radiation, steps_in_time
from scipy.integrate import quad, solve_ivp, trapezoid

from lampkit import grid
from lampkit.errors import InputError
from lampkit.sources import hot_wire, incandescence, warming

STOP = hot_wire.hot_wire_of_rating(13.5, 25, 2800)

lamps = st.builds(
    hot_wire.hot_wire_of_rating,
    st.floats(6.0, 28.0),
    st.floats(2.0, 30.0),
    st.floats(2300.0, 2950.0),
    gas_loss=st.floats(0.0, 0.4),
    shade=st.floats(0.4, 1.0),
)


def stored(wire: hot_wire.HotWire, cold: float, hot: float) -> float:
    """Heat in the wire by adaptive quadrature of the heat capacity, apart from the solver's own table."""
    return float(wire.mass) * quad(lambda t: float(hot_wire.heat_capacity(t)), cold, hot, points=[min(3080.0, hot)])[0]


# --- tungsten -----------------------------------------------------------------------------------------------------


def test_radiation_rises_steeply_and_stays_below_a_blackbody() -> None:
    t = np.arange(300.0, 3600.0, 10.0)
    emissivity = hot_wire.radiated_power(t) / (radiation.STEFAN_BOLTZMANN_CONSTANT * t**4)
    assert np.all((emissivity > 0.015) & (emissivity < 0.4))
    assert np.all(np.diff(emissivity[t >= 1000]) > 0)
    # Tolias 2017, after Matsumoto, at 300 K: 0.0185.
    assert emissivity[0] == pytest.approx(0.0185, rel=0.07)


def test_the_lookup_is_as_good_as_the_functions() -> None:
    kelvin = np.arange(300.0, 3600.0)
    i = (kelvin - hot_wire.COLDEST).astype(int)
    table = hot_wire.lookup()
    between = 0.5 * (table[:, i] + table[:, i + 1])
    functions = (hot_wire.resistivity, hot_wire.heat_capacity, hot_wire.radiated_power)
    for found, function in zip(between, functions, strict=True):
        assert np.allclose(found, function(kelvin + 0.5), rtol=5e-5)


@pytest.mark.parametrize("function", [hot_wire.resistivity, hot_wire.heat_capacity, hot_wire.density])
def test_tungsten_refuses_what_is_not_solid_tungsten(function) -> None:
    for wrong in (0.0, -10.0, 4000.0, np.nan, [300.0, np.inf]):
        with pytest.raises(InputError, match="temperature"):
            function(wrong)


# --- the wire at rest ---------------------------------------------------------------------------------------------


@given(lamps)
def test_the_wire_has_its_rating(wire: hot_wire.HotWire) -> None:
    assert hot_wire.hot_wire_resistance(wire, wire.temperature) == pytest.approx(float(wire.voltage**2 / wire.power))
    assert hot_wire.steady_temperature(wire, wire.voltage) == pytest.approx(float(wire.temperature), abs=0.05)
    assert hot_wire.hot_wire_light(wire, wire.temperature) == pytest.approx(1.0)


@given(lamps, st.floats(0.5, 1.15), st.floats(0.0, 2.0))
def test_the_steady_state_loses_what_it_takes(wire: hot_wire.HotWire, share: float, series: float) -> None:
    v = share * wire.voltage
    t = hot_wire.steady_temperature(wire, v, series_resistance=series)
    _, taken, radiated, gas = hot_wire.rates(wire, v, t, series_resistance=series)
    assert taken == pytest.approx(float(radiated + gas), rel=1e-8)
    current = hot_wire.hot_wire_current(wire, v, t, series_resistance=series)
    assert taken == pytest.approx(float(current**2 * hot_wire.hot_wire_resistance(wire, t)), rel=1e-4)


@pytest.mark.parametrize(
    ("wire", "law"), [(STOP, "gas-filled"), (hot_wire.hot_wire_of_rating(13.5, 5, 2450, gas_loss=0), "vacuum")]
)
@pytest.mark.parametrize(("ratio", "apart"), [(0.95, 0.01), (1.05, 0.01), (0.9, 0.02), (0.8, 0.05)])
def test_the_voltage_laws_agree_with_the_hot_wire(wire: hot_wire.HotWire, law: str, ratio: float, apart: float) -> None:
    v = ratio * wire.voltage
    t = hot_wire.steady_temperature(wire, v)
    power = v * hot_wire.hot_wire_current(wire, v, t) / wire.power
    assert hot_wire.hot_wire_light(wire, t) == pytest.approx(
        float(incandescence.voltage_law(ratio, "flux", law)), abs=apart
    )
    assert power == pytest.approx(float(incandescence.voltage_law(ratio, "power", law)), abs=apart)


@given(lamps, st.floats(0.0, 1.0), st.floats(0.01, 1.0))
def test_a_poorer_earth_leaves_less_light(wire: hot_wire.HotWire, series: float, more: float) -> None:
    left = filaments.light_with_series_resistance(wire, [0.0, series, series + more])
    assert left[0] == pytest.approx(1.0, abs=1e-12)
    assert left[2] < left[1] <= 1.0 + 1e-12


def test_the_same_ohms_cost_a_six_volt_lamp_more() -> None:
    six = hot_wire.hot_wire_of_rating(6.75, 25, 2800)
    twelve_left, six_left = (filaments.light_with_series_resistance(w, 0.1) for w in (STOP, six))
    assert six_left < twelve_left
    # The same wire for four lamps in parallel: the loop law scales as the resistance of the lamp.
    assert filaments.light_with_series_resistance(STOP, 0.4) == pytest.approx(float(six_left), abs=1e-6)


def test_a_poor_earth_takes_the_light_of_the_lower_voltage() -> None:
    """The wire, with the volts that are left at its ends and no resistance, gives the same light."""
    t = hot_wire.steady_temperature(STOP, 13.5, series_resistance=0.5)
    left = 13.5 - 0.5 * hot_wire.hot_wire_current(STOP, 13.5, t, series_resistance=0.5)
    assert hot_wire.steady_temperature(STOP, left) == pytest.approx(float(t), abs=1e-3)


# --- in time ------------------------------------------------------------------------------------------------------


@settings(max_examples=15)
@given(lamps, st.floats(0.7, 1.1), st.floats(0.0, 0.5))
def test_energy_balance_closes(wire: hot_wire.HotWire, share: float, series: float) -> None:
    volts = share * wire.voltage
    course = warming.switch_on(wire, volts, duration=0.4, series_resistance=series, step=1e-4)
    _, taken, radiated, gas = hot_wire.rates(wire, volts, course.temperature, series_resistance=series)
    heat = stored(wire, float(course.temperature[0]), float(course.temperature[-1]))
    # By trapezia in time, which the first instants of a thin wire bend away from.
    assert trapezoid(taken - radiated - gas, course.time) == pytest.approx(heat, rel=3e-3)


@pytest.mark.parametrize("wire", [STOP, hot_wire.hot_wire_of_rating(13.5, 2.2, 2450, gas_loss=0.0, shade=0.8)])
def test_the_solver_agrees_with_a_reference_solver(wire: hot_wire.HotWire) -> None:
    volts = float(wire.voltage)
    course = warming.switch_on(wire, duration=0.3)
    reference = solve_ivp(
        lambda _, y: [float(hot_wire.rates(wire, volts, y[0])[0])],
        (0.0, course.time[-1]),
        [300.0],
        method="DOP853",
        rtol=1e-9,
        atol=1e-7,
        max_step=1e-3,
        t_eval=course.time,
    )
    assert np.allclose(course.temperature, reference.y[0], atol=0.5)
    assert np.allclose(course.light, hot_wire.hot_wire_light(wire, reference.y[0]), atol=1e-5)


@settings(max_examples=6)
@given(lamps, st.floats(0.7, 1.1), st.floats(0.0, 0.5), st.floats(0.05, 0.3), st.floats(0.05, 0.5))
def test_the_integral_agrees_with_small_steps_in_time(
    wire: hot_wire.HotWire, share: float, series: float, off: float, again: float
) -> None:
    """Half a millisecond in every time and 0.2 % in light, over a warming, a cooling and a second warming."""
    volts, off, again = share * float(wire.voltage), round(off, 3), round(again, 3)
    course = warming.drive(wire, [0.6, off, again], [volts, 0.0, volts], series_resistance=series)
    brute = steps_in_time.filament_course(wire, 300.0, [(0.6, volts), (off, 0.0), (again, volts)], series=series)
    light = hot_wire.hot_wire_light(wire, brute)
    assert course.temperature == pytest.approx(brute, abs=0.2)
    assert course.light == pytest.approx(light, rel=2e-3, abs=1e-6)
    for part in (0.1, 0.5, 0.9):
        level = part * float(course.settled_light)
        ours, theirs = (np.interp(level, one[:601], course.time[:601]) for one in (course.light, light))
        assert ours == pytest.approx(theirs, abs=5e-4)


def test_a_filament_that_has_settled_stays() -> None:
    warm = float(hot_wire.steady_temperature(STOP, 13.5))
    for start in (warm, warm + 1e-9, warm - 1e-4, warm + 1.0):
        course = warming.switch_on(STOP, 13.5, start_temperature=start)
        assert course.temperature[-1] == pytest.approx(warm, abs=1e-3)
        assert np.all(np.abs(course.temperature - warm) <= abs(start - warm) + 1e-6)
    assert np.all(warming.switch_on(STOP, 0.0).temperature == pytest.approx(300.0, abs=1e-6))


@settings(max_examples=15)
@given(lamps, st.floats(0.6, 1.1))
def test_it_settles_where_the_steady_state_is(wire: hot_wire.HotWire, share: float) -> None:
    # A thick wire that sees much of itself, at 0.6 of its volts, nears its end by a factor e in 0.8 s.
    course = warming.switch_on(wire, share * wire.voltage, duration=20.0, step=0.02)
    assert float(course.temperature[-1]) == pytest.approx(
        float(hot_wire.steady_temperature(wire, share * wire.voltage)), abs=0.5
    )
    assert float(course.light[-1]) == pytest.approx(float(course.settled_light), rel=2e-3)
    assert np.all(np.diff(course.temperature) > -1e-6)


def test_a_batch_gives_what_each_gives_alone() -> None:
    watts, volts, series = np.array([5.0, 21.0, 25.0]), np.array([[12.0], [13.5]]), 0.1
    together = warming.switch_on(hot_wire.hot_wire_of_rating(13.5, watts, 2750), volts, series_resistance=series)
    assert together.light.shape == (2, 3, together.time.size)
    rise = warming.rise_time(together)
    assert rise.shape == (2, 3)
    alone = warming.switch_on(hot_wire.hot_wire_of_rating(13.5, 21.0, 2750), 12.0, series_resistance=series)
    assert rise[0, 1] == pytest.approx(float(warming.rise_time(alone)), rel=1e-5)
    assert warming.rise_time(alone).shape == ()


HOT = hot_wire.steady_temperature(STOP, STOP.voltage)


def test_rise_and_decay_are_in_order() -> None:
    on, off = warming.switch_on(STOP), warming.drive(STOP, [0.5], [0.0], start_temperature=HOT)
    rise = [float(warming.rise_time(on, f)) for f in (0.1, 0.5, 0.9)]
    assert rise == sorted(rise) and np.all(np.diff(off.light) < 0)
    assert warming.settling_time(on, 2.0) < warming.settling_time(on, 1.1)
    # A hot wire radiates its heat away sooner than the supply can bring it: light goes faster than it comes.
    assert off.light[off.time >= rise[-1]].max() < 0.1 * off.light[0]
    assert np.all(off.current == 0)


def test_a_lamp_that_has_just_been_out_comes_back_sooner_and_with_less_surge() -> None:
    cold = warming.switch_on(STOP)
    dark = warming.drive(STOP, [0.35], [0.0], start_temperature=HOT)
    again = warming.switch_on(STOP, start_temperature=dark.temperature[-1])
    assert warming.rise_time(again) < warming.rise_time(cold)
    assert again.current[0] / again.settled_current < 0.25 * cold.current[0] / cold.settled_current


def test_behind_a_red_edge_the_light_rises_sooner() -> None:
    red = np.where(grid.WAVELENGTHS > 600, 0.8, 0.0)
    bare, behind = warming.switch_on(STOP), warming.switch_on(STOP, transmittance=red)
    assert warming.rise_time(behind, 0.5) < warming.rise_time(bare, 0.5)
    grey = warming.switch_on(STOP, transmittance=np.full(471, 0.3))
    assert np.allclose(grey.light, bare.light)


def test_the_current_steps_at_the_instants_of_switching() -> None:
    course = warming.filament_flash(STOP, on_time=0.2, off_time=0.3, cycles=2)
    at = [int(np.argmin(np.abs(course.time - t))) for t in (0.0, 0.2, 0.5, 0.7)]
    assert np.array_equal(course.current[at] > 0, [True, False, True, False])
    assert course.time[-1] == pytest.approx(1.0)


WRONG = [
    lambda: hot_wire.hot_wire_of_rating(0, 25, 2800),
    lambda: hot_wire.hot_wire_of_rating(13.5, -25, 2800),
    lambda: hot_wire.hot_wire_of_rating(13.5, 25, 28000),
    lambda: hot_wire.hot_wire_of_rating(13.5, np.nan, 2800),
    lambda: hot_wire.hot_wire_of_rating(13.5, 25, 2800, gas_loss=1.0),
    lambda: hot_wire.hot_wire_of_rating(13.5, 25, 2800, shade=0.0),
    lambda: hot_wire.hot_wire_of_rating(13.5, 25, 2800, shade=1.5),
    lambda: hot_wire.steady_temperature(STOP, -1),
    lambda: hot_wire.steady_temperature(STOP, 12, series_resistance=-0.1),
    lambda: hot_wire.steady_temperature(STOP, 60),
    lambda: hot_wire.steady_temperature(STOP, -1.0),
    lambda: hot_wire.steady_temperature(STOP, 13.5, series_resistance=-0.1),
    lambda: hot_wire.hot_wire_light(STOP, 3690),
    lambda: hot_wire.hot_wire_light(STOP, 2800, transmittance=np.zeros(471)),
    lambda: hot_wire.hot_wire_light(STOP, 2800, transmittance=np.ones(5)),
    lambda: warming.switch_on(STOP, 60.0),
    lambda: warming.switch_on(STOP, duration=0),
    lambda: warming.switch_on(STOP, step=0),
    lambda: warming.switch_on(STOP, duration=1e6),
    lambda: warming.switch_on(STOP, start_temperature=100),
    lambda: warming.filament_flash(STOP, cycles=0),
    lambda: warming.filament_flash(STOP, cycles=1.5),  # type: ignore[arg-type]
    lambda: warming.filament_flash(STOP, off_time=-1),
    lambda: warming.drive(STOP, [0.1], [12, 0]),
    lambda: warming.drive(STOP, [], []),
    lambda: warming.rise_time(warming.switch_on(STOP, duration=0.1)),
    lambda: warming.rise_time(warming.switch_on(STOP), 1.5),
    lambda: warming.settling_time(warming.switch_on(STOP), 1.0),
]


@pytest.mark.parametrize("wrong", WRONG)
def test_bad_input_is_told(wrong) -> None:
    with pytest.raises(InputError) as told:
        wrong()
    assert str(told.value).endswith(".")
