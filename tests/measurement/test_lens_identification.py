"""Know your lens: simulated logs whose truth is known, and logs that teach nothing or do not fit together."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from reference import learnt_lens

import lampkit as lk
from lampkit.errors import InputError
from lampkit.lenses.coloured_lens import Lens
from lampkit.measurement import lens_identification, measurement_model
from lampkit.measurement.illuminance_log import IlluminanceLog
from lampkit.measurement.lens_identification import Knowledge
from lampkit.sources.light_source import LightSource
from lampkit.statements import Statement

FILAMENT = lk.sources.filament("P21W", voltage=13.5, name="filament")
CLAIMS = {"red": 100.0, "amber": 83.0, "green": 121.0}
LEDS = {c: lk.sources.coloured_led(c, luminous_flux=lm, name=f"{c} LED") for c, lm in CLAIMS.items()}
SOURCES: dict[str, LightSource] = {"filament": FILAMENT, **LEDS}
PHOTOPIC = lk.measurement.meters.measured_meter("photopic", lk.light.luminous_efficiency())
B5 = lk.sources.measured_source(lk.light.illuminant("LED-B5"), luminous_flux=100, name="LED-B5")
WHITE = lk.sources.white_led(6000, luminous_flux=400)
RED, AMBER = lk.lenses.load("red"), lk.lenses.load("amber")


def tau(lens: Lens, truth: Mapping[str, float], source: LightSource) -> float:
    """Luminous transmittance of the true lens, the source as typical and warm."""
    light = lk.sources.light_source.warm_spectrum(source)
    return float(lk.light.luminous_transmittance(lk.lenses.transmittances(lens, truth), light))


def read(
    folder: Path,
    lens: Lens,
    truth: Mapping[str, float],
    names: tuple[str, ...],
    *,
    states: tuple[str, ...] = ("removed", "fitted"),
    slip: Mapping[tuple[str, str], float] = {},
    background: float = 0.4,
) -> IlluminanceLog:
    """Write what a faultless meter would show half a metre from a lamp of 0.5 cd for each lumen."""
    lines = ["lamp,source,state,illuminance_lx,distance_m,lens", f"stop,,off,{background},0.5,"]
    for name in names:
        source = SOURCES[name]
        for state in states:
            share = tau(lens, truth, source) if state == "fitted" else 1.0
            lux = source.luminous_flux * 0.5 * share * slip.get((name, state), 1.0) / 0.5**2 + background
            lines.append(f"stop,{name},on,{lux:.1f},0.5,{state}")
        lines.append(f"stop,,off,{background},0.5,")
    path = folder / "log.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return lk.measurement.load_log(path)


def edge(knowledge: Knowledge, name: str = "edge wavelength") -> np.ndarray:
    return lk.uncertainty.interval(knowledge.garage.of(knowledge.lens.name)[name], knowledge.garage.weights)


def told(knowledge: Knowledge) -> dict[str, Statement]:
    """The remarks by their keys, without the name of the folder."""
    return {r.key.removeprefix("lens_identification."): r for r in knowledge.remarks if isinstance(r, Statement)}


@pytest.mark.parametrize("true", [590.0, 598.0, 607.0, 614.0])
def test_a_known_red_edge_is_found(tmp_path: Path, true: float) -> None:
    log = read(tmp_path, RED, {"edge wavelength": true}, ("filament", "red", "amber"))
    knowledge = lens_identification.learn_lens(log, RED, SOURCES)
    low, middle, high = edge(knowledge)
    assert low < true < high
    assert abs(middle - true) < 4.0  # where handling leaves about 3 nm, a faultless log must come this near
    assert high - low < 0.6 * np.diff(edge(lens_identification.believed_lens(RED))[[0, 2]])[0]


@pytest.mark.parametrize("true", [540.0, 548.0, 556.0])
def test_a_known_amber_edge_is_found_with_a_green_led(tmp_path: Path, true: float) -> None:
    log = read(tmp_path, AMBER, {"edge wavelength": true}, ("filament", "amber", "green"))
    low, middle, high = edge(lens_identification.learn_lens(log, AMBER, SOURCES))
    assert low < true < high
    assert abs(middle - true) < 5.0


def test_the_strength_of_a_green_dye_is_found(tmp_path: Path) -> None:
    green = lk.lenses.load("green")
    log = read(tmp_path, green, {"dye strength": 1.4}, ("filament", "green", "red"))
    for meter, bend in ((PHOTOPIC, 0.025), (None, 0.04)):
        knowledge = lens_identification.learn_lens(log, green, SOURCES, meter=meter)
        low, middle, high = edge(knowledge, "dye strength")
        assert low < 1.4 < high
        left = lens_identification.spread_left(knowledge, green.name, "dye strength")
        assert left < 0.5
        # Bayes' rule for normal errors: a faultless reading that leaves the share r of the spread draws the median
        # 1 - r^2 of the way from what was believed. The rest is bend, of lens and limits, 1.7 spreads away from the
        # middle, and a phone that is believed to be no faultless meter; 0.2 / sqrt(garages) is what draws add.
        drawn = 3 * 1.25 * 0.2 * left / np.sqrt(knowledge.effective)
        assert np.log(middle) == pytest.approx((1 - left**2) * np.log(1.4), abs=bend + drawn)


def test_a_filament_read_on_a_resting_battery_is_known_to_be_redder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 12.2 V its light passes red better: with that noted the edge is the same, with it denied not."""
    dim = lk.sources.filament("P21W", voltage=12.2, name="filament")
    found = {}
    for case, true, noted in (("running", 13.5, 13.5), ("resting", 12.2, 12.2), ("denied", 12.2, 13.5)):
        with monkeypatch.context() as patch:
            if true == 12.2:
                patch.setitem(SOURCES, "filament", dim)
            read(tmp_path, RED, {"edge wavelength": 602.0}, ("filament", "red"))
        heading, *lines = (tmp_path / "log.csv").read_text(encoding="utf-8").splitlines()
        told = [f"{line},{noted if ',filament,' in line else 13.5 if ',on,' in line else ''}" for line in lines]
        log = lk.measurement.read_log("\n".join([f"{heading},supply_V", *told]))
        knowledge = lens_identification.learn_lens(log, RED, SOURCES, meter=PHOTOPIC, pattern=measurement_model.PLAIN)
        found[case] = edge(knowledge)[1]
    assert found["resting"] == pytest.approx(found["running"], abs=0.3)
    assert found["denied"] < found["running"] - 0.5


