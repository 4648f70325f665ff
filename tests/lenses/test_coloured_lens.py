"""Lenses: laws that hold for any lens, what the presets must be, what a measurement teaches, and bad input."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference import lens_edges

from lampkit import grid
from lampkit.errors import InputError
from lampkit.lenses import changed_lens, coloured_lens, spectral_transmittance
from lampkit.light import colorimetry, edges, illuminants, photometry
from lampkit.sources import incandescence
from lampkit.uncertainty import posterior, sampling

A = illuminants.illuminant("A")
PRESETS = [(colour, material) for colour in coloured_lens.COLOURS for material in coloured_lens.SUBSTANCE]
edge_nm = st.floats(500, 680)
width_nm = st.floats(3, 30)
ratio = st.floats(0.2, 5)
share = st.floats(0.01, 1)


def drawn(lens: coloured_lens.Lens, n: int = 2000, seed: int = 3) -> np.ndarray:
    values = sampling.draw({lens.name: lens.beliefs}, n, seed).of(lens.name)
    return coloured_lens.transmittances(lens, values)


@given(edge_nm, width_nm, ratio)
def test_thickness_moves_the_edge_and_nothing_else(edge: float, width: float, c: float) -> None:
    thicker = edges.absorption_edge(edge, width) ** c
    np.testing.assert_allclose(
        edges.absorption_edge(edges.edge_at_strength(edge, width, c), width), thicker, rtol=0, atol=1e-12
    )


@given(edge_nm, width_nm, ratio, share)
@settings(max_examples=50)
def test_base_and_dye_scale_with_thickness_and_surfaces_do_not(edge: float, width: float, c: float, top: float) -> None:
    lens = coloured_lens.load("red")
    surface = float(
        spectral_transmittance.slab_transmittance(
            spectral_transmittance.refractive_index("acrylic", spectral_transmittance.SODIUM_D)
        )
    )
    known = {"edge wavelength": edge, "edge width": width, "plateau": top * surface, "leak": 0.0}
    internal = coloured_lens.transmittances(lens, known) / surface
    np.testing.assert_allclose(
        coloured_lens.transmittances(lens, {**known, "thickness ratio": c}), surface * internal**c, rtol=0, atol=1e-12
    )
    # Fading takes dye away and leaves the base.
    np.testing.assert_allclose(
        coloured_lens.transmittances(lens, {**known, "dye left": c}),
        known["plateau"] * (internal / top) ** c,
        rtol=0,
        atol=1e-12,
    )


@pytest.mark.parametrize(("colour", "material"), PRESETS)
def test_a_change_and_its_reverse_leave_the_lens_as_it_was(colour: str, material: str) -> None:
    lens = coloured_lens.load(colour, material=material)
    for change in (changed_lens.thicker, changed_lens.faded):
        there_and_back = change(change(lens, 1.7), 1 / 1.7)
        np.testing.assert_allclose(there_and_back.transmittance, lens.transmittance, rtol=0, atol=1e-12)
        twice, once = change(change(lens, 1.5), 2.0), change(lens, 3.0)
        np.testing.assert_allclose(drawn(twice, 50), drawn(once, 50), rtol=0, atol=1e-12)
    warm = changed_lens.at_temperature(
        changed_lens.at_temperature(lens, 90), spectral_transmittance.CONDITIONS["temperature"]
    )
    np.testing.assert_array_equal(warm.transmittance, lens.transmittance)


@pytest.mark.parametrize(("colour", "material"), PRESETS)
def test_more_dye_or_thickness_never_brightens_and_no_lens_makes_light(colour: str, material: str) -> None:
    lens = coloured_lens.load(colour, material=material)
    fresh, thick, pale = drawn(lens), drawn(changed_lens.thicker(lens, 2)), drawn(changed_lens.faded(lens, 0.5))
    assert np.all((fresh >= 0) & (fresh <= 1))
    assert np.all(thick <= fresh + 1e-15)
    assert np.all(pale >= fresh - 1e-15)
    if colour in ("red", "amber"):
        warm = drawn(changed_lens.at_temperature(lens, 80))
        assert np.all(warm <= fresh + 1e-15), "a warm edge moves towards red"
        assert photometry.luminous_transmittance(warm, A).mean() < photometry.luminous_transmittance(fresh, A).mean()


@pytest.mark.parametrize(("colour", "material"), PRESETS)
def test_one_by_one_and_all_at_once_agree(colour: str, material: str) -> None:
    lens = coloured_lens.load(colour, material=material)
    values = sampling.draw({lens.name: lens.beliefs}, 7, 5).of(lens.name)
    together = coloured_lens.transmittances(lens, values)
    assert together.shape == (7, grid.WAVELENGTHS.size)
    assert together.flags.writeable
    for i in range(7):
        alone = coloured_lens.transmittances(lens, {name: v[i] for name, v in values.items()})
        assert alone.shape == grid.WAVELENGTHS.shape
        np.testing.assert_allclose(alone, together[i], rtol=0, atol=1e-12)
    np.testing.assert_array_equal(coloured_lens.transmittances(lens, {}), lens.transmittance)


@given(edge_nm, width_nm, share, st.floats(0, 0.05), st.floats(1500, 8000))
@settings(max_examples=50)
def test_luminous_transmittance_lies_within_the_curve(
    edge: float, width: float, top: float, leak: float, temperature: float
) -> None:
    tau = coloured_lens.transmittances(
        coloured_lens.load("red"), {"edge wavelength": edge, "edge width": width, "plateau": 0.9 * top, "leak": leak}
    )
    through = photometry.luminous_transmittance(tau, incandescence.planck(temperature))
    assert tau.min() - 1e-12 <= through <= tau.max() + 1e-12


@given(st.floats(0.1, 1000), st.floats(0.1, 1000))
@settings(max_examples=25)
def test_light_behind_a_lens_is_linear_in_the_light(a: float, b: float) -> None:
    tau, warm, cool = coloured_lens.load("green").transmittance, incandescence.planck(2400), incandescence.planck(6500)
    mixed = photometry.luminous_flux(tau * (a * warm + b * cool))
    parts = a * photometry.luminous_flux(tau * warm) + b * photometry.luminous_flux(tau * cool)
    assert mixed == pytest.approx(parts, rel=1e-12)


def test_the_order_of_a_stack_does_not_matter() -> None:
    clear, red, grey = coloured_lens.load("clear"), coloured_lens.load("red"), coloured_lens.neutral(0.5)
    one, other = changed_lens.stack(clear, red, grey), changed_lens.stack(grey, red, clear)
    np.testing.assert_array_equal(one.transmittance, other.transmittance)
    np.testing.assert_array_equal(drawn(one, 20), drawn(other, 20))
    np.testing.assert_allclose(
        one.transmittance, clear.transmittance * red.transmittance * grey.transmittance, rtol=1e-14
    )
    assert one.colour == "red"


def test_a_stack_of_two_of_a_kind_draws_each_of_them() -> None:
    twin = changed_lens.stack(coloured_lens.load("red"), coloured_lens.load("red"))
    assert len({belief.name for belief in twin.beliefs}) == 2 * len(coloured_lens.load("red").beliefs)
    np.testing.assert_allclose(twin.transmittance, coloured_lens.load("red").transmittance ** 2, rtol=1e-14)
    thick = changed_lens.thicker(twin, 2)
    np.testing.assert_allclose(
        thick.transmittance, changed_lens.thicker(coloured_lens.load("red"), 2).transmittance ** 2, rtol=1e-13
    )


@pytest.mark.parametrize("material", coloured_lens.SUBSTANCE)
def test_typical_lenses_have_their_colour_with_a_filament(material: str) -> None:
    def xy(colour: str) -> np.ndarray:
        return colorimetry.chromaticity(coloured_lens.load(colour, material=material).transmittance * A)

    x, y = xy("red")
    assert y <= 0.330, "red of FMVSS 108, the narrower of the two"
    assert x + y >= 0.98, "red of FMVSS 108 and UN R48"
    x, y = xy("amber")
    assert 0.390 <= y <= x - 0.120, "amber of UN R48"
    assert 1 - x - y <= 0.008, "amber of UN R48"
    x, y = xy("blue")
    assert y <= 0.065 + 0.805 * x, "blue of ICAO Annex 14 and UN R65, towards green"
    assert y <= 0.400 - x, "the same, towards white"
    assert x <= 0.133 + 0.600 * y, "the same, towards purple"


@pytest.mark.parametrize(("colour", "material"), PRESETS)
def test_every_belief_says_where_it_comes_from(colour: str, material: str) -> None:
    for belief in coloured_lens.load(colour, material=material).beliefs:
        assert any(word in belief.source for word in ("assumption", "judgement", "from memory"))
    plastic, glass = (coloured_lens.load(colour, material=m).beliefs for m in ("plastic", "old glass"))
    for new, old in zip(plastic, glass, strict=True):
        assert old.spread >= new.spread or old.name == "edge shift", "old glass is known less well"


def test_slab_is_the_sum_of_its_reflections() -> None:
    index, internal = 1.52, 0.8
    r = float(spectral_transmittance.surface_reflectance(index))
    passes = sum((1 - r) ** 2 * internal ** (2 * k + 1) * r ** (2 * k) for k in range(40))
    assert spectral_transmittance.slab_transmittance(index, internal) == pytest.approx(passes, rel=1e-14)
    assert spectral_transmittance.slab_transmittance(1.0, internal) == pytest.approx(internal, rel=1e-14)


def test_energy_edge_is_the_wavelength_edge_near_it() -> None:
    energy = 8.0 * lens_edges.PHOTON_ENERGY / 600.0**2
    near = np.abs(grid.WAVELENGTHS - 600) < 20
    difference = lens_edges.energy_edge(600, energy) - edges.absorption_edge(600, 8.0)
    assert np.max(np.abs(difference[near])) < 0.03
    assert lens_edges.logistic_edge(600, 8.0)[240] == pytest.approx(0.5)
    assert np.all(lens_edges.logistic_edge(600, 0.7019 * 8.0)[100:200] > edges.absorption_edge(600, 8.0)[100:200])


# --- what a measurement teaches -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("colour", "through"), [("red", 0.19), ("red", 0.28), ("amber", 0.56), ("green", 0.2), ("blue", 0.04)]
)
def test_a_measured_transmittance_is_met_with_its_uncertainty(colour: str, through: float) -> None:
    lens = changed_lens.from_measured(colour, luminous_transmittance=through, relative_uncertainty=0.03)
    low, middle, high = sampling.interval(photometry.luminous_transmittance(drawn(lens), A))
    assert middle == pytest.approx(through, rel=0.03)
    assert (high - low) / middle == pytest.approx(2 * 1.96 * 0.03, rel=0.25)
    before = sampling.interval(photometry.luminous_transmittance(drawn(coloured_lens.load(colour)), A))
    assert high - low < before[2] - before[0]


@given(st.floats(590, 610), st.floats(6, 12), st.floats(0.86, 0.91))
@settings(max_examples=15)
def test_what_a_known_lens_shows_leads_back_to_it(edge: float, width: float, top: float) -> None:
    truth = coloured_lens.transmittances(
        coloured_lens.load("red"), {"edge wavelength": edge, "edge width": width, "plateau": top, "leak": 0.0005}
    )
    lens = changed_lens.from_measured(
        "red",
        luminous_transmittance=float(photometry.luminous_transmittance(truth, A)),
        chromaticity=colorimetry.chromaticity(truth * A),
    )
    # The ratio behind another light is what the kit needs of a lens; 6500 K stands for a cool white one.
    cool = incandescence.planck(6500)
    k = photometry.luminous_transmittance(truth, cool) / photometry.luminous_transmittance(truth, A)
    draws = drawn(lens, 800)
    found = photometry.luminous_transmittance(draws, cool) / photometry.luminous_transmittance(draws, A)
    assert np.median(found) == pytest.approx(k, rel=0.03)


def test_unseen_directions_keep_their_spread_and_are_named() -> None:
    lens = changed_lens.from_measured("red", luminous_transmittance=0.22, chromaticity=(0.686, 0.3135))
    directions = [b for b in lens.beliefs if b.name.startswith("direction")]
    assert directions[0].name == "direction 1 (well seen)"
    assert directions[0].spread < 0.2
    # On the spectrum locus three numbers carry two at most.
    assert sum(b.spread > 0.9 for b in directions) >= len(directions) - 2
    assert any("hardly told apart" in note and "edge width" in note for note in lens.notes)
    warm = changed_lens.at_temperature(lens, 90)
    assert photometry.luminous_transmittance(warm.transmittance, A) < photometry.luminous_transmittance(
        lens.transmittance, A
    )


def test_narrowing_equals_the_closed_form_of_a_linear_problem() -> None:
    rng = np.random.default_rng(4)
    slope, aim, sigma = rng.normal(size=(2, 3)), np.array([0.4, -0.3]), np.array([0.5, 0.3])
    beliefs = [sampling.Belief(n, 0.0, 1.0, "1", "test") for n in "abc"]
    found = posterior.narrow(lambda v: np.stack([v[n] for n in "abc"], -1) @ slope.T, beliefs, aim, sigma)
    covariance = np.linalg.inv(np.eye(3) + slope.T @ np.diag(sigma**-2) @ slope)
    mean = covariance @ slope.T @ (aim / sigma**2)
    spread = np.array([b.spread for b in found.beliefs])
    np.testing.assert_allclose(found.directions.T @ np.diag(spread**2) @ found.directions, covariance, atol=1e-9)
    at = found.parameters({b.name: np.asarray(b.typical) for b in found.beliefs})
    np.testing.assert_allclose([at[n] for n in "abc"], mean, atol=1e-6)


# --- files and bad input --------------------------------------------------------------------------------------------


def table(path: Path, tau: np.ndarray, step: int = 5) -> Path:
    rows = [f"{w:g},{t:.17g}" for w, t in zip(grid.WAVELENGTHS[::step], tau[::step], strict=True)]
    path.write_text("\n".join(["wavelength_nm,transmittance", *rows]) + "\n", encoding="utf-8")
    return path


def test_a_file_gives_back_its_curve(tmp_path: Path) -> None:
    red = coloured_lens.load("red")
    lens = coloured_lens.read(table(tmp_path / "my_lens.csv", red.transmittance, 1), colour="red")
    assert lens.name == "my_lens"
    np.testing.assert_allclose(lens.transmittance, red.transmittance, rtol=1e-14)
    np.testing.assert_allclose(
        changed_lens.thicker(lens, 2).transmittance[300:], changed_lens.thicker(red, 2).transmittance[300:], rtol=2e-3
    )
    assert np.ptp(photometry.luminous_transmittance(drawn(lens), A)) > 0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: coloured_lens.load("crimson"), "no lens preset 'crimson'"),
        (lambda: coloured_lens.load("red", material="bakelite"), "'plastic', 'old glass'"),
        (lambda: coloured_lens.neutral(1.2), "at most 1"),
        (lambda: coloured_lens.neutral(0.0), "above 0"),
        (lambda: coloured_lens.neutral(float("nan")), "at most 1"),
        (lambda: changed_lens.thicker(coloured_lens.load("red"), -1), "not a positive ratio"),
        (lambda: changed_lens.thicker(coloured_lens.load("red"), float("inf")), "not a positive ratio"),
        (lambda: changed_lens.faded(coloured_lens.load("red"), 0), "not a positive ratio"),
        (lambda: changed_lens.at_temperature(coloured_lens.load("red"), 900), "no lens temperature"),
        (lambda: changed_lens.at_temperature(coloured_lens.load("red"), float("nan")), "no lens temperature"),
        (lambda: changed_lens.stack(), "at least one lens"),
        (lambda: changed_lens.stack(coloured_lens.load("red"), coloured_lens.load("blue")), "colour="),
        (
            lambda: coloured_lens.transmittances(coloured_lens.load("red"), {"edge wavelenght": 600}),
            "'edge wavelength'",
        ),
        (lambda: coloured_lens.transmittances(coloured_lens.load("red"), {"plateau": 1.4}), "not a percentage"),
        (lambda: coloured_lens.transmittances(coloured_lens.load("clear"), {"plateau": 90}), "not a percentage"),
        (lambda: coloured_lens.transmittances(coloured_lens.load("red"), {"leak": -0.1}), "a share of the light"),
        (lambda: coloured_lens.transmittances(coloured_lens.load("red"), {"edge width": np.nan}), "not a number"),
        (lambda: coloured_lens.transmittances(coloured_lens.load("red"), {"edge width": 0}), "width"),
        (lambda: coloured_lens.transmittances(coloured_lens.load("red"), {"dye left": 0}), "dye left"),
        (lambda: coloured_lens.transmittances(coloured_lens.load("green"), {"dye strength": -1}), "dye strength"),
        (lambda: coloured_lens.read("nowhere/lens.csv", colour="red"), "lens.csv"),
        (lambda: spectral_transmittance.refractive_index("jelly"), "lens material 'jelly'"),
        (lambda: spectral_transmittance.refractive_index("acrylic", 5.0), "300 nm"),
        (lambda: spectral_transmittance.slab_transmittance(0.9), "below one"),
        (lambda: spectral_transmittance.slab_transmittance(1.5, 1.1), "not percent"),
        (lambda: spectral_transmittance.curve_model(0.9, np.zeros(471)), "no light through"),
        (lambda: changed_lens.from_measured("red"), "nothing measured"),
        (lambda: changed_lens.from_measured("red", luminous_transmittance=23), "divided by 100"),
        (lambda: changed_lens.from_measured("red", luminous_transmittance=0.9), "do not fit"),
        (lambda: changed_lens.from_measured("red", chromaticity=(0.7, 0.4)), "no pair x, y"),
        (lambda: changed_lens.from_measured("red", luminous_transmittance=0.2, relative_uncertainty=0), "not positive"),
        (
            lambda: changed_lens.from_measured("red", luminous_transmittance=0.2, spectrum=np.zeros(471)),
            "no visible light",
        ),
    ],
)
def test_bad_input_is_told_in_one_sentence(call, words: str) -> None:
    with pytest.raises(InputError) as told:
        call()
    assert words in str(told.value)


def test_a_file_must_say_its_colour_and_its_material(tmp_path: Path) -> None:
    path = table(tmp_path / "lens.csv", coloured_lens.load("red").transmittance)
    with pytest.raises(InputError, match="lens colour 'purple'"):
        coloured_lens.read(path, colour="purple", outside="hold")
    with pytest.raises(InputError, match="material"):
        coloured_lens.read(path, colour="red", material="tin", outside="hold")
    with pytest.raises(InputError, match="uncertainty"):
        coloured_lens.read(path, colour="red", relative_uncertainty=-1, outside="hold")
