"""What vehicles asked that are built in other ways than the van, and files written by other hands."""

from pathlib import Path

import pytest
from worked_out import EVERY, VEHICLES, plan_of

import lampkit as lk
from lampkit import numbers
from lampkit.circuits.tasks import Caution
from lampkit.errors import InputError
from lampkit.page.findings import findings_of, short_facts
from lampkit.page.job_sheet_text import report_text
from lampkit.plan import plan
from lampkit.plan.suitability import Family
from lampkit.rules import functions
from lampkit.statements import Statement, named
from lampkit.vehicle import vehicle

PEAR, FERN, MOPED, TRAILER = (
    VEHICLES / name for name in ("pear_cabriolet", "fern_ambulance", "bread_moped", "honey_trailer")
)


def test_what_lights_a_number_plate_too_is_white() -> None:
    """A red light source shows the tail lamp's red, and would show the number plate red as well."""
    made = plan_of(PEAR)
    assert made.fitted("Tail lamp") is None and made.fitted("Number plate window") is None
    red = "red cluster, 24 emitters"
    assert Family.COLOUR in made.choice.refused["Number plate window"][red]
    assert set(made.choice.refused["Tail lamp"][red]) == {Family.HOLDER}
    article = made.choice.look_for["Tail lamp"].values
    assert "look_for.two_lenses" in {one.key for one in article["features"]}
    assert article["what"].values["colour"] == "white"
    assert article["lumens"].values["lumens"] > 30, "more than 5 W of a filament gives at 6 V, for a lens dims it more"
    beside, stop = article["lumens"].values["beside"], made.choice.look_for["Stop lamp"].values["lumens"]
    assert beside.key == "look_for.brighter_stop" and beside.values["stop"] > stop.values["lumens"]


@pytest.mark.parametrize("place", EVERY, ids=lambda place: place.name)
def test_each_lamp_is_told_of_its_own_filament(place: Path) -> None:
    """Lamps with nothing on offer have the same results, none; what stands beside them is their own all the same."""
    made = plan_of(place)
    for lamp, assessment, found in zip(made.vehicle.lamps, made.assessments, findings_of(made).lamps, strict=True):
        assert assessment.name == lamp.name
        names = {assessment.old.source.name, found.sources[0].result.source.name}
        assert names == {lamp.filament.name}


def test_a_yellow_fog_lamp_keeps_white_light_behind_its_lens() -> None:
    made = plan_of(FERN)
    assert made.assessments[-1].colour_limit is None, (
        "selective yellow is accepted, and the kit holds no boundary of it"
    )
    assert made.choice.look_for["Front fog lamp"].values["what"].values["colour"] == "white"


def test_dangers_of_magneto_and_of_readings_stand_on_the_first_sheet() -> None:
    keys = {place: {told.heading.key for told in findings_of(plan_of(place)).dangers} for place in (MOPED, FERN)}
    assert "page.watch.magneto" in keys[MOPED] and "page.watch.readings" not in keys[MOPED]
    assert "page.watch.readings" in keys[FERN], "1.7 V are lost on the way to its stop lamp"
    assert "page.watch.magneto" not in keys[FERN] and "page.watch.flasher" not in keys[FERN]


def test_how_bright_the_dim_level_may_be_stands_in_the_list_to_buy() -> None:
    """One article for stop and tail: with more than that at its dim level the stop light is not told from the tail."""
    found = findings_of(plan_of(FERN))
    (pair,) = [one for one in found.shopping if len(one.lumens) == 2]
    assert pair.most is not None and pair.lumens[1] < pair.most < pair.lumens[0] / 5, "five times in the rules"
    most = f"dim at most {numbers.figure(pair.most)} lm"
    assert most in " ".join(report_text(found.plan).split())


