"""The fair ratio and its intervals; how often they hold the truth is counted in a study of its own."""

import csv
import dataclasses
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import lampkit as lk
from lampkit import grid
from lampkit.errors import InputError
from lampkit.measurement import colour_response, fair_ratio, illuminance_log, meters
from lampkit.measurement.colour_response import mismatch_correction
from lampkit.measurement.fair_ratio import Comparison, LightAnswer
from lampkit.sources import light_source
from lampkit.statements import Statement
from lampkit.uncertainty import budget
from lampkit.uncertainty.sampling import Belief

sys.path.insert(0, str(Path(__file__).parents[1] / "studies"))
import fair_ratio_coverage

HEAD = "lamp,source,state,illuminance_lx,distance_m"
# Two lamps read once each over different backgrounds: invented.
ONCE_EACH = [
    HEAD,
    "Stop,,off,41,0.7",
    "Stop,filament,on,152,0.7",
    "Stop,,off,41,0.7",
    "Stop,,off,17,0.7",
    "Stop,LED,on,58,0.7",
    "Stop,,off,17,0.7",
]
RED = 0.85 / (1 + np.exp(-(grid.WAVELENGTHS - 605) / 5))
LED = np.exp(-4 * np.log(2) * ((grid.WAVELENGTHS - 630) / 18) ** 2)


def load(tmp_path: Path, lines: list[str]) -> lk.measurement.IlluminanceLog:
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return illuminance_log.load_log(path)


def compare(tmp_path: Path, lines: list[str], **options: object) -> Comparison:
    return fair_ratio.compare_readings(load(tmp_path, lines), **options)  # type: ignore[arg-type]


def test_two_lamps_read_once_each(tmp_path: Path) -> None:
    found = compare(
        tmp_path, ONCE_EACH, meter=meters.measured_meter("exact", lk.light.luminous_efficiency()), draws=20000
    )
    (r,) = found.ratios
    assert r.naive == pytest.approx(58 / 152)
    # the centre is shifted a little by what is believed of mismatch, tilt and the near field
    assert r.uncorrected[1] == pytest.approx(41 / 111, rel=0.02)
    assert r.ratio[1] == pytest.approx(41 / 111, rel=0.07)
    assert r.intensity_old[1] == pytest.approx(111 * 0.7**2, rel=0.05)
    assert r.intensity_new[1] == pytest.approx(41 * 0.7**2, rel=0.1)
    assert r.ratio[0] < 41 / 111 < r.ratio[2]


def test_with_a_drifting_background_the_interval_is_wide(tmp_path: Path) -> None:
    drifting = [x.replace("off,17", "off,20") if i == 6 else x for i, x in enumerate(ONCE_EACH)]
    drifting = [x.replace("off,41", "off,33") if i == 3 else x for i, x in enumerate(drifting)]
    (r,) = compare(tmp_path, drifting, draws=20000).ratios
    (steady,) = compare(tmp_path, ONCE_EACH, draws=20000).ratios
    # First order: the step between two backgrounds is pooled from an assumed one, 5 % with the weight of three, and the
    # two seen; halfway between them half a step is unknown. Five degrees of freedom widen 1.96 to 2.57 (Student).
    seen = {"steady": (0.0, 0.0), "drifting": ((41 - 33) / 37, (20 - 17) / 18.5)}
    step = {which: np.sqrt((3 * 0.05**2 + sum(np.square(found))) / 5) for which, found in seen.items()}
    light = {"steady": (41 / 111, 17 / 41), "drifting": (37 / 115, 18.5 / 39.5)}  # background over what the lamp adds
    part = {which: 0.5 * step[which] * np.hypot(*light[which]) * 2.571 / 1.96 for which in seen}
    found, still = (np.log(one.uncorrected[2] / one.uncorrected[0]) / (2 * 1.96) for one in (r, steady))
    # Tails of Student's kind are shorter once they are a part of a sum.
    assert found**2 - still**2 == pytest.approx(part["drifting"] ** 2 - part["steady"] ** 2, rel=0.25)
    assert found > 1.2 * still
    assert r.ratio[2] / r.ratio[0] > 1.4


