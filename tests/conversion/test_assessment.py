"""One lamp, end to end: against single integrals by the reference library, and against what must hold."""

import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import trapezoid

import lampkit as lk
from lampkit import numbers
from lampkit.conversion import answer, assessment
from lampkit.conversion.assessment import Ground, Result
from lampkit.errors import InputError
from lampkit.light import behind_lens
from lampkit.sources.light_source import BELIEVABLE_POWER_SHARE, Claim
from lampkit.uncertainty import sampling

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour


@pytest.fixture(scope="module")
def job() -> "lk.conversion.Assessment":
    old = lk.sources.filament("P21W", voltage=13.5)
    white = lk.sources.white_led(cct=6000, luminous_flux=420)
    red = lk.sources.coloured_led("red", luminous_flux=110)
    return lk.conversion.assess(old, [white, red], lk.lenses.load("red"), function="stop", rules="UN", seed=1)


def test_typical_values_against_the_reference_library() -> None:
    """Flux, transmittance and chromaticity of 50 random source and lens pairs, by colour-science's own integrals."""
    rng = np.random.default_rng(11)
    v = colour.SDS_LEFS["CIE 1924 Photopic Standard Observer"].values
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    for _ in range(50):
        source = [
            lambda: lk.sources.white_led(rng.uniform(2400, 7500), rng.uniform(-0.004, 0.004), luminous_flux=300.0),
            lambda: lk.sources.coloured_led(
                peak=rng.uniform(450, 650), fwhm=rng.uniform(12, 40), luminous_flux=rng.uniform(10, 400)
            ),
            lambda: lk.sources.filament(rng.choice(["P21W", "R5W", "1156", "67"])),
        ][rng.integers(3)]()
        lens = lk.lenses.load(rng.choice(["red", "amber", "clear", "green", "blue"]))
        through = colour.SpectralDistribution(lens.transmittance * source.spectrum, lk.grid.WAVELENGTHS)
        flux = 683.002 * float(trapezoid(through.values * v, lk.grid.WAVELENGTHS))
        assert float(lk.light.luminous_flux(lens.transmittance * source.spectrum)) == pytest.approx(flux, rel=1e-4)
        bare = 683.002 * float(trapezoid(source.spectrum * v, lk.grid.WAVELENGTHS))
        tau = lk.light.luminous_transmittance(lens.transmittance, source.spectrum)
        assert float(tau) == pytest.approx(flux / bare, rel=1e-4)
        theirs = colour.XYZ_to_xy(colour.colorimetry.sd_to_XYZ_integration(through, cmfs))
        xy = lk.light.chromaticity(lens.transmittance * source.spectrum)
        np.testing.assert_allclose(xy, theirs, atol=1e-6)
        dominant, _, _ = colour.dominant_wavelength(theirs, np.array([1 / 3, 1 / 3]))
        assert float(lk.light.dominant_wavelength(xy).wavelength) == pytest.approx(float(dominant), abs=0.5)


def test_intervals_hold_their_middle(job: "lk.conversion.Assessment") -> None:
    for result in (job.old, *job.results):
        for limits in (result.luminous_transmittance, result.flux_through, result.k, result.ratio):
            assert limits[0] <= limits[1] <= limits[2]


def test_the_draws_multiply_up(job: "lk.conversion.Assessment") -> None:
    """Ratio is K times the lumens ratio, garage by garage: the split that a reading is held against later."""
    for result in job.results:
        lumens = [lk.sources.light_source.true_flux(s, job.garage.of(s.name)) for s in (result.source, job.old.source)]
        np.testing.assert_allclose(result.draws["ratio"], result.draws["k"] * lumens[0] / lumens[1], rtol=1e-12)


def test_lumens_to_buy_give_the_assurance_asked_for(job: "lk.conversion.Assessment") -> None:
    white = job.results[0]
    more = lk.sources.white_led(cct=6000, luminous_flux=white.lumens_to_buy)
    again = lk.conversion.assess(job.old.source, [more], job.lens, function="stop", seed=1)
    assert again.results[0].probability == pytest.approx(0.90, abs=0.005)