def test_a_clear_lens_has_nothing_to_learn(tmp_path: Path) -> None:
    clear = lk.lenses.load("clear")
    knowledge = lens_identification.learn_lens(read(tmp_path, clear, {}, ("filament", "red")), clear, SOURCES)
    assert "clear" in told(knowledge)
    low, _, high = learnt_lens.k(knowledge, WHITE, FILAMENT)
    np.testing.assert_allclose([low, high], 1.0, atol=0.01)


def test_k_holds_the_truth_and_narrows(tmp_path: Path) -> None:
    truth = {"edge wavelength": 606.0}
    log = read(tmp_path, RED, truth, ("filament", "red", "amber"))
    prior, posterior = lens_identification.believed_lens(RED), lens_identification.learn_lens(log, RED, SOURCES)
    for new in (LEDS["red"], WHITE):
        low, _, high = learnt_lens.k(posterior, new, FILAMENT)
        assert low < tau(RED, truth, new) / tau(RED, truth, FILAMENT) < high
    # of a white LED that was not read, the spread between makes is the larger part, and stays
    before, after = (learnt_lens.k(known, LEDS["red"], FILAMENT) for known in (prior, posterior))
    assert after[2] - after[0] < 0.75 * (before[2] - before[0])


def test_of_an_emitter_whose_spectrum_is_known_k_narrows_most(tmp_path: Path) -> None:
    log = read(tmp_path, RED, {"edge wavelength": 606.0}, ("filament", "red", "amber"))
    before, after = (
        learnt_lens.k(kn, B5, FILAMENT)
        for kn in (lens_identification.believed_lens(RED), lens_identification.learn_lens(log, RED, SOURCES))
    )
    assert after[2] - after[0] < 0.6 * (before[2] - before[0])