@pytest.mark.parametrize("generator", ["magneto", "alternator", "unknown"])
def test_a_moped_without_a_battery_is_told_of_its_coil_and_of_no_pole(generator: str, tmp_path: Path) -> None:
    """A lamp on a coil gets alternating current: nothing is charged, stands parked or lies with a pole on the body."""
    text = (MOPED / "vehicle.toml").read_text().replace('"magneto"', f'"{generator}"\nbattery_Ah = 0')
    (tmp_path / "vehicle.toml").write_text(text)
    made = plan.make(vehicle.load(tmp_path), draws=200)
    found = findings_of(made)
    assert made.vehicle.without_battery and not plan_of(MOPED).vehicle.without_battery, "unknown is not none"
    assert any(one is not None for one in made.choice.chosen.values())
    assert "No battery." in [str(told.heading) for told in found.dangers]
    assert found.earth is None
    for one in (made, plan_of(MOPED)):
        tail = next(lamp for lamp in one.vehicle.lamps if lamp.name == "Tail lamp")
        kept = {words.key for words in plan.pick(one, {tail.name: tail.candidates[0]}).savings}
        assert ("savings.standing" in kept) is not one.vehicle.without_battery
    keys = {one.key for one in made.choice.notes}
    assert "notes.either_way" in keys and not keys & {"notes.earth_unknown", "notes.polarity"}
    for words in (str(found.facts), str(short_facts(found))):
        assert "no battery" in words and "earth" not in words
    said = " ".join(str(step.step.what) for step in made.work.steps)
    assert "both ways round" in said and "pole" not in said
    hazards = str(named(Caution.HAZARDS))
    assert found.work is not None
    assert hazards not in [str(words) for step in found.work.steps for words in step.cautions], "no lamp flashes"
    assert not any("shell is the" in str(words) for lamp in made.vehicle.lamps for words in made.must_be(lamp.name))
    assert not {"page.cautions.battery", "page.cautions.charging"} & {told.heading.key for told in found.cautions}


def test_the_earth_of_a_moped_without_a_battery_cannot_be_changed(tmp_path: Path) -> None:
    told = 'battery_Ah = 0\nearth = "positive"\nearth_after = "negative"\ngenerator'
    (tmp_path / "vehicle.toml").write_text((MOPED / "vehicle.toml").read_text().replace("generator", told, 1))
    with pytest.raises(InputError, match="no pole lies on the body"):
        vehicle.load(tmp_path)


def test_a_flasher_that_nobody_names_is_asked_for() -> None:
    """The flasher of a trailer is in the vehicle that tows it."""
    asked = [one for one in plan_of(TRAILER).choice.notes if one.key == "notes.flasher_unknown"]
    assert [one.values["lamps"] for one in asked] == [["Rear turn lamp left", "Rear turn lamp right"]]
    assert all(one.key != "notes.flasher_unknown" for one in plan_of().choice.notes), "the van's is told"
    dangers = [told.words for told in findings_of(plan_of(TRAILER)).dangers]
    assert asked[0] in dangers and "notes.towed" in [words.key for words in dangers if isinstance(words, Statement)]


def test_a_fuse_is_called_right_beside_a_wire_that_is_told() -> None:
    told = findings_of(plan_of(FERN)).fuses
    assert told is not None
    assert (told.values["known"], told.values["unsized"]) == (["beacon"], ["rear", "arms"])


TOO_BRIGHT = """
[vehicle]
name = "Three-wheeler"
year = 1985
supply_voltage_V = 12
[[light_source]]
name = "bright red"
colour = "red"
claimed_lumens_lm = {lumens}
base = "BAY15d"
[[lamp]]
name = "Tail lamp"
function = "tail"
lens = "red"
filament = "P21/5W"
filament_part = "minor"
candidates = ["bright red"]
"""


@pytest.mark.parametrize(("lumens", "fits"), [(40, True), (180, False)])
def test_what_is_past_the_maximum_of_every_old_lamp_is_refused(lumens: int, fits: bool, tmp_path: Path) -> None:
    """2 cd to 12 cd, R7 of about 1973, from memory: eight times the least is past the most."""
    (tmp_path / "vehicle.toml").write_text(TOO_BRIGHT.format(lumens=lumens), encoding="utf-8")
    made = lk.plan.make(lk.vehicle.load(tmp_path), draws=400)
    assert (made.fitted("Tail lamp") is not None) is fits
    refused = made.choice.refused["Tail lamp"].get("bright red", {})
    assert (Family.INTENSITY in refused) is not fits
    assert fits or refused[Family.INTENSITY].key == "refused.too_bright"


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("Brake light", "stop"),
        ("license plate lamp", "number plate"),
        ("trafficators", "trafficators"),
        ("trafficator", "semaphore arm"),
        ("for hire sign", "sign"),
        ("REVERSING", "reversing"),
        ("parking lights", "front position"),
        ("high-mounted_stop", "high-mounted stop"),
    ],
)
def test_terms_of_the_trade_are_understood_however_they_are_written(word: str, name: str) -> None:
    assert functions.term(word) == name