def test_a_candidate_changes_nothing_for_the_others(job: "lk.conversion.Assessment") -> None:
    alone = lk.conversion.assess(job.old.source, [job.results[1].source], job.lens, function="stop", seed=1)
    assert alone.results[0].draws["ratio"].tobytes() == job.results[1].draws["ratio"].tobytes()


def test_same_seed_same_numbers_to_the_bit(job: "lk.conversion.Assessment") -> None:
    sources = [r.source for r in job.results]
    again = lk.conversion.assess(job.old.source, sources, job.lens, function="stop", seed=1)
    other = lk.conversion.assess(job.old.source, sources, job.lens, function="stop", seed=2)
    assert again.results[0].draws["flux"].tobytes() == job.results[0].draws["flux"].tobytes()
    assert other.results[0].draws["flux"].tobytes() != job.results[0].draws["flux"].tobytes()


def test_garage_known_in_part_is_completed_and_weighted(job: "lk.conversion.Assessment") -> None:
    """A garage that knows the edge to 1 nm leaves K of the white LED a narrower interval."""
    prior = lk.uncertainty.draw({job.lens.name: job.lens.beliefs}, 4000, 1)
    edge = prior.of(job.lens.name)["edge wavelength"]
    weights = np.exp(-0.5 * (edge - 604.0) ** 2)
    known = lk.uncertainty.sampling.Draws(prior.values, weights / weights.sum(), prior.beliefs, 1)
    sources = [r.source for r in job.results]
    narrowed = lk.conversion.assess(job.old.source, sources, job.lens, function="stop", garage=known)
    assert np.ptp(narrowed.results[0].k) < 0.9 * np.ptp(job.results[0].k)
    assert narrowed.results[0].k[1] < job.results[0].k[1], "a deeper red lens is harder on a white LED"


def test_the_reason_names_both_shares(job: "lk.conversion.Assessment") -> None:
    why = job.results[0].why
    assert why.key == "why.share" and why.values["where"].key == "why.beyond_edge"
    assert 0.0 < why.values["share"] < why.values["share_old"] < 1.0
    assert job.old.why.values["share"] == why.values["share_old"]


def test_a_claim_beyond_the_efficacy_of_radiation_is_impossible() -> None:
    old = lk.sources.filament("R5W")
    liar = lk.sources.coloured_led("red", luminous_flux=900.0, electrical_power=2.0, name="liar")
    fair = lk.sources.coloured_led("red", luminous_flux=100.0, electrical_power=2.0, name="fair")
    job = lk.conversion.assess(old, [liar, fair], lk.lenses.load("red"))
    impossible, believed = (r.claim_statement for r in job.results)
    assert [r.claim for r in job.results] == [
        Claim.IMPOSSIBLE,
        Claim.BELIEVED,
    ]
    assert impossible is not None and impossible.values["most"] < 900.0
    assert believed is not None and believed.values["share"] < BELIEVABLE_POWER_SHARE
    assert job.old.claim is Claim.UNCHECKED and job.old.claim_statement is None
    told, other = (answer.how_sure(r, r.chance) for r in job.results)
    assert told == "impossible" and other == numbers.chance(job.results[1].chance), "no chance follows from a false box"
    read = replace(job.results[0], ground=Ground.READ)
    assert answer.how_sure(read, read.chance) == numbers.chance(read.chance), "what was read needs no box"


def test_no_function_no_comparison() -> None:
    old = lk.sources.filament("W2.3W")
    led = lk.sources.coloured_led("green", luminous_flux=10.0)
    for function in (None, "tell-tale"):
        job = lk.conversion.assess(old, [led], lk.lenses.load("green"), function=function)
        assert job.results[0].colour is None
        assert np.isnan(job.results[0].share_inside)


def test_us_rear_turn_takes_the_colour_of_the_lens() -> None:
    old = lk.sources.filament("1156", voltage=12.8)
    led = lk.sources.coloured_led("red", luminous_flux=100.0)
    for colour_name in ("red", "amber"):
        job = lk.conversion.assess(old, [led], lk.lenses.load(colour_name), function="rear turn", rules="US")
        assert job.colour_limit is not None
        assert job.colour_limit.colour == colour_name