def test_same_seed_same_numbers_to_the_bit(tmp_path: Path) -> None:
    a, b = (compare(tmp_path, ONCE_EACH, seed=7).ratios[0] for _ in range(2))
    assert np.array_equal(a.draws, b.draws)
    assert np.array_equal(a.ratio, b.ratio)
    assert not np.array_equal(a.draws, compare(tmp_path, ONCE_EACH, seed=8).ratios[0].draws)


def test_another_lamp_in_the_log_does_not_change_the_draws_of_the_first(tmp_path: Path) -> None:
    more = [*ONCE_EACH, "Tail,,off,5,0.7", "Tail,filament,on,50,0.7", "Tail,LED,on,60,0.7", "Tail,,off,5,0.7"]
    alone, both = compare(tmp_path, ONCE_EACH), compare(tmp_path, more)
    assert len(both.ratios) == 2
    # only the pooled scales of repeatability and background drift learn from the second lamp
    assert both.ratios[0].ratio == pytest.approx(alone.ratios[0].ratio, rel=0.03)
    assert np.corrcoef(both.ratios[0].draws, alone.ratios[0].draws)[0, 1] > 0.98


def test_draws_fieller_and_first_order_agree_when_light_is_strong(tmp_path: Path) -> None:
    lines = [line.replace("152", "15200.0").replace(",58,", ",9600.0,") for line in ONCE_EACH]
    found = compare(tmp_path, lines, meter=meters.lux_meter(), light=same_light(), draws=20000)
    (r,) = found.ratios
    half = budget.K_95 * r.budget.standard_uncertainty
    assert r.budget.value == pytest.approx(r.ratio[1], rel=0.01)
    assert r.fieller[[0, 2]] == pytest.approx([r.budget.value - half, r.budget.value + half], rel=0.02)
    assert r.ratio[[0, 2]] == pytest.approx(r.fieller[[0, 2]], rel=0.03)


def same_light() -> dict[tuple[str, str], np.ndarray]:
    light = lk.light.illuminant("A") * RED
    return {("Stop", "filament"): light, ("Stop", "LED"): light}


@given(st.floats(0.2, 5.0), st.integers(1, 1000))
@settings(max_examples=6)
def test_exchanging_old_and_new_turns_the_ratio_over(
    tmp_path_factory: pytest.TempPathFactory, scale: float, seed: int
) -> None:
    lines = [*ONCE_EACH]
    lines[5] = f"Stop,LED,on,{17 + 100 * scale:.1f},0.7"
    log = load(tmp_path_factory.mktemp("exchange"), lines)
    first = fair_ratio.compare_readings(log, light=same_light(), seed=seed, draws=500).ratios[0]
    second = fair_ratio.compare_readings(log, light=same_light(), seed=seed, draws=500, old="LED").ratios[0]
    assert first.draws * second.draws == pytest.approx(np.ones(500), rel=1e-9)
    assert (first.old, second.old) == ("filament", "LED")


def test_the_same_light_needs_no_mismatch_correction(tmp_path: Path) -> None:
    (r,) = compare(tmp_path, ONCE_EACH, light=same_light()).ratios
    assert r.mismatch == pytest.approx(np.ones(4000), rel=1e-9)
    assert r.colour_response is not None and r.colour_response.trust is colour_response.Trust.MATTERS_LITTLE


def test_a_budget_agrees_with_the_draws_of_its_ratio() -> None:
    path = str(lk.tables.folder() / "library_van" / "readings.csv")
    for ratio in lk.measurement.compare_readings(path, draws=4000).ratios:
        by_draws = np.log(ratio.ratio[2] / ratio.ratio[0]) / (2 * 1.96)
        whole = ratio.budget.standard_uncertainty / ratio.budget.value
        assert whole == pytest.approx(by_draws, rel=0.12), ratio.new