def test_the_prediction_profits_from_the_readings(tmp_path: Path) -> None:
    log = read(tmp_path, RED, {"edge wavelength": 606.0}, ("filament", "red", "amber"))
    knowledge = lens_identification.learn_lens(log, RED, SOURCES)
    candidates = [B5, LEDS["red"]]
    plain = lk.conversion.assess(FILAMENT, candidates, RED)
    informed = lk.conversion.assess(FILAMENT, candidates, RED, garage=knowledge.garage)
    for before, after in zip(plain.results, informed.results, strict=True):
        assert after.k[2] - after.k[0] < before.k[2] - before.k[0]
    np.testing.assert_allclose(informed.results[0].k, learnt_lens.k(knowledge, B5, FILAMENT), rtol=1e-5)
    # the claim of the red LED was itself tested by its reading without the lens
    np.testing.assert_array_equal(informed.garage.weights, knowledge.garage.weights)


def test_the_width_is_said_not_to_be_learnt(tmp_path: Path) -> None:
    knowledge = lens_identification.learn_lens(read(tmp_path, RED, {}, ("filament", "red", "amber")), RED, SOURCES)
    not_learnt = told(knowledge)["not_learnt"].values["quantities"]
    assert "edge width" in not_learnt and "edge wavelength" not in not_learnt
    table = knowledge.table().set_index(["of", "quantity"])
    assert table.loc[(RED.name, "edge width [nm]"), "learnt"].startswith("no")
    assert table.loc[(RED.name, "edge wavelength [nm]"), "learnt"] == "yes"


def test_the_table_shows_lumens_beam_and_lamp(tmp_path: Path) -> None:
    bare = {("red", "removed"): 0.4, ("red", "fitted"): 0.4}
    log = read(tmp_path, RED, {}, ("filament", "red"), slip=bare)
    knowledge = lens_identification.learn_lens(log, RED, SOURCES, meter=PHOTOPIC)
    rows = set(knowledge.table()[["of", "quantity"]].itertuples(index=False, name=None))
    assert ("red LED", "true over claimed lumens [1]") in rows
    assert ("red LED in stop", "beam ratio [1]") in rows
    assert ("lamp stop", "intensity by flux [cd/lm]") in rows
    assert "<table" in knowledge._repr_html_()
    # An LED that shows 0.4 of what its box says pulls down all that may be to blame, each by its share of the variance
    # (Bayes' rule for normal errors).
    parts = [("red LED", "true over claimed lumens"), ("red LED", "hot over cold light")]
    parts += [("red LED in stop", "beam ratio")]
    lamp = [("filament", "true over claimed lumens"), ("filament", "light past the blackened bulb")]
    logs = {key: np.log(knowledge.before.values[key]) for key in parts + lamp}
    expected = sum(logs[key].mean() for key in parts) - sum(logs[key].mean() for key in lamp)
    variance = sum(logs[key].var() for key in parts + lamp) + 2 * 0.03**2  # and handling, 3 % for each reading
    for key in parts:
        after = np.average(np.log(knowledge.garage.values[key]), weights=knowledge.garage.weights)
        share = logs[key].var() / variance
        drawn = 3 * np.sqrt(logs[key].var() / knowledge.effective)
        assert after - logs[key].mean() == pytest.approx(share * (np.log(0.4) - expected), abs=0.01 + drawn), key


def test_same_seed_same_numbers_to_the_bit(tmp_path: Path) -> None:
    log = read(tmp_path, RED, {}, ("filament", "amber"))
    once, again, other = (lens_identification.learn_lens(log, RED, SOURCES, draws=600, seed=s) for s in (3, 3, 4))
    assert once.garage.weights.tobytes() == again.garage.weights.tobytes()
    assert all(v.tobytes() == again.garage.values[key].tobytes() for key, v in once.garage.values.items())
    assert once.garage.weights.tobytes() != other.garage.weights.tobytes()


def test_blocks_change_nothing(tmp_path: Path) -> None:
    held = {RED.name: RED.beliefs, "meter": lk.measurement.phone().beliefs, "red LED": LEDS["red"].beliefs}
    values = lk.uncertainty.draw(held, 600, 1).values
    groups = [("stop", "red", True), ("stop", "red", False)]
    whole = measurement_model.predicted(groups, RED, SOURCES, lk.measurement.phone(), values)
    last = measurement_model.predicted(
        groups, RED, SOURCES, lk.measurement.phone(), {k: v[-50:] for k, v in values.items()}
    )
    np.testing.assert_allclose(whole[-50:], last, rtol=1e-9)