def test_two_things_of_one_name_are_refused(job: "lk.conversion.Assessment") -> None:
    with pytest.raises(InputError, match="names two things"):
        lk.conversion.assess(job.old.source, [job.old.source], job.lens)


def test_unknown_function_suggests_the_nearest(job: "lk.conversion.Assessment") -> None:
    with pytest.raises(InputError, match="stop"):
        lk.conversion.assess(job.old.source, [], job.lens, function="stopp")


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0.5449, 2, "0.54"),
        (123.4, 2, "120"),
        (0.00312, 2, "0.0031"),
        (0.0, 2, "0"),
        (9.96, 2, "10"),
        (np.inf, 2, "unbounded"),
    ],
)
def test_figures_are_rounded_to_what_is_known(value: float, digits: int, text: str) -> None:
    assert numbers.figure(value, digits) == text


def test_an_interval_is_written_to_one_last_digit() -> None:
    assert numbers.interval([0.3123, 0.5449, 0.9211]) == "0.54 (0.31 to 0.92)"
    assert numbers.interval([31.2, 54.6, 92.1]) == "55 (31 to 92)"
    assert numbers.interval([0.9999, 1.0, 1.0001]) == "1.00 (1.00 to 1.00)"
    assert numbers.interval([0.0212, 0.0351, 0.0512]) == "0.035 (0.021 to 0.051)"


def test_table_has_a_unit_in_each_heading(job: "lk.conversion.Assessment") -> None:
    table = job.table()
    assert len(table) == 3
    for heading in table.columns:
        assert "[" in heading or heading in ("light source", "colour", "share inside", "x", "y")


def test_a_source_that_no_light_gets_through_is_named(tmp_path: Path) -> None:
    curve = tmp_path / "glass.csv"
    steps = [f"{nm},{0.9 if nm >= 700 else 0.0}" for nm in range(360, 831)]
    curve.write_text("\n".join(["wavelength_nm,transmittance", *steps]))
    glass = lk.lenses.read(curve, colour="red")
    narrow = lk.sources.coloured_led(peak=400, fwhm=3, luminous_flux=10, name="violet")
    dark = lk.sources.measured_source((lk.grid.WAVELENGTHS < 500) * 1.0, luminous_flux=10, name="violet")
    for violet in (narrow, dark):
        with pytest.raises(InputError, match="My lamp: 'glass' lets no light of 'violet' through") as refused:
            lk.conversion.assess(lk.sources.filament("P21W"), [violet], glass, name="My lamp", draws=100)
        assert "candidates" in str(refused.value)


def test_an_american_parking_lamp_may_be_amber_behind_its_clear_lens() -> None:
    old, clear = lk.sources.filament("P21/5W", part="minor"), lk.lenses.load("clear")
    amber, white = lk.sources.coloured_led("amber", luminous_flux=60), lk.sources.white_led(4000, luminous_flux=60)
    parking = lk.conversion.assess(old, [amber, white], clear, function="front position", rules="US", draws=200)
    assert [None if r.other_limit is None else r.other_limit.name for r in parking.results] == ["US amber", None]
    assert parking.colour_limit is not None and parking.colour_limit.name == "US white"
    assert parking.results[0].colour is not None and parking.results[0].colour.inside
    european = lk.conversion.assess(old, [amber], clear, function="front position", rules="UN", draws=200)
    assert european.results[0].other_limit is None and not european.results[0].colour.inside  # type: ignore[union-attr]


def test_the_advice_follows_what_is_unsure() -> None:
    """A claim that is sure and a colour that is not: look, as no reading in lux settles a colour."""
    sure = {"true_over_claimed": (0.95, 1.05), "hot_over_cold": (0.9, 1.0)}
    amber = lk.sources.coloured_led(peak=596.0, luminous_flux=2000, name="deep amber", **sure)
    lens = lk.lenses.load("amber")
    old = lk.sources.filament("P21W")
    found = lk.conversion.suggest(lk.conversion.assess(old, [amber], lens, function="rear turn", draws=1000))
    assert found.result is not None and found.result.probability > 0.97 and found.result.share_inside < 0.9
    assert found.statement.key == "suggestion.fit_then_check"
    assert found.statement.values["look"] and not found.statement.values["measure"]
    weak = lk.sources.white_led(2800, luminous_flux=600, name="weak")
    stop = lk.conversion.suggest(lk.conversion.assess(old, [weak], lk.lenses.load("clear"), draws=1000))
    assert stop.statement.key == "suggestion.fit_then_check"
    assert stop.statement.values["measure"] and not stop.statement.values["look"]


