"""Damaged files and absurd arguments: each is taken or refused in plain sentences, and nothing else happens.

Two thousand inputs in every run; `pytest -m fuzz` tries ten times as many and prints what came of them.
"""

import contextlib
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from command_lines import OFTEN, VALUES, command_lines, laid_out, named, options_of
from damage import damaged
from doors import command_door, curve_door, held, readings_door, vehicle_door
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import lampkit as lk
from lampkit.errors import InputError

VEHICLES = Path(__file__).parent.parent / "vehicles"
VALUE_OF_A_KEY = r"(?<= = )[^\n]+"
CELL = r"(?<=[,\n])[^,\n]+"
BETWEEN_TAGS = r'(?<=>)[^<>\n]+(?=<)|"[^"]*"'

LOG = """lamp,source,state,illuminance_lx,distance_mm,time,claimed_lumens_lm,note
Stop,,off,12.1,800,20:01,,
Stop,filament,on,141.5,800,20:04,,first
Stop,red LED A,on,98,800,20:09,120,
Stop,,off,11.8,800,20:12,,
Tail,,off,11.8,600,20:14,,
Tail,filament,on,35.2,600,20:15,,
Tail,red LED A,on,44.9,600,20:17,40,
Tail,,off,12,600,20:19,,
"""
CURVE = "wavelength_nm,{}\n" + "\n".join(f"{x},{0.01 + 0.9 * (x > 600):.2f}" for x in range(380, 781, 10)) + "\n"
TM_27 = (
    """<?xml version="1.0" encoding="UTF-8"?>
<IESTM2714 xmlns="http://www.ies.org/iestm2714" version="1.0">
<Header><Manufacturer>own</Manufacturer><Description>lamp</Description></Header>
<SpectralDistribution><SpectralQuantity>flux</SpectralQuantity>
"""
    + "".join(f'<SpectralData wavelength="{x}">{0.1 + x / 1000:.2f}</SpectralData>\n' for x in range(400, 721, 20))
    + "</SpectralDistribution></IESTM2714>\n"
)

AMOUNT = [1, pytest.param(10, marks=pytest.mark.fuzz)]