def test_each_light_is_corrected_for_the_meter_s_colour_response(tmp_path: Path) -> None:
    """ISO/CIE 19476: what the eye sees of a light over what a meter set with illuminant A shows, added up here."""
    eye, a = lk.light.luminous_efficiency(), lk.light.illuminant("A")
    seen = eye * np.exp((grid.WAVELENGTHS - 555) / 150)  # invented: a sensor that sees red too well
    light = {("Stop", "filament"): a, ("Stop", "LED"): LED}
    factor = {
        source: (eye @ spectrum) / (seen @ spectrum) * (seen @ a) / (eye @ a) for (_, source), spectrum in light.items()
    }
    assert factor["filament"] == pytest.approx(1.0) and factor["LED"] < 0.8
    exact = meters.measured_meter("sees red", seen)
    (r,) = compare(tmp_path, ONCE_EACH, meter=exact, light=light, face_diameter=0.03, draws=20000).ratios
    assert r.mismatch == pytest.approx(np.full(20000, factor["LED"]), rel=0.05)
    assert r.ratio[1] / r.uncorrected[1] == pytest.approx(factor["LED"], rel=0.01)
    assert r.intensity_old[1] == pytest.approx(111 * 0.7**2, rel=0.03)
    assert r.intensity_new[1] == pytest.approx(41 * 0.7**2 * factor["LED"], rel=0.05)
    assert r.budget.value == pytest.approx(r.ratio[1], rel=0.02)


def test_the_first_order_check_counts_the_mismatch_at_its_width(tmp_path: Path) -> None:
    """Strong light read by a meter of unknown colour response: a lognormal deviates by its middle times its spread."""
    lines = [line.replace("152", "15200.0").replace(",58,", ",9600.0,") for line in ONCE_EACH]
    (r,) = compare(tmp_path, lines, draws=20000).ratios
    spread = np.std(np.log(r.mismatch))
    assert spread > 0.05, "it is what matters most"
    table = r.budget.table().set_index("input")
    (name,) = [one for one in table.index if "mismatch" in one]
    part = np.sqrt(table["share of variance"][name]) * r.budget.standard_uncertainty / r.budget.value
    assert part == pytest.approx(spread, rel=0.1)


def test_what_is_not_told_or_cannot_be_compared_is_said(tmp_path: Path) -> None:
    more = [*ONCE_EACH, "Tail,,off,5,0.7", "Tail,filament,on,50,0.7", "Tail,,off,5,0.7"]
    found = compare(tmp_path, more, draws=100)
    assert {"fair_ratio.nothing_to_compare", "fair_ratio.meter_not_told", "fair_ratio.light_not_given"} <= set(
        keys(found)
    )
    assert [one.lamp for one in found.old_lamps] == [one.lamp for one in found.ratios] == ["Stop"]
    (told,) = (one.values for one in found.remarks if one.key == "fair_ratio.light_not_given")
    belief = colour_response.generic_mismatch(meters.phone())
    ends = belief.typical * np.exp(np.array([-1.96, 1.96]) * belief.spread)
    assert [1 - told["low"], 1 + told["high"]] == pytest.approx(ends, rel=1e-3), "lognormal, 95 %"
    assert "fair_ratio.meter_not_told" not in keys(compare(tmp_path, more, meter=meters.lux_meter(), draws=100))


def test_a_shared_background_error_cancels_in_part(tmp_path: Path) -> None:
    shared = [HEAD, "Stop,,off,41,0.7", "Stop,filament,on,152,0.7", "Stop,LED,on,144,0.7"]
    apart = [HEAD, "Stop,,off,41,0.7", "Stop,filament,on,152,0.7", "Stop,,off,41,0.7", "Stop,LED,on,144,0.7"]
    widths = []
    for lines in (shared, apart):
        read = illuminance_log.load_log(write(tmp_path, lines))
        # A coarse display in the dark and a fine one in the light leave the digits of the lit readings aside.
        shown = (
            replace(r, resolution=0.01, dark=tuple(replace(d, resolution=30.0) for d in r.dark)) for r in read.readings
        )
        log = lk.measurement.IlluminanceLog(read.file, tuple(shown), ())
        (r,) = fair_ratio.compare_readings(log, light=same_light(), draws=4000).ratios
        widths.append(r.uncorrected[2] - r.uncorrected[0])
    assert widths[0] < 0.8 * widths[1]


def keys(found: Comparison) -> list[str]:
    return [remark.key for remark in found.remarks if isinstance(remark, Statement)]