def test_the_typical_reading_is_what_photometry_says() -> None:
    """A photopic meter shows the logarithm of flux times transmittance, a candela a lumen, to 0.2 %."""
    photopic = lk.measurement.meters.measured_meter("photopic", lk.light.luminous_efficiency())
    held = {RED.name: RED.beliefs, "meter": photopic.beliefs, "red LED": LEDS["red"].beliefs}
    values = {(o, b.name): np.array([b.typical]) for o, listed in held.items() for b in listed}
    shown = measurement_model.predicted([("stop", "red", True)], RED, SOURCES, photopic, values)
    claim = values["red LED", "true over claimed lumens"][0] * values["red LED", "hot over cold light"][0]
    np.testing.assert_allclose(np.exp(shown), 100.0 * claim * tau(RED, {}, LEDS["red"]), rtol=2e-3)


@pytest.mark.parametrize("colour", ["red", "amber"])
def test_the_pattern_of_a_lens_taken_off_does_not_deceive(tmp_path: Path, colour: str) -> None:
    """Prisms that halve or double the light on the axis, for every source alike, are not taken for the dye."""
    lens = lk.lenses.load(colour)
    names = ("filament", "red", "amber") if colour == "red" else ("filament", "amber", "green")
    for factor in (0.5, 2.0):
        bent = {(name, "fitted"): factor for name in names}
        log = read(tmp_path, lens, {}, names, slip=bent)
        low, _, high = edge(lens_identification.learn_lens(log, lens, SOURCES))
        assert low < lens.beliefs[0].typical < high
        owner = lens_identification.learn_lens(log, lens, SOURCES).garage
        limits = lk.uncertainty.interval(owner.of("lamp stop")["pattern of the lens"], owner.weights)
        assert limits[0] < factor < limits[2]


def test_a_plain_lens_is_learnt_better(tmp_path: Path) -> None:
    log = read(tmp_path, RED, {}, ("filament",))
    taken_off, plain = (
        lens_identification.spread_left(
            lens_identification.learn_lens(log, RED, SOURCES, pattern=p), RED.name, "edge wavelength"
        )
        for p in (measurement_model.PATTERNED, measurement_model.PLAIN)
    )
    assert plain < 0.9 < taken_off  # of a patterned lens a single source tells next to nothing


def test_a_gross_slip_is_noticed(tmp_path: Path) -> None:
    fine = lens_identification.learn_lens(read(tmp_path, RED, {}, ("filament", "red", "amber")), RED, SOURCES)
    assert "misfit" not in told(fine)
    slip = read(tmp_path, RED, {}, ("filament", "red", "amber"), slip={("red", "fitted"): 0.1})
    slipped = lens_identification.learn_lens(slip, RED, SOURCES)
    assert told(slipped)["misfit"].values["misfit"] == slipped.misfit > 10 * fine.misfit
    assert slipped.strained[0] and slipped.strained[1] in str(told(slipped)["misfit"])


def test_readings_through_the_lens_alone_teach_less_and_say_so(tmp_path: Path) -> None:
    log = read(tmp_path, RED, {}, ("filament", "red", "amber"), states=("fitted",))
    knowledge = lens_identification.learn_lens(log, RED, SOURCES)
    assert "never_both" in told(knowledge)
    both = lens_identification.learn_lens(read(tmp_path, RED, {}, ("filament", "red", "amber")), RED, SOURCES)
    assert "never_both" not in told(both)
    left, left_of_both = (
        lens_identification.spread_left(one, RED.name, "edge wavelength") for one in (knowledge, both)
    )
    assert left > left_of_both + 0.05


def test_a_pair_of_emitters_at_every_lens_but_no_reading_is_the_belief() -> None:
    knowledge = lens_identification.believed_lens(RED, [FILAMENT], draws=300, seed=9)
    prior = lk.uncertainty.draw({RED.name: RED.beliefs}, 300, 9)
    assert knowledge.garage.of(RED.name)["edge wavelength"].tobytes() == prior.of(RED.name)["edge wavelength"].tobytes()
    assert np.ptp(knowledge.garage.weights) == 0.0
    empty = lens_identification.learn_lens(IlluminanceLog(Path("none.csv"), (), ()), RED, SOURCES, draws=300, seed=9)
    assert empty.readings == 0
    assert list(told(empty)) == ["nothing_read"]
    assert lens_identification.spread_left(knowledge, RED.name, "edge wavelength") == pytest.approx(1.0)