def test_a_colour_of_ones_own_wins_between_near_equals() -> None:
    old, lens = lk.sources.filament("P21W"), lk.lenses.load("red")
    red = lk.sources.coloured_led("red", luminous_flux=260, name="red", true_over_claimed=(0.7, 1.0))
    white = lk.sources.white_led(3000, luminous_flux=900, name="white", true_over_claimed=(0.9, 1.1))
    assessment = lk.conversion.assess(old, [white, red], lens, function="stop", draws=1000)
    assert lk.conversion.suggestion.has_own_colour(assessment, assessment.results[1])
    assert not lk.conversion.suggestion.has_own_colour(assessment, assessment.results[0])
    chosen = lk.conversion.suggest(assessment).result
    assert chosen is not None and chosen.source.name == "red"


def test_a_tell_tale_is_no_floodlight_and_no_deep_blue() -> None:
    old, lens = lk.sources.filament("T4W"), lk.lenses.load("blue")
    blue = lk.sources.coloured_led("blue", luminous_flux=6, name="blue")
    white = lk.sources.white_led(6000, luminous_flux=22, name="white")
    bright = lk.sources.white_led(6000, luminous_flux=90, name="bright")
    assessment = lk.conversion.assess(old, [blue, bright, white], lens, function="tell-tale", rules=None, draws=1000)
    chosen = lk.conversion.suggest(assessment).result
    assert chosen is not None and chosen.source.name == "white"
    alone = lk.conversion.suggest(
        lk.conversion.assess(old, [bright], lens, function="tell-tale", rules=None, draws=1000)
    )
    assert alone.verdict is lk.conversion.suggestion.Verdict.FIT_THEN_MEASURE
    assert alone.statement.key == "suggestion.bright_tell_tale"


def test_more_watts_than_a_base_sheds_are_doubted() -> None:
    def claim(watts: float, base: str | None) -> Claim:
        source = lk.sources.white_led(4000, luminous_flux=80.0 * watts, electrical_power=watts, base=base)
        found = lk.conversion.assess(lk.sources.filament("P21W"), [source], lk.lenses.load("clear"), draws=100)
        return found.results[0].claim

    assert claim(7.0, "BA15s") is claim(1.5, "BA9s") is Claim.TOO_WARM
    assert claim(4.0, "BA15s") is claim(0.8, "BA9s") is claim(7.0, None) is Claim.BELIEVED


@pytest.mark.parametrize("colour_of_lens", ["red", "amber", "clear", "green", "blue"])
def test_a_part_of_the_wavelengths_is_enough_for_the_draws(colour_of_lens: str) -> None:
    """Against all wavelengths, draw by draw, LEDs of 12 nm among them: 1 in 10 000 of light behind the lens beside 1
    in 50 000 of that before it, and 2 in 10 000 in x and y; twice that with every belief two spreads out."""
    sources = [lk.sources.coloured_led(c, luminous_flux=100.0) for c in lk.sources.leds.colours()]
    sources += [lk.sources.coloured_led(peak=nm, fwhm=12.0, luminous_flux=100.0) for nm in (465, 525, 595, 630, 655)]
    sources += [lk.sources.white_led(kelvin, luminous_flux=400.0) for kelvin in (2700.0, 4000.0, 8000.0)]
    sources += [lk.sources.filament(lamp, voltage=13.5) for lamp in ("P21W", "PY21W", "R5W")]

    def drawn(beliefs: tuple[lk.uncertainty.Belief, ...], seed: int) -> dict[str, np.ndarray]:
        rng = np.random.default_rng(seed)
        corners = ((rng.normal(size=500), rng.choice([-2.0, 2.0], 200) + rng.normal(0.0, 0.1, 200)) for _ in beliefs)
        return {b.name: b.value(np.concatenate(z)) for b, z in zip(beliefs, corners, strict=True)}

    bound = np.repeat([1.0, 2.0], [500, 200])
    for material in ("plastic", "old glass"):
        lens = lk.lenses.load(colour_of_lens, material=material)
        through = drawn(lens.beliefs, 3)
        values = {source.name: drawn(source.beliefs, 4) for source in sources}
        lights = {s.name: (s.model, values[s.name]) for s in sources}
        some = behind_lens.behind_lens(lights, (lens.model, through), 700)
        tau = lk.lenses.transmittances(lens, through)
        for source in sources:
            light = lk.sources.light_source.relative_spectra(source, values[source.name])
            full = ((tau * light) @ lk.light.colorimetry.observer() * 683.002).T
            missed = np.abs(some[source.name][1] - full[1]) / (1e-4 * full[1] + 2e-5)
            assert np.all(missed < bound), (lens.name, source.name)
            x, y = (lk.light.colorimetry.chromaticity_of(found.T) for found in (full, some[source.name]))
            assert np.all(np.abs(x - y).max(axis=-1) < 2e-4 * bound), (lens.name, source.name)