def write(tmp_path: Path, lines: list[str]) -> Path:
    path = tmp_path / "log.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def test_weak_light_gives_a_skewed_interval_and_darkness_none(tmp_path: Path) -> None:
    weak = [HEAD, "S,,off,3,0.7", "S,filament,on,6,0.7", "S,,off,3,0.7", "S,LED,on,20,0.7", "S,,off,3,0.7"]
    (r,) = compare(tmp_path, weak, draws=40000).ratios
    # Reckoned apart: digits of 1 lx in every reading, the background's own step, and handling as bright light shows it.
    bright = [HEAD, "S,,off,0,0.7", "S,filament,on,3000,0.7", "S,,off,0,0.7", "S,LED,on,17000,0.7", "S,,off,0,0.7"]
    (handled,) = compare(tmp_path, bright, draws=40000).ratios
    handling = np.log(handled.uncorrected[2] / handled.uncorrected[0]) / (2 * 1.96)
    rng = np.random.default_rng(5)
    first, middle, last, old, new = rng.uniform(-0.5, 0.5, (5, 40000))
    step = 0.5 * 3.0 * 0.05 * np.sqrt(3 / 5) * rng.standard_t(5, (2, 40000))
    ratio = (17 + new - 0.5 * (middle + last) + step[0]) / (3 + old - 0.5 * (first + middle) + step[1])
    limits = np.quantile(ratio * np.exp(handling * rng.standard_normal(40000)), [0.025, 0.5, 0.975])
    assert np.log(r.uncorrected) == pytest.approx(np.log(limits), abs=0.02)
    skew, reckoned = ((q[2] - q[1]) / (q[1] - q[0]) for q in (r.uncorrected, limits))
    assert skew == pytest.approx(reckoned, rel=0.07) and skew > 1.4
    dark = [HEAD, "S,,off,30,0.7", "S,filament,on,31,0.7", "S,,off,30,0.7", "S,LED,on,60,0.7", "S,,off,30,0.7"]
    (r,) = compare(tmp_path, dark).ratios
    assert r.unbounded
    assert r.ratio[2] == np.inf
    assert r.sentence.key == "fair_ratio.no_upper_limit"
    assert not np.any(np.isnan(r.draws))
    assert np.all(np.isfinite(r.ratio[:2]))
    # Less than its background is no light, and not a little.
    assert r.intensity_old[0] == 0.0 and r.old_draws.min() == 0.0
    turned = [line.replace("LED", "#").replace("filament", "LED").replace("#", "filament") for line in dark]
    (r,) = compare(tmp_path, turned).ratios
    assert r.new == "LED" and r.intensity_new[0] == 0.0


def test_a_near_face_is_corrected_and_a_far_one_is_not(tmp_path: Path) -> None:
    near = compare(tmp_path, ONCE_EACH, face_diameter=0.15)
    far = compare(tmp_path, ONCE_EACH, face_diameter=0.03)
    assert "meter_distance.near" in keys(near) and "meter_distance.far" in keys(far)
    factor = lk.measurement.lamp_face.near_field_factor(0.7, 0.15, 4.0)
    raised = near.ratios[0].intensity_old[1] / far.ratios[0].intensity_old[1]
    assert raised == pytest.approx(1 / factor, rel=0.02)


def test_different_distances_are_brought_together(tmp_path: Path) -> None:
    lines = [
        "lamp,source,illuminance_lx,dark_lx,distance_m",
        "S,filament,100.0,0.0,1.0",
        "S,LED,100.1,0.0,2.0",
    ]
    (r,) = compare(tmp_path, lines, face_diameter=0.03, meter=meters.lux_meter()).ratios
    assert r.uncorrected[1] == pytest.approx(4.0, rel=0.02)
    assert r.naive == pytest.approx(1.001)


def test_the_budget_names_what_matters_most(tmp_path: Path) -> None:
    (r,) = compare(tmp_path, ONCE_EACH).ratios
    table = r.budget.table()
    assert table["share of variance"].sum() == pytest.approx(1.0)
    assert "spectral mismatch" in table["input"][0]


