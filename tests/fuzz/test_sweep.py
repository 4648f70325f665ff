"""Public functions over the whole of what is legal, and beyond: finite, bounded and monotone where physics says so.

Each row is swept from one end to the other; a value that is refused is left out, but must be refused in plain words.
"""

import warnings
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
import pytest

import lampkit as lk
from lampkit.errors import InputError

ABSURD = (np.nan, np.inf, -np.inf, -1.0, 0.0, -0.0, 1e-320, 1e-30, 1e30, 1e200, 1.7e308, -1e308)


class Sweep(NamedTuple):
    """A function of one number, the span that must be taken, and how it runs and between what."""

    function: Callable[[float], Any]
    span: tuple[float, float]
    runs: int = 0
    """1 rising, -1 falling, 0 neither."""
    bounds: tuple[float, float] = (-np.inf, np.inf)


A = lk.light.illuminant("A")
WIRE = lk.sources.hot_wire_of_rating(12.0, 21.0, 2800.0)
LAMP = lk.circuits.filament_load(21.0, 12.0)
LED = lk.circuits.led_load(3.0, 12.0)
RED = lk.lenses.load("red")
EQUAL = np.ones(471)


def passed(lens: Any) -> float:
    return float(lk.light.luminous_transmittance(lens.transmittance, A))


def at_volts(volts: float) -> float:
    return lk.sources.filament("P21W", voltage=volts).luminous_flux


SWEEPS = {
    "illuminance by intensity": Sweep(lambda i: lk.light.illuminance(i, 2.0), (0.0, 1e6), 1),
    "illuminance by distance": Sweep(lambda d: lk.light.illuminance(60.0, d), (0.01, 1e4), -1, (0, np.inf)),
    "illuminance by tilt": Sweep(lambda a: lk.light.illuminance(60.0, 1.0, a), (0.0, 90.0), -1, (-1e-9, 60)),
    "intensity of a cone": Sweep(lambda a: lk.light.cone_intensity(100.0, a), (1.0, 180.0), -1, (0, np.inf)),
    "chromaticity of a temperature": Sweep(lambda t: lk.light.chromaticity_from_cct(t), (1000.0, 40000.0), 0, (0, 0.8)),
    "absorption edge": Sweep(lambda e: lk.light.absorption_edge(e, 8.0), (300.0, 900.0), 0, (0, 1)),
    "width of an edge": Sweep(lambda w: lk.light.absorption_edge(600.0, w), (0.1, 100.0), 0, (0, 1)),
    "light through an edge": Sweep(
        lambda e: lk.light.luminous_transmittance(lk.light.absorption_edge(e, 8.0), A), (400.0, 700.0), -1, (0, 1)
    ),
    "planck": Sweep(lambda t: lk.light.luminous_flux(lk.sources.planck(t)), (1000.0, 1e5), 1, (0, np.inf)),
    "tungsten": Sweep(lambda t: lk.light.luminous_flux(lk.sources.tungsten(t)), (1200.0, 3400.0), 1, (0, np.inf)),
    "colour temperature": Sweep(lambda t: lk.sources.colour_temperature(t), (1200.0, 3400.0), 1, (900, 4500)),
    "emissivity": Sweep(lambda t: lk.sources.emissivity(t), (1200.0, 3400.0), 0, (0, 1)),
    "a filament by its volts": Sweep(at_volts, (10.0, 15.0), 1, (0, 2000)),
    "a hot wire by its volts": Sweep(lambda v: lk.sources.steady_temperature(WIRE, v), (1.0, 20.0), 1, (250, 3700)),
    "resistance of a hot wire": Sweep(lambda t: lk.sources.hot_wire_resistance(WIRE, t), (300.0, 3600.0), 1, (0, 100)),
    "light of a hot wire": Sweep(lambda t: lk.sources.hot_wire_light(WIRE, t), (1200.0, 3400.0), 1, (0, np.inf)),
    "inrush by the wire before it": Sweep(
        lambda r: (lambda w: w.current[..., 0] / w.settled_current)(
            lk.sources.switch_on(WIRE, duration=0.01, series_resistance=r)
        ),
        (0.0, 10.0),
        -1,
        (1, 20),
    ),
    "colour of a narrow band": Sweep(
        lambda p: lk.light.chromaticity(lk.sources.narrow_band(p, 8.0, 8.0)), (380.0, 780.0), 0, (0, 1)
    ),
    "a white LED": Sweep(lambda t: lk.light.chromaticity(lk.sources.phosphor_white(t)), (2200.0, 8000.0), 0, (0, 1)),
    "a thicker lens": Sweep(lambda k: passed(lk.lenses.thicker(RED, k)), (0.2, 5.0), -1, (0, 1)),
    "a faded lens": Sweep(lambda c: passed(lk.lenses.faded(RED, c)), (0.05, 1.0), -1, (0, 1)),
    "a warm lens": Sweep(lambda c: passed(lk.lenses.at_temperature(RED, c)), (-30.0, 110.0), -1, (0, 1)),
    "a grey lens": Sweep(lambda t: passed(lk.lenses.neutral(t)), (1e-6, 1.0), 1, (0, 1)),
    "surfaces of a lens": Sweep(lambda n: lk.lenses.slab_transmittance(n), (1.0, 2.5), -1, (0, 1)),
    "near field": Sweep(lambda d: lk.measurement.lamp_face.near_field_factor(d, 0.1), (0.01, 100.0), 1, (0, 1 + 1e-12)),
    "far enough": Sweep(lambda d: lk.measurement.lamp_face.far_enough(d, 0.1), (0.01, 100.0), 1, (0, 1)),
    "mismatch by a leak": Sweep(lambda k: lk.measurement.mismatch_index(EQUAL, leak=k), (0.0, 1.0), 0, (0, np.inf)),
    "range by intensity": Sweep(lambda i: lk.visibility.luminous_range(i, 1e4), (1e-3, 1e6), 1, (0, 1e7)),
    "range by clear air": Sweep(lambda v: lk.visibility.luminous_range(60.0, v), (10.0, 1e5), 1, (0, 1e7)),
    "distance gained": Sweep(lambda v: lk.visibility.distance_gained(v, 0.2), (0.0, 300.0), 1, (0, np.inf)),
    "reaction time gained": Sweep(lambda t: lk.visibility.reaction_time_gained(t), (0.0, 1.0), 1, (0, np.inf)),
    "current of a lamp": Sweep(lambda v: lk.circuits.load_current(LAMP, v), (0.0, 16.0), 1),
    "current of an LED": Sweep(lambda v: lk.circuits.load_current(LED, v), (0.0, 16.0), 1),
    "light of a lamp": Sweep(lambda v: lk.circuits.relative_light(LAMP, v), (0.0, 16.0), 1),
    "volts behind a wire": Sweep(lambda r: lk.circuits.lamp_voltage(12.0, r, [LAMP]), (0.0, 1e3), -1, (0, 12)),
    "volts behind a bad earth": Sweep(
        lambda r: lk.circuits.shared_earth(12.0, r, LED, [LAMP]), (0.0, 100.0), -1, (0, 12)
    ),
    "wire gauge": Sweep(lambda g: lk.circuits.wiring.awg_diameter(g), (0.0, 40.0), -1, (0, 20)),
    "a resistor's heat": Sweep(lambda r: lk.circuits.flasher_cures.dissipation(r, 12.0), (0.1, 1e6), -1, (0, np.inf)),
    "a battery that stands": Sweep(lambda a: lk.circuits.standing_time(40.0, a), (1e-4, 100.0), -1, (0, np.inf)),
    "upper end of a ratio": Sweep(
        lambda v: lk.uncertainty.fieller(30.0, 40.0, v, v)[2], (1e-12, 300.0), 1, (0, np.inf)
    ),
}