def tried(
    inputs: st.SearchStrategy[Any],
    door: Callable[[Path, Any], Callable[[], Any]],
    plain: Any,
    *,
    folder: Path,
    examples: int,
    counted: Counter[str],
) -> None:
    """Send the plain input, which is taken, and then the others."""
    with contextlib.suppress(InputError):
        door(folder, plain)()  # libraries load, and look where their own things lie
    assert held(door(folder, plain), folder, 60.0), "the plain input is refused"
    began = time.process_time()
    held(door(folder, plain), folder, 60.0)
    usual = time.process_time() - began

    @settings(
        max_examples=examples,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(inputs)
    def one(given_input: Any) -> None:
        counted["taken" if held(door(folder, given_input), folder, usual) else "refused"] += 1

    one()


@pytest.mark.parametrize("times", AMOUNT)
@pytest.mark.parametrize("name", ["puppet_cart", "bell_lorry"])
def test_vehicle_files(name: str, times: int, tmp_path: Path, counted: Counter[str]) -> None:
    text = (VEHICLES / name / "vehicle.toml").read_text(encoding="utf-8")
    inputs = damaged(text, VALUE_OF_A_KEY)
    tried(inputs, vehicle_door, text.encode(), folder=tmp_path, examples=300 * times, counted=counted)


@pytest.mark.parametrize("times", AMOUNT)
def test_logs_of_readings(times: int, tmp_path: Path, counted: Counter[str]) -> None:
    inputs = damaged(LOG, CELL)
    tried(inputs, readings_door, LOG.encode(), folder=tmp_path, examples=500 * times, counted=counted)


@pytest.mark.parametrize("times", AMOUNT)
@pytest.mark.parametrize("what", ["spectrum", "transmittance"])
def test_measured_curves(what: str, times: int, tmp_path: Path, counted: Counter[str]) -> None:
    column = {"spectrum": "relative_power", "transmittance": "transmittance"}[what]
    text = CURVE.format(column)

    def door(folder: Path, raw: bytes) -> Callable[[], Any]:
        return curve_door(folder, raw, "curve.csv", what)

    tried(damaged(text, CELL), door, text.encode(), folder=tmp_path, examples=200 * times, counted=counted)


@pytest.mark.parametrize("times", AMOUNT)
def test_spectra_in_the_exchange_form(times: int, tmp_path: Path, counted: Counter[str]) -> None:
    def door(folder: Path, raw: bytes) -> Callable[[], Any]:
        return curve_door(folder, raw, "curve.spdx", "spectrum")

    tried(damaged(TM_27, BETWEEN_TAGS), door, TM_27.encode(), folder=tmp_path, examples=150 * times, counted=counted)


def test_every_option_has_values_that_people_write() -> None:
    wanted = {named(c, a) for c in set(OFTEN) for a in options_of(c) if a.nargs != 0 and named(c, a)}
    assert wanted == set(VALUES), "the grammar of command lines is that of the parser"


@pytest.mark.parametrize("times", AMOUNT)
def test_command_lines(times: int, tmp_path: Path, counted: Counter[str]) -> None:
    def door(folder: Path, words: list[str]) -> Callable[[], Any]:
        laid_out(folder, VEHICLES / "post_motorcycle" / "vehicle.toml", LOG)
        return command_door(folder, words)

    plain = ["report", "own", "--draws", "150", "-o", "page.html"]
    tried(command_lines(), door, plain, folder=tmp_path, examples=60 * times, counted=counted)
    assert counted["taken"] > counted["refused"] / 2, "a third and more are lines that work"


def _numbers(*bounds: tuple[float, float]) -> st.SearchStrategy[list[float]]:
    whole = st.floats(allow_nan=True, allow_infinity=True, width=64)
    return st.tuples(*(st.one_of(st.floats(low, high), whole) for low, high in bounds)).map(list)


FUNCTIONS: dict[str, tuple[Callable[..., Any], tuple[tuple[float, float], ...]]] = {
    "illuminance": (lambda i, d: lk.light.illuminance(i, d), ((0, 1e6), (0.01, 100))),
    "chromaticity_from_cct": (lambda t, d: lk.light.chromaticity_from_cct(t, d), ((1500, 20000), (-0.02, 0.02))),
    "absorption_edge": (lambda e, w, p: lk.light.absorption_edge(e, w, p), ((400, 700), (0.1, 60), (0.1, 1))),
    "planck": (lambda t: lk.sources.planck(t), ((300, 1e5),)),
    "tungsten": (lambda t: lk.sources.tungsten(t), ((1000, 3600),)),
    "colour_temperature": (lambda t: lk.sources.colour_temperature(t), ((1000, 3600),)),
    "phosphor_white": (lambda t, d: lk.sources.phosphor_white(t, d), ((2200, 8000), (-0.006, 0.006))),
    "narrow_band": (lambda p, w: lk.sources.narrow_band(p, w, w), ((400, 700), (5, 60))),
    "near_field_factor": (
        lambda d, f, e: lk.measurement.lamp_face.near_field_factor(d, f, e),
        ((0.1, 50), (0.01, 1), (0, 50)),
    ),
    "luminous_range": (lambda i, v: lk.visibility.luminous_range(i, v), ((1e-3, 1e6), (10, 1e5))),
    "plan_measurement": (
        lambda i, b, r: float(lk.measurement.plan_measurement(i, background=b, resolution=r).expected_uncertainty),
        ((0.01, 1e5), (0, 1000), (1e-3, 10)),
    ),
}


@pytest.mark.parametrize("times", AMOUNT)
@pytest.mark.parametrize("name", FUNCTIONS)
def test_functions(name: str, times: int, tmp_path: Path, counted: Counter[str]) -> None:
    function, bounds = FUNCTIONS[name]

    def door(folder: Path, values: list[float]) -> Callable[[], Any]:
        def call() -> Any:
            import numpy as np

            found = function(*values)
            return [float(x) for x in np.ravel(np.asarray(found, dtype=float))]

        return call

    middle = [0.5 * (low + high) for low, high in bounds]
    tried(_numbers(*bounds), door, middle, folder=tmp_path, examples=20 * times, counted=counted)