def test_spectra_of_the_wrong_lamp_and_logs_with_nothing_to_compare_are_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="light of 'filament' in 'Stop' is missing"):
        compare(tmp_path, ONCE_EACH, light={("Tail", "LED"): LED})
    with pytest.raises(InputError, match="no reading has the source 'bulb'"):
        compare(tmp_path, ONCE_EACH, old="bulb")
    # One lamp alone: lux times metres squared, within the interval; nothing is compared.
    found = compare(tmp_path, ["lamp,source,illuminance_lx,dark_lx,distance_m", "Stop,filament,41,1,2"])
    (candela,) = [one.values["candela"] for one in found.remarks if one.key == "fair_ratio.alone"]
    assert not found.ratios and candela[0] < 40.0 * 2.0**2 < candela[2]
    swapped = ["lamp,source,illuminance_lx,dark_lx,distance_m", "filament,Stop,9,1,0.7", "LED,Stop,9,1,0.7"]
    with pytest.raises(InputError, match="lamp and source may be swapped"):
        compare(tmp_path, swapped)


def test_a_face_that_is_written_down_counts_for_its_lamp(tmp_path: Path) -> None:
    lines = [f"{HEAD},face_mm", *(f"{line},{'150' if i == 1 else ''}" for i, line in enumerate(ONCE_EACH[1:]))]
    (told,), (given,) = compare(tmp_path, lines).ratios, compare(tmp_path, ONCE_EACH, face_diameter=0.15).ratios
    assert (told.intensity_old == given.intensity_old).all() and (told.ratio == given.ratio).all()
    (said,) = [str(one) for one in compare(tmp_path, lines).remarks if str(one.key).startswith("meter_distance")]
    assert "150 mm" in said and "assumption" not in said
    with pytest.raises(InputError, match=r"face_mm: a face of 0.15 mm cannot be"):
        compare(tmp_path, [f"{HEAD},face_mm", *(f"{line},0.15" for line in ONCE_EACH[1:])])


@pytest.mark.parametrize(
    ("step", "heading", "lit", "place"),
    [
        ("CLOSER", "", ("12", "8"), "0.4"),
        ("LUX_METER", ",meter_kind,meter_class", ("3.0", "2.0"), "0.8,lux meter,B"),
        ("INFRARED", ",infrared", ("30.0", "20.0"), "0.8,none"),
    ],
)
def test_what_a_next_step_promises_it_keeps(step: str, heading: str, lit: tuple[str, str], place: str) -> None:
    """The log as it would be after the step: its interval is the one that was told, to a seventh of its width."""

    def found(heading: str, lit: tuple[str, str], place: str) -> Comparison:
        dark = "0" if lit[0].isdigit() else "0.0"
        lines = [f"Tail,{name},{lux},{dark},{place}" for name, lux in zip(("filament", "LED"), lit, strict=True)]
        text = "\n".join([f"lamp,source,illuminance_lx,dark_lx,distance_m{heading}", *lines])
        return fair_ratio.compare_readings(lk.measurement.read_log(text), draws=2000)

    before = found("", ("3", "2") if step == "CLOSER" else lit, "0.8")
    steps = {one.values["step"].key: one for one in before.remarks if one.key == "next_step.told"}
    told = steps[f"NextStep.{step}"]
    now, then = (float(np.log(told.values[key][2] / told.values[key][0])) for key in ("now", "then"))
    reached = found(heading, lit, place).ratios[0].ratio
    assert now > 1.05 * then and np.log(reached[2] / reached[0]) == pytest.approx(then, rel=1 / 7)


def test_readings_that_scatter_as_under_pulses_are_told(tmp_path: Path) -> None:
    steady = [*ONCE_EACH[:3], "Stop,filament,on,150,0.7", *ONCE_EACH[3:]]
    assert "fair_ratio.scattered" not in keys(compare(tmp_path, steady, draws=50))
    assert "fair_ratio.scattered" in keys(compare(tmp_path, [*steady, "Stop,LED,on,84,0.7"], draws=50))