@pytest.mark.parametrize(("lens", "telling"), [(RED, "amber LED"), (AMBER, "green LED")])
def test_an_led_on_the_edge_is_the_first_to_read(tmp_path: Path, lens: Lens, telling: str) -> None:
    """The rule of thumb that a narrow emitter on the slope says most; far below the edge nothing is left to read."""
    probes = [*LEDS.values(), FILAMENT, WHITE]
    ranked = lens_identification.next_reading(lens_identification.believed_lens(lens), probes)
    assert ranked["probe"][0] == telling
    information = ranked.set_index("probe")["information [bit]"]
    # How much less is not published; an amber die of 588 nm to 601 nm tells less than one that is known.
    assert information["red LED"] < 0.6 * information[telling]
    after = lens_identification.learn_lens(
        read(tmp_path, lens, {}, ("filament", telling.removesuffix(" LED"))), lens, SOURCES
    )
    again = lens_identification.next_reading(after, probes).set_index("probe")["information [bit]"]
    assert again[telling] < information[telling]


def test_what_a_probe_promises_it_keeps(tmp_path: Path) -> None:
    """The spread that the ranking expects to be left is about what the reading then leaves."""
    promised = lens_identification.next_reading(lens_identification.believed_lens(RED), [LEDS["amber"]], error=0.04)
    log = read(tmp_path, RED, {}, ("amber",))
    kept = lens_identification.spread_left(
        lens_identification.learn_lens(log, RED, SOURCES, pattern=measurement_model.PLAIN), RED.name, "edge wavelength"
    )
    assert kept == pytest.approx(promised.iloc[0, 2] / 100.0, abs=0.2)


def test_probes_that_make_no_sense_are_refused() -> None:
    knowledge = lens_identification.believed_lens(RED, draws=200)
    with pytest.raises(InputError, match="no light source"):
        lens_identification.next_reading(knowledge, [])
    with pytest.raises(InputError, match="error"):
        lens_identification.next_reading(knowledge, [WHITE], error=0.0)
    known = lk.lenses.coloured_lens.of_model(
        "known",
        "red",
        RED.model,
        [lk.uncertainty.Belief(b.name, b.typical, 0.0, b.unit, "given") for b in RED.beliefs],
        None,
    )
    with pytest.raises(InputError, match="uncertain"):
        lens_identification.next_reading(lens_identification.believed_lens(known, draws=200), [WHITE])


def test_an_unknown_source_is_told_with_its_line(tmp_path: Path) -> None:
    log = read(tmp_path, RED, {}, ("filament", "amber"))
    with pytest.raises(InputError) as caught:
        lens_identification.learn_lens(log, RED, {"filament": FILAMENT, "ambre": LEDS["amber"]})
    sentence = str(caught.value)
    assert "log.csv, line 6" in sentence
    assert "'amber' is not described" in sentence
    assert "'ambre'" in sentence
    assert sentence.count("\n") == 0


def test_light_below_the_background_is_refused(tmp_path: Path) -> None:
    dark = {("amber", "fitted"): 3e-3}
    log = read(tmp_path, RED, {}, ("filament", "amber"), slip=dark, background=30.0)
    with pytest.raises(InputError, match="told from the background"):
        lens_identification.learn_lens(log, RED, SOURCES)


def test_two_things_of_one_name_are_refused(tmp_path: Path) -> None:
    log = read(tmp_path, RED, {}, ("filament", "red"))
    twin = lk.sources.coloured_led("red", luminous_flux=50, name="filament")
    with pytest.raises(InputError, match="names two things"):
        lens_identification.learn_lens(log, RED, {"filament": FILAMENT, "red": twin})


def test_an_unknown_quantity_is_refused() -> None:
    with pytest.raises(InputError, match="edge wavelength"):
        lens_identification.spread_left(lens_identification.believed_lens(RED, draws=100), RED.name, "edge")


def test_room_is_left_only_where_the_model_leaves_something_out() -> None:
    assert measurement_model.left_out(FILAMENT, RED, measurement_model.PLAIN) == 0.0
    assert measurement_model.left_out(LEDS["red"], lk.lenses.load("clear"), measurement_model.PLAIN) == 0.0
    bent = measurement_model.left_out(LEDS["red"], RED, measurement_model.PATTERNED)
    flat = measurement_model.left_out(LEDS["red"], RED, measurement_model.PLAIN)
    assert bent**2 == pytest.approx(
        flat**2 + measurement_model.left_out(FILAMENT, RED, measurement_model.PATTERNED) ** 2
    )