@pytest.mark.parametrize(
    ("colour_of_lens", "source", "seed"),
    [
        ("red", lk.sources.coloured_led(peak=630.0, fwhm=12.0, luminous_flux=100.0, name="630"), 738832),
        ("red", lk.sources.coloured_led(peak=630.0, fwhm=12.0, luminous_flux=100.0, name="630"), 875082),
        ("blue", lk.sources.white_led(2274.47, luminous_flux=400.0), 97561),
    ],
)
def test_the_garages_farthest_out_decide_how_many_wavelengths_are_enough(
    colour_of_lens: str, source: lk.sources.LightSource, seed: int
) -> None:
    """As above, where the first garages alone let one in some thousands miss it three to six times over."""
    lens = lk.lenses.load(colour_of_lens, material="old glass")
    garage = lk.uncertainty.draw({lens.name: lens.beliefs, source.name: source.beliefs}, 3000, seed)
    through, values = garage.of(lens.name), garage.of(source.name)
    some = behind_lens.behind_lens({"light": (source.model, values)}, (lens.model, through), 3000)["light"]
    light = lk.sources.light_source.relative_spectra(source, values)
    full = ((lk.lenses.transmittances(lens, through) * light) @ lk.light.colorimetry.observer() * 683.002).T
    assert np.all(np.abs(some[1] - full[1]) < 1e-4 * full[1] + 2e-5)
    assert lk.light.colorimetry.chromaticity_of(some.T) == pytest.approx(
        lk.light.colorimetry.chromaticity_of(full.T), abs=2e-4
    )


@pytest.mark.parametrize(
    "lens",
    [
        lk.lenses.stack(lk.lenses.load("red"), lk.lenses.neutral(0.8, name="haze")),
        lk.lenses.thicker(lk.lenses.load("amber"), 1.5),
        lk.lenses.from_measured("red", luminous_transmittance=0.2),
    ],
    ids=repr,
)
def test_a_lens_that_was_changed_or_measured_is_added_up_as_its_transmittances_are(lens: lk.lenses.Lens) -> None:
    source = lk.sources.white_led(4000.0, luminous_flux=400.0)
    garage = lk.uncertainty.draw({lens.name: lens.beliefs, source.name: source.beliefs}, 2500, 1)
    values = garage.of(source.name)
    some = behind_lens.behind_lens({"white": (source.model, values)}, (lens.model, garage.of(lens.name)), 2500)["white"]
    tau = lk.lenses.transmittances(lens, garage.of(lens.name))
    full = lk.light.luminous_transmittance(tau, source.model(values))
    assert some[1] == pytest.approx(full, rel=1e-4)