def test_the_kits_own_sources_and_lenses_give_the_light_at_the_meter(tmp_path: Path) -> None:
    log = load(tmp_path, ONCE_EACH)
    sources = {
        "filament": lk.sources.filament("P21W", name="filament"),
        "LED": lk.sources.coloured_led("red", luminous_flux=100, name="LED"),
    }
    light = colour_response.light_at_meter(log, sources, {"Stop": lk.lenses.load("red")}, draws=500)
    assert light["Stop", "LED"].shape == (500, grid.WAVELENGTHS[grid.FIFTHS].size)
    (r,) = fair_ratio.compare_readings(log, light=light, draws=500).ratios
    assert r.colour_response is not None and str(r.colour_response.advice)
    with pytest.raises(InputError, match="'LED' is not known"):
        colour_response.light_at_meter(log, {"filament": sources["filament"]}, {"Stop": None}, draws=500)
    with pytest.raises(InputError, match="lens of 'Stop' is not known"):
        colour_response.light_at_meter(log, sources, {"Tail": None}, draws=500)


@pytest.mark.parametrize("colour", ["red", "amber", "clear", "blue", "green"])
def test_every_fifth_wavelength_gives_the_colour_response_of_all(colour: str) -> None:
    lens, phone = lk.lenses.load(colour), meters.phone()
    offered = [lk.sources.coloured_led(name, luminous_flux=100, name=name) for name in ("deep red", "red", "amber")]
    for source in (lk.sources.filament("P21W"), *offered, lk.sources.white_led(6000.0, luminous_flux=100)):
        owners = {meters.OWNER: phone.beliefs, lens.name: lens.beliefs, source.name: source.beliefs}
        values = lk.uncertainty.draw(owners, 400, 3)
        own, through, lit = (values.of(owner) for owner in owners)
        found = []
        for part in (grid.WHOLE, grid.FIFTHS):
            light = light_source.relative_spectra(source, lit, part=part) * lk.lenses.transmittances(
                lens, through, part=part
            )
            leak, curves = own["near-infrared leak"], phone.model(own, part)
            found.append(mismatch_correction(curves, light, leak=leak, part=part))
        away = found[1] / found[0] - 1.0
        # Far below what is in doubt in any garage, and nearly nothing on the whole.
        assert np.abs(away).max() < 6e-3
        assert np.sqrt(np.mean(away**2)) < 0.01 * np.std(np.log(found[0])) + 1e-5
        assert abs(away.mean()) < 2e-4


def test_light_that_does_not_end_with_the_grid_is_added_up_alike_at_every_fifth_wavelength() -> None:
    line = np.linspace(0.2, 3.0, 471)
    assert line[grid.FIFTHS] @ grid.FIFTHS_WEIGHTS == pytest.approx(grid.integrate(line), rel=1e-12)
    # The leak begins at one wavelength: its height over all of its wavelengths is the same too.
    flat = [
        meters.signal(meters.responsivity(leak=1.0, part=part) - meters.responsivity(part=part), line[part], part=part)
        for part in (grid.WHOLE, grid.FIFTHS)
    ]
    assert flat[1] == pytest.approx(flat[0], rel=1e-12)


def test_a_comparison_shows_itself(tmp_path: Path) -> None:
    found = compare(tmp_path, ONCE_EACH)
    assert list(found.table()["new"]) == ["LED"]
    assert "<table" in found._repr_html_()
    assert repr(found).startswith(str(found.ratios[0].sentence))


def test_the_vans_readings_can_be_used() -> None:
    log = illuminance_log.load_log(lk.tables.folder() / "library_van" / "readings.csv")
    assert log.remarks == ()
    found = fair_ratio.compare_readings(log, face_diameter=0.09)
    assert {"Stop lamp left", "Tail lamp left", "Rear turn left", "Front turn left"} <= {r.lamp for r in found.ratios}
    assert any(r.lamp == "Stop lamp left without lens" for r in found.ratios)


# Do the intervals hold the truth?


def test_the_committed_study_covers_the_truth_as_often_as_it_says() -> None:
    with fair_ratio_coverage.RESULT.open() as stream:
        rows = {(r["kind"], r["interval"]): r for r in csv.DictReader(stream)}
    told = rows["all", "light given"]
    assert int(told["garages"]) >= 2000
    assert 0.93 <= float(told["coverage"]) <= 0.97
    assert float(rows["all", "naive ratio, 10 %"]["coverage"]) < 0.7