SLIPS = """[vehicle]
name = „My saloon“
supply_voltage_V = 12 V
width_m = 1,62
year: 1968
left_and_right_alike = True
earth = negative
rules = "Italy"

[[light_source]]
name = "red
colour = "red"
intensity_mcd = 900

[[lamp]]
name = "Stop lamp"
function = "brake light"
lens = "red"
filament = "P21W"
candidates = ["red"]
"""


def test_all_slips_of_a_file_are_told_at_once(tmp_path: Path) -> None:
    (tmp_path / "vehicle.toml").write_text(SLIPS, encoding="utf-8")
    with pytest.raises(InputError) as told:
        lk.vehicle.load(tmp_path)
    assert [fault.line for fault in told.value.faults] == [2, 3, 4, 5, 6, 7, 8, 11, 13]
    assert all(fault.expected or fault.remedy for fault in told.value.faults)
    mended = (tmp_path / "vehicle.toml").read_text(encoding="utf-8")
    assert mended == SLIPS, "the file is read as it is meant, and left as it is"


def test_no_amperes_are_advised_for_a_wire_that_nobody_measured() -> None:
    """15 A are too much for 0.75 mm2; what no fuse feeds is not found by taking it out."""
    (lights,) = plan_of(PEAR).circuits
    state = lights.change.fuse_state
    assert not state.wire_known and state.judged.key == "fuse.none_fitted"
    assert " A " not in str(state.judged) and "measure the wire" in str(state.judged)
    assert state.others is not None and state.others.key == "fuse.others_on_top"


CART = """
[vehicle]
name = "cart"
supply_voltage_V = 12

[[light_source]]
name = "red"
colour = "red"
claimed_lumens_lm = 300
power_W = 3
voltage_V = 12.8
base = "BA15s"
price = 5

[[light_source]]
name = "lorry red"
colour = "red"
claimed_lumens_lm = 300
voltage_V = [20, 30]

[[light_source]]
name = "green"
colour = "green"
claimed_lumens_lm = 300

[[circuit]]
name = "rear"
flasher = "thermal series"

[[lamp]]
name = "Stop lamp"
sides = ["left", "right"]
function = "stop"
lens = "red"
lens_material = "unknown"
filament = "21W BA15s"
circuit = "rear"
candidates = ["red", "lorry red"]
left = { fitted = "red" }

[[lamp]]
name = "Middle stop lamp"
function = "stop"
lens = "red"
filament = "12V21W"
fitted = "green"
circuit = "rear"
candidates = ["lorry red"]

[[lamp]]
name = "Turn lamp"
sides = ["left", "right"]
function = "rear turn"
lens = "amber"
filament = "P21W"
circuit = "rear"
candidates = []
"""


def test_what_is_fitted_is_not_bought_again_and_a_stop_lamp_is_no_load_of_the_flasher(tmp_path: Path) -> None:
    """A lamp that burns steadily may hang on the turn lamps' circuit; a light source for another supply stays out."""
    (tmp_path / "vehicle.toml").write_text(CART)
    made = plan.make(vehicle.load(tmp_path), draws=200)
    assert [(one.name, one.number, one.total) for one in made.choice.articles()] == [("red", 1, 5.0)]
    assert made.choice.cost == 5.0
    told = {line.group.name: line for line in findings_of(made).fit}
    assert {name: str(line.task) for name, line in told.items()} == {
        "Stop lamp left and right": "fit red",
        "Middle stop lamp": "put back the filament 12V 21W",
        "Turn lamp left and right": "keep the filament P21W",
    }
    rows = [f"Saloon lamp {row} {side}" for row in range(1, 9) for side in ("left", "right")]
    assert plan.joint_name(rows) == "Saloon lamp 1 to 8, left and right"
    assert told["Stop lamp left and right"].group.lamp.lens.name == "red, material unknown"
    nearest = told["Middle stop lamp"].nearest
    assert nearest is not None and "it is made for 20 to 30 V, the vehicle has 12 V" in str(nearest)