def test_a_light_of_lines_is_added_up_in_full() -> None:
    lines = np.where(np.isin(lk.grid.WAVELENGTHS, [436, 546, 611]), 1.0, 0.0)
    lamp = lk.sources.measured_source(lines, luminous_flux=300.0, name="lines")
    old, lens = lk.sources.filament("P21W"), lk.lenses.load("red")
    found = lk.conversion.assess(old, [lamp], lens, function="stop", draws=50)
    through = lk.lenses.transmittances(lens, found.garage.of(lens.name))
    expected = lk.light.luminous_transmittance(through, lines)
    assert found.results[0].draws["transmittance"] == pytest.approx(expected, rel=1e-9)


def test_a_lamp_is_the_same_whether_its_wavelengths_are_added_up_in_part_or_in_full(monkeypatch) -> None:
    old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    lens = lk.lenses.load("red")
    some = lk.conversion.assess(old, [red], lens, function="stop", draws=300)
    monkeypatch.setattr(behind_lens, "SAME", 0.0)
    full = lk.conversion.assess(old, [red], lens, function="stop", draws=300)
    for a, b in zip((some.old, *some.results), (full.old, *full.results), strict=True):
        assert a.draws["transmittance"] == pytest.approx(b.draws["transmittance"], rel=2e-4)
        assert a.draws["x"] == pytest.approx(b.draws["x"], abs=2e-4)


def test_one_table_of_all_pairs_agrees_with_each_pair_alone() -> None:
    rng = np.random.default_rng(5)
    lights, lenses = rng.uniform(0, 1, (130, 471)), rng.uniform(0, 1, (3, 471))
    table = lk.light.through_lenses(lights, lenses)
    for i, j in ((0, 0), (63, 2), (64, 1), (129, 2)):
        assert table[i, j] == pytest.approx(lk.light.colorimetry.tristimulus(lights[i] * lenses[j]), rel=1e-12)
    with pytest.raises(InputError, match="no tables"):
        lk.light.through_lenses(lights[0], lenses)


def test_a_ratio_that_was_read_takes_the_place_of_the_predicted_one() -> None:
    old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    job = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="stop", draws=400)
    (predicted,) = job.results

    def read(ratio: float, of: lk.conversion.Assessment = job) -> Result:
        return assessment.with_ratio(of, of.results[0], np.full(400, ratio), Ground.READ)

    as_much, less, half = read(1.0), read(0.999), read(0.5)
    assert (as_much.probability, less.probability) == pytest.approx((1.0, 0.0)), (
        "as much is enough, and a little less is not"
    )
    assert (as_much.chance, less.chance) == pytest.approx((predicted.share_inside, 0.0)), "its colour was not read"
    assert as_much.lumens_to_buy == pytest.approx(110.0), "what gives as much is what stands on its box"
    assert half.lumens_to_buy == pytest.approx(2.0 * as_much.lumens_to_buy)
    assert half.ratio.tolist() == [0.5] * 3 and half.ground is Ground.READ and half.k is predicted.k
    tell_tale = lk.conversion.assess(old, [red], lk.lenses.load("red"), function="tell-tale", draws=400)
    assert (read(0.5, tell_tale).chance, read(0.499, tell_tale).chance) == pytest.approx((1.0, 0.0)), (
        "half is enough, an assumption"
    )


def test_the_answer_stands_first_where_there_is_something_to_choose() -> None:
    old, red = lk.sources.filament("P21W"), lk.sources.coloured_led("red", luminous_flux=110)
    told = [lk.conversion.assess(old, offered, lk.lenses.load("red"), draws=100) for offered in ([red], [])]
    assert [one._repr_html_().startswith("<p><b>") for one in told] == [True, False]


def test_the_edge_that_is_told_is_the_one_that_readings_taught() -> None:
    """Half of the plateau is passed at the edge wavelength: here 625 nm in each garage, not the usual 598 nm."""
    old, red, lens = (
        lk.sources.filament("P21W"),
        lk.sources.coloured_led("red", luminous_flux=110),
        lk.lenses.load("red"),
    )
    garage = sampling.draw({one.name: one.beliefs for one in (lens, old, red)}, 400, 1)
    learnt = {**garage.values, (lens.name, "edge wavelength"): np.full(400, 625.0)}
    job = lk.conversion.assess(old, [red], lens, garage=replace(garage, values=learnt))
    assert job.results[0].why.values["where"].values["edge"] == pytest.approx(625.0, abs=0.5)