def test_a_reduced_study_agrees_with_the_committed_one(tmp_path: Path) -> None:
    found = fair_ratio_coverage.run(80, tmp_path, seed=99, draws=600)
    rows = {(r["kind"], r["interval"]): r for r in fair_ratio_coverage.summary(found)}
    # 80 garages count the coverage to 2.4 % (one standard error)
    assert 0.86 <= rows["all", "light given"]["coverage"] <= 1.0
    assert rows["all", "naive ratio, 10 %"]["coverage"] < 0.75
    assert rows["all", "light given"]["median_relative_width"] < 0.6


@pytest.mark.parametrize(
    ("ratio", "less", "answer", "chance"),
    [
        (0.90, 75, LightAnswer.LESS, 0.75),
        (1.10, 25, LightAnswer.MORE, 0.75),
        (0.97, 60, LightAnswer.AS_MUCH, 0.60),
        (1.03, 40, LightAnswer.AS_MUCH, 0.60),
        (0.0, 100, LightAnswer.LESS, 1.00),
    ],
)
def test_the_answer_and_its_chance_are_counted(
    tmp_path: Path, ratio: float, less: int, answer: LightAnswer, chance: float
) -> None:
    """As much within a twentieth; of 100 draws so many say less."""
    (read,) = compare(tmp_path, ONCE_EACH, draws=100).ratios
    drawn = np.array([0.5] * less + [2.0] * (100 - less))
    found = dataclasses.replace(read, ratio=np.array([0.5, ratio, 2.0]), draws=drawn)
    assert found.answer is answer and found.chance == pytest.approx(chance)
    assert (found.light.values["chance"] is None) == (answer is LightAnswer.AS_MUCH)


@pytest.mark.parametrize(("repeats", "taken"), [(200, True), (201, False)])
def test_two_hundred_readings_of_one_source_are_taken(tmp_path: Path, repeats: int, taken: bool) -> None:
    lines = ["lamp,source,illuminance_lx,dark_lx,distance_m", "S,filament,100,1,0.7", *["S,LED,90,1,0.7"] * repeats]
    if taken:
        assert len(compare(tmp_path, lines, draws=50).ratios) == 1
    else:
        with pytest.raises(InputError, match="201 times with 'LED'"):
            compare(tmp_path, lines, draws=50)


def test_a_belief_has_the_standard_uncertainty_of_its_shape() -> None:
    """GUM 4.3.7: a half-width over the root of three; a lognormal one to first order; a plain one as it is."""
    shaped = {shape: Belief("x", 2.0, 0.3, "1", "invented", shape) for shape in ("uniform", "lognormal", "normal")}  # type: ignore[arg-type]
    found = {shape: fair_ratio._standard(one) for shape, one in shaped.items()}
    assert found == pytest.approx({"uniform": 0.3 / 3**0.5, "lognormal": 0.6, "normal": 0.3})


def test_what_leaks_beyond_720_nm_is_read_of_filaments_and_not_of_leds() -> None:
    """A filament of 2800 K is read too high by its share behind the lens, an LED of 591 nm to 640 nm right."""
    eye = np.asarray(lk.light.luminous_efficiency())
    leak = np.where(grid.WAVELENGTHS > 720, 0.05, 0.0)
    belief = colour_response.generic_mismatch(meters.measured_meter("leaks", eye + leak))
    metres = grid.WAVELENGTHS * 1e-9
    planck = metres**-5 / np.expm1(1.438776877e-2 / metres / 2800.0)  # tungsten adds a few per cent of slope
    seen = [lk.lenses.load(colour).transmittance * planck for colour in ("red", "amber")]
    shares = [float((leak * light).sum() / (eye * light).sum()) for light in seen]
    assert 1.0 + 0.85 * min(shares) < belief.typical < 1.0 + 1.1 * max(shares)
    assert min(shares) > 0.02


def test_a_lamp_without_the_old_source_that_was_asked_for_is_told(tmp_path: Path) -> None:
    more = [*ONCE_EACH, "Tail,,off,5,0.7", "Tail,LED,on,50,0.7", "Tail,white,on,60,0.7", "Tail,,off,5,0.7"]
    found = compare(tmp_path, more, old="filament", draws=50)
    assert [one.lamp for one in found.ratios] == ["Stop"] and "fair_ratio.nothing_to_compare" in keys(found)