def value(sweep: Sweep, x: float) -> np.ndarray | None:
    """Call it; nothing when it refuses in plain words."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        try:
            return np.atleast_1d(np.asarray(sweep.function(x), dtype=float)).ravel()
        except InputError as refused:
            told = str(refused)
            assert told.endswith(".") and told.isprintable() and len(told) < 900
            return None


@pytest.mark.parametrize("name", SWEEPS)
def test_a_sweep_is_finite_bounded_and_runs_one_way(name: str) -> None:
    sweep = SWEEPS[name]
    low, high = sweep.span
    xs = np.geomspace(low, high, 33) if low > 0 and high > 50 * low else np.linspace(low, high, 33)
    found = [value(sweep, float(x)) for x in (low, *xs[1:-1], high)]
    assert all(one is not None for one in found), "the span is legal"
    values = np.array(found)
    assert np.all(np.isfinite(values))
    assert values.min() >= sweep.bounds[0] and values.max() <= sweep.bounds[1]
    if sweep.runs:
        assert np.all(np.diff(sweep.runs * values, axis=0) >= -1e-9 * np.abs(values).max())
        assert np.all(sweep.runs * (values[-1] - values[0]) > 0)


@pytest.mark.parametrize("name", SWEEPS)
def test_the_absurd_is_refused_or_keeps_the_bounds(name: str) -> None:
    sweep = SWEEPS[name]
    for x in (*ABSURD, *(end * factor for end in sweep.span for factor in (0.5, 2.0, 1e6, -1.0))):
        found = value(sweep, x)
        if found is not None:
            assert not np.any(np.isnan(found)), x
            assert found.min() >= sweep.bounds[0] and found.max() <= sweep.bounds[1], (x, found)
