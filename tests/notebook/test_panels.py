"""The panels without a browser: each number is the library's, each wrong value explained, each control labelled."""

import re
import xml.etree.ElementTree as ET
from html import unescape
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import numpy as np
import pytest
from worked_out import SMALL, VAN, plan_of

import lampkit as lk
from lampkit import numbers
from lampkit.errors import InputError
from lampkit.measurement import read_log
from lampkit.notebook import controls, lens_panel, readings_panel
from lampkit.notebook.circuit_panel import CircuitLoop
from lampkit.notebook.controls import LedKind
from lampkit.notebook.lens_panel import DRAWS, LensBench, lens_as_set
from lampkit.notebook.readings_panel import ReadingsDesk
from lampkit.notebook.vehicle_panel import Pick, VehicleSheet, by_hand, picked_along, with_lumens, with_offer
from lampkit.page import live_pictures
from lampkit.plan.suitability import Family
from lampkit.statements import say


def plain(place: widgets.HTML) -> str:
    return unescape(re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", place.value))).strip()


def below(box: Any) -> list[Any]:
    found = [box]
    for child in getattr(box, "children", ()):
        found += below(child)
    return found


def svgs(html: str) -> list[ET.Element]:
    return [ET.fromstring(text) for text in re.findall(r"<svg.*?</svg>", html, flags=re.S)]


# --- lens bench ---------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def bench() -> LensBench:
    return LensBench()


@pytest.mark.parametrize("colour", lk.lenses.coloured_lens.COLOURS)
@pytest.mark.parametrize("kind", LedKind)
def test_bench_shows_the_numbers_of_the_library(bench: LensBench, colour: str, kind: LedKind) -> None:
    bench.colour.value, bench.first.kind.value = colour, kind
    bench.thickness.value = 1.25
    assert bench.message.value == ""
    lens = lk.lenses.thicker(lk.lenses.load(colour, name=f"{colour} lens"), 1.25)
    made = {
        LedKind.WHITE: lambda: lk.sources.white_led(6000, luminous_flux=420, name="LED 1"),
        LedKind.BY_COLOUR: lambda: lk.sources.coloured_led("red", luminous_flux=420, name="LED 1"),
        LedKind.BY_PEAK: lambda: lk.sources.coloured_led(peak=625, luminous_flux=420, name="LED 1"),
    }[kind]()
    second = lk.sources.coloured_led("red", luminous_flux=110, name="LED 2")
    function = {"red": "stop", "amber": "rear turn", "clear": "reversing", "green": "turn tell-tale"}.get(colour)
    job = lk.conversion.assess(
        lk.sources.filament("P21W", 13.5), [made, second], lens, function=function, draws=DRAWS, seed=1
    )
    shown = bench.numbers.value
    for result in job.results:
        assert f"<b>{numbers.interval(result.ratio)}</b>" in shown
        assert f">{numbers.interval(result.k)}</td>" in shown
        assert f"<b>{numbers.rounded_up(result.lumens_to_buy)}</b>" in shown
        if result.colour is not None:
            assert str(result.colour.statement) in shown
    assert ("against UN" in shown) == (job.colour_limit is not None), "no limit is applied where no rule holds"


def test_bench_code_gives_the_same_assessment(bench: LensBench) -> None:
    bench.colour.value, bench.first.kind.value, bench.edge.value = "red", LedKind.WHITE, 606.5
    code = re.sub("<[^>]+>", "", bench.code.value.split("</summary>")[1])
    held: dict[str, Any] = {"lk": lk}
    *lines, last = unescape(code).strip().split("\n")
    exec("\n".join(lines), held)
    job = eval(last, held)
    assert bench.assessment is not None
    assert np.array_equal(job.results[0].ratio, bench.assessment.results[0].ratio)
    assert "edge=606.5" in code


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "nothing is typed"),
        ("lots", "'lots' is not a number"),
        ("-3", "-3 lm cannot be used"),
        ("0", "0 lm cannot be used"),
        ("1e9", "0.1 lm to 20000 lm"),
        ("nan", "'nan' is not a number"),
        ("-inf lm", "is not a number"),
        ("420 W", "is not a number"),
    ],
)
def test_bench_explains_wrong_lumens_in_place_and_keeps_the_last_good_picture(
    bench: LensBench, typed: str, said: str
) -> None:
    bench.first.lumens.value = "300"
    before = bench.picture.value, bench.numbers.value
    bench.first.lumens.value = typed
    assert said in plain(bench.first.message)
    assert (bench.picture.value, bench.numbers.value) == before
    bench.first.lumens.value = "310,5"
    assert bench.first.message.value == bench.message.value == ""
    assert "310 lm" in bench.picture.value


def test_what_is_wrong_is_said_once_and_the_pictures_are_marked(bench: LensBench) -> None:
    bench.first.lumens.value = "-5"
    told = [w for w in below(bench.box) if isinstance(w, widgets.HTML) and "lampkit-message" in w.value]
    assert told == [bench.first.message]
    assert "lampkit-out-of-date" in bench.seen._dom_classes and bench.stale.value
    bench.first.lumens.value = "420"
    assert "lampkit-out-of-date" not in bench.seen._dom_classes and not bench.stale.value


def test_a_number_beyond_the_end_of_a_slider_is_told_and_not_clipped() -> None:
    moved = controls.slider(lk.statements.say("lens_bench.edge_wavelength"), "nm", 598, 586.5, 625, 0.5, 1)
    row, message = controls.typed(moved).children
    box = row.children[1]
    box.value = "700"
    assert moved.value == 598 and box.value == "700"
    assert "700 nm cannot be used" in plain(message) and "586.5 nm to 625 nm" in plain(message)
    box.value = "610,5 nm"
    assert moved.value == 610.5 and box.value == "610.5" and message.value == ""
    moved.value = 600.0
    assert box.value == "600.0"
    moved.layout.display = "none"
    assert controls.typed(moved).layout.display == "none"


def test_faces_on_the_bench_have_the_light_of_its_numbers(bench: LensBench) -> None:
    bench.first.lumens.value = "420"
    assert bench.assessment is not None
    for result in bench.assessment.results:
        assert f"{lk.numbers.figure(float(result.ratio[1]))} times the light" in bench.faces.value


def test_bench_explains_a_wrong_voltage(bench: LensBench) -> None:
    bench.volts.value = "48"
    assert "volt" in plain(bench.volts_message)
    bench.volts.value = "13.5"
    assert bench.volts_message.value == ""


def test_lens_as_set_is_the_preset_with_one_belief_moved() -> None:
    assert np.array_equal(lens_as_set("red").transmittance, lk.lenses.load("red").transmittance)
    moved = lens_as_set("red", edge=610.0)
    assert {b.name: b.typical for b in moved.beliefs}["edge wavelength"] == 610.0
    # Half of the plateau is passed at the edge: the meaning of the word.
    top = moved.transmittance.max()
    assert moved.transmittance[610 - 360] == pytest.approx(top / 2, rel=0.01)
    with pytest.raises(InputError, match="edge wavelength"):
        lens_as_set("green", edge=600.0)
    with pytest.raises(InputError, match="colour"):
        lens_panel.lens_bench("purple")


def test_a_fault_of_the_kit_is_not_hidden() -> None:
    place = controls.notice()

    def broken() -> None:
        raise ZeroDivisionError("by hand")

    controls.guarded(place, broken)()
    assert "ZeroDivisionError: by hand" in plain(place)
    assert "report" in plain(place)


@pytest.mark.parametrize("make", [LensBench, ReadingsDesk, lambda: VehicleSheet(VAN)])
def test_every_control_says_what_it_is_and_in_which_unit(make: Any) -> None:
    for control in below(make().box):
        if isinstance(control, widgets.FloatSlider):
            pure = {str(say("lens_bench.dye_strength")), str(say("lens_bench.thickness"))}  # numbers without a unit
            assert re.search(r".+ \[(nm|K)\]$", control.description) or control.description in pure
            assert control.min < control.max
        elif isinstance(control, widgets.Text | widgets.Dropdown | widgets.Textarea):
            assert control.description
        elif isinstance(control, widgets.Button):
            assert control.description and control.tooltip


# --- pictures -----------------------------------------------------------------------------------------------------


def test_pictures_are_whole_and_carry_no_colour_of_their_own_page() -> None:
    sources = [lk.sources.filament("P21W"), lk.sources.white_led(4000, luminous_flux=300)]
    drawn = live_pictures.through_lens(sources, lk.lenses.load("amber"))
    elements = svgs(drawn)
    assert len(elements) == 2
    for element in elements:
        assert element.get("role") == "img"
        assert element.get("aria-label")
        assert element.get("fill") == "currentColor"
    assert "background" not in drawn
    assert "#fff" not in drawn and "white;" not in drawn


def test_no_name_stands_twice_however_often_a_picture_is_drawn() -> None:
    """A notebook does not draw what is scrolled away; a hatching that lent its name to another would vanish with it."""
    sources = [lk.sources.filament("P21W"), lk.sources.white_led(4000, luminous_flux=300)]
    drawn = "".join(live_pictures.through_lens(sources, lk.lenses.load("red")) for _ in range(3))
    names = re.findall(r' id="([^"]+)"', drawn)
    assert len(names) == len(set(names)) == 12  # a hatching and a filling each
    assert set(re.findall(r"url\(#([^)]+)\)", drawn)) == set(names)


def test_light_out_is_drawn_to_the_scale_of_light_in() -> None:
    source, lens = lk.sources.white_led(4000, luminous_flux=300), lk.lenses.neutral(0.5)
    (element,) = svgs(live_pictures.through_lens([source], lens))
    curves = [p.get("d", "") for p in element.iter() if p.get("d", "").count("L") > 100 and p.get("fill") == "none"]
    assert len(curves) == 3
    heights = []
    for curve in (curves[0], curves[2]):
        ys = [float(pair.split(",")[1]) for pair in curve.lstrip("M").split("L")]
        heights.append(ys[0] - min(ys))
    assert heights[1] / heights[0] == pytest.approx(0.5, abs=0.01)


# --- circuit loop ---------------------------------------------------------------------------------------------------


def test_volts_round_the_loop_add_up_to_the_battery() -> None:
    loop = CircuitLoop()
    for ohms, metres, watts in ((0.05, 3.0, 4.0), (0.3, 7.0, 8.5), (1.0, 20.0, 21.0)):
        loop.earth.value, loop.length.value, loop.watts.value = ohms, metres, watts
        assert loop.message.value == ""
        for element in svgs(loop.picture.value):
            said = str(element.get("aria-label"))
            amperes = float(re.search(r"([\d.]+) A round", said)[1])  # type: ignore[index]
            battery, switched, feed, earth, across = (float(v) for v in re.findall(r"([\d.]+) V", said))
            # Kirchhoff: what is lost on the way and what the lamps get is what the battery gives.
            assert feed - earth == pytest.approx(across, abs=0.02)
            assert earth == pytest.approx(amperes * ohms, abs=0.02)
            assert battery - switched == pytest.approx(amperes * 0.05, abs=0.02)
            # 19.5 ohm/km: IEC 60228 class 5, 1.0 mm2, at 20 degC.
            assert switched - feed == pytest.approx(amperes * metres * 0.0195, rel=0.05, abs=0.02)


def test_a_tired_earth_dims_and_the_flasher_follows_the_watts() -> None:
    loop = CircuitLoop()
    loop.watts.value = 1.0
    assert "does not flash" in plain(loop.words)

    def light() -> float:
        return float(re.findall(r"([\d.]+) % of their light", loop.picture.value)[0])

    sound = light()
    loop.earth.value = 0.6
    assert light() < sound


# --- readings desk ------------------------------------------------------------------------------------------------

LOG = """lamp,source,illuminance_lx,dark_lx,distance_m,claimed_lumens_lm
Stop lamp left,filament,118.2,2.1,1.50,
Stop lamp left,red LED,41.6,2.1,1.50,120
"""


def desk_with(text: str) -> ReadingsDesk:
    desk = ReadingsDesk()
    desk.text.value = text
    desk.work.click()
    return desk


def test_desk_begins_with_an_example_in_which_dividing_fails() -> None:
    """By hand: 7.6 / 9.1 = 0.84 as read, 1.5 / 3.0 = 0.50 with the background off."""
    desk = ReadingsDesk()
    desk.work.click()
    assert desk.message.value == ""
    (ratio,) = lk.measurement.compare_readings(read_log(desk.text.value)).ratios
    assert ratio.naive == pytest.approx(7.6 / 9.1)
    assert ratio.uncorrected[1] == pytest.approx(1.5 / 3.0, abs=0.01)
    assert ratio.ratio[0] < 0.5 < ratio.ratio[2] < 1.0, "it is dimmer for sure, and nobody knows by how much"
    assert "read again in a darker room or nearer" in plain(desk.result)
    assert "Tail lamp left: Tail lamp left" not in plain(desk.result)


def test_desk_gives_ratio_and_blame_of_the_library(tmp_path: Path) -> None:
    desk = desk_with(LOG)
    assert desk.message.value == ""
    (tmp_path / "log.csv").write_text(LOG)
    log = lk.measurement.load_log(tmp_path / "log.csv")
    lens = lk.lenses.load("red", name="lens of Stop lamp left")
    old = lk.sources.filament("P21W", rated_voltage=12, name="filament")
    new = lk.sources.coloured_led("red", luminous_flux=120, name="red LED")
    light = {("Stop lamp left", s.name): lens.transmittance * s.spectrum for s in (old, new)}
    (ratio,) = lk.measurement.compare_readings(log, light=light).ratios
    assert str(ratio.sentence) in plain(desk.result)
    job = lk.conversion.assess(old, [new], lens, rules=None)
    flux = [r.draws["flux"] / r.draws["transmittance"] for r in (job.results[0], job.old)]
    split = lk.measurement.shortfall.blame(
        ratio.draws,
        job.results[0].draws["k"],
        flux[0] / flux[1],
        lk.measurement.shortfall.beam_belief(None),
        claimed=120,
        owner="red LED in Stop lamp left",
    )
    assert str(split.sentence) in plain(desk.result)
    assert "amber LED" in desk.result.value, "an LED on the edge tells most about a red lens"


def test_desk_without_knowing_the_light_says_so() -> None:
    desk = ReadingsDesk()
    desk.text.value = LOG.replace("red LED", "that one")
    desk.work.click()
    assert desk.message.value == ""
    (ratio,) = lk.measurement.compare_readings(read_log(desk.text.value)).ratios
    assert str(ratio.sentence) in plain(desk.result)
    assert str(say("readings_desk.light_unknown")) in plain(desk.result)
    assert [box.label for box in desk.rows.children][-1] == str(say("readings_desk.unknown"))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("118.2", "bright"), "line 2, illuminance_lx: 'bright' is not a number"),
        (("118.2", "1.9"), "no more than its background"),
        (("distance_m", "distance_km"), "distance_km"),
        (("1.50,120", "150,120"), "150"),
        (("illuminance_lx", "reading"), "reading"),
    ],
)
def test_desk_names_the_line_that_is_wrong(change: tuple[str, str], said: str) -> None:
    desk = desk_with(LOG)
    before = desk.result.value
    desk.text.value = LOG.replace(*change)
    assert said in plain(desk.text_message)
    assert "/tmp" not in plain(desk.text_message), "the file behind the desk is nobody's business"
    assert desk.result.value == before


def fill(desk: ReadingsDesk, lamp: str, source: str, lit: str, dark: str, distance: str) -> None:
    for box, typed in (
        (desk.lamp, lamp), (desk.source, source), (desk.lit, lit), (desk.dark, dark), (desk.distance, distance),
    ):  # fmt: skip
        box.value = typed
    desk.add.click()


def test_a_typed_reading_joins_a_log_of_a_spreadsheet(tmp_path: Path) -> None:
    """Semicolons, decimal commas, a title and UTF-16: the desk opens it and writes its line as the others stand."""
    sheet = "Measured in May;;;;\n" + LOG.replace(",", ";").replace("118.2", "118,2").replace(
        "illuminance_lx", "Illuminance [lx]"
    )
    path = tmp_path / "log.csv"
    path.write_bytes(sheet.encode("utf-16"))
    desk = ReadingsDesk(path)
    assert desk.text_message.value == ""
    fill(desk, "Stop lamp left", "white LED", "30.50", "2.1", "1.5")
    assert desk.form_message.value == "" and desk.text_message.value == ""
    added = read_log(desk.text.value).readings[-1]
    assert (added.source, added.illuminance, added.dark[0].illuminance) == ("white LED", 30.5, 2.1)


def test_typed_readings_join_either_kind_of_log() -> None:
    desk = desk_with(LOG)
    fill(desk, "Stop lamp left", "white LED, cool", "30,50", "2.1", "1.5")
    assert desk.form_message.value == ""
    added = read_log(desk.text.value).readings[-1]
    assert (added.source, added.illuminance, added.resolution, added.distance) == ("white LED, cool", 30.5, 0.01, 1.5)
    desk = ReadingsDesk(VAN)
    before = read_log(desk.text.value).readings
    desk.fitted.value = "removed"
    fill(desk, "Stop lamp left", "white LED A", "150.5", "2.0", "1")
    after = read_log(desk.text.value).readings
    assert len(after) == len(before) + 1
    assert (after[-1].net, after[-1].distance, after[-1].lens_fitted) == (148.5, 1.0, False)


def test_cleared_readings_can_be_brought_back() -> None:
    desk = desk_with(LOG)
    desk.clear.click()
    assert "Stop lamp" not in desk.text.value
    desk.clear.click()
    assert desk.text.value == LOG
    assert desk.clear.description == str(say("readings_desk.clear"))
    desk.clear.click()
    fill(desk, "Rear turn", "filament", "98.2", "1.1", "1.2")
    typed = desk.text.value
    desk.clear.click()
    assert desk.text.value == LOG
    desk.clear.click()
    assert desk.text.value == typed


def test_the_desk_says_when_its_answer_is_of_other_readings() -> None:
    desk = desk_with(LOG)
    desk.work.click()
    assert desk.stale.value == ""
    for changed in (LOG.replace("41.6", "45.0"), LOG.replace("41.6", "bright")):
        desk.text.value = changed
        assert str(say("readings_desk.changed")) in plain(desk.stale)
    desk.text.value = LOG
    assert desk.stale.value == ""


def test_what_is_wrong_with_readings_is_said_once_and_without_the_kit_s_own_places() -> None:
    desk = desk_with(LOG)
    desk.text.value = LOG.replace("41.6", "bright")
    desk.work.click()
    assert "line 3" in plain(desk.text_message) and desk.message.value == ""
    desk.text.value = LOG.replace("Stop", "filament")
    desk.work.click()
    assert desk.text_message.value == ""
    assert "/" not in plain(desk.message)


def test_a_lens_of_another_colour_than_was_said_is_told() -> None:
    """An amber LED that loses a tenth in the lens, and a green one that loses most: amber, and no red lens."""
    rows = {"filament": (150.0, 90.0), "amber LED": (70.0, 61.0), "green LED": (60.0, 9.0), "red LED": (60.0, 53.0)}
    desk = ReadingsDesk()
    heading = "lamp,source,illuminance_lx,dark_lx,distance_m,lens,meter_kind\n"
    desk.text.value = heading + "".join(
        f"Lamp,{source},{lux:.1f},0.1,1,{lens},lux meter\n"
        for source, both in rows.items()
        for lux, lens in zip(both, ("removed", "fitted"), strict=True)
    )
    for colour, told in (("red", True), ("amber", False)):
        desk._choices["lamp", "Lamp"].value = colour
        desk.work.click()
        assert ("Lamp: The readings do not fit together" in plain(desk.result)) is told
        assert ("read one of these with the lens" in plain(desk.result)) is not told


def test_units_may_stand_behind_what_is_typed() -> None:
    desk = desk_with(LOG)
    fill(desk, "Stop lamp left", "amber LED", "30,50 lx", "2.10 lx", "1.5 m")
    assert desk.form_message.value == ""
    assert desk.text.value.splitlines()[-1].startswith("Stop lamp left,amber LED,30.50,2.10,1.5")


def test_two_readings_on_an_empty_desk_make_a_comparison() -> None:
    desk = ReadingsDesk()
    desk.clear.click()
    assert "no readings yet" in plain(desk.text_message)
    fill(desk, "Rear turn", "filament", "98.2", "1.1", "1.2")
    desk.claimed.value = "560"
    fill(desk, "Rear turn", "amber LED", "91.0", "1.1", "1.2")
    assert desk.text_message.value == desk.form_message.value == ""
    desk.work.click()
    assert desk.message.value == ""
    (ratio,) = desk.answer.comparison.ratios
    assert ratio.naive == pytest.approx(91.0 / 98.2)
    assert str(ratio.sentence) in plain(desk.result)
    assert desk.text.value.count("\n") == 3


@pytest.mark.parametrize(
    ("values", "said"),
    [
        (("", "red LED", "30", "2", "1"), "lamp: nothing is typed"),
        (("Stop", "", "30", "2", "1"), "what is fitted in it: nothing is typed"),
        (("Stop", "red LED", "x", "2", "1"), "lamp on: 'x' is not a number"),
        (("Stop", "red LED", "2", "30", "1"), "no more than the lamp off"),
        (("Stop", "red LED", "30", "2", "0"), "distance: 0 m cannot be used"),
        (("Stop", "red LED", "30", "2", "1500"), "0.02 m to 50 m"),
    ],
)
def test_a_typed_reading_that_cannot_be_is_refused_in_place(values: tuple[str, ...], said: str) -> None:
    desk = desk_with(LOG)
    fill(desk, *values)
    assert said in plain(desk.form_message)
    assert desk.text.value == LOG


def test_a_number_is_read_when_its_box_is_left_and_what_was_added_is_told() -> None:
    desk = ReadingsDesk()
    for box in (desk.lamp, desk.source, desk.lit, desk.dark, desk.distance, desk.claimed):
        assert box.continuous_update is False
    typed = ("Tail lamp left", "red LED B", "41.60", "2.1", "1.5", "1234")
    for box, value in zip(
        (desk.lamp, desk.source, desk.lit, desk.dark, desk.distance, desk.claimed), typed, strict=True
    ):
        box.value = value
    desk.add.click()
    assert desk.text.value.rstrip().endswith(",1234")
    assert "Added: Tail lamp left, red LED B, on 41.60 lx, off 2.1 lx, 1.5 m, 1234 lm claimed." in plain(desk.added)
    desk.lit.value = "1"
    desk.add.click()
    assert plain(desk.added) == ""


def test_desk_download_is_what_stands_on_it() -> None:
    import base64

    desk = desk_with(LOG)
    data = re.search(r'base64,([^"]+)"', desk.download.value)
    assert data is not None
    assert base64.b64decode(data[1]).decode() == LOG
    with pytest.raises(InputError, match="nothing of that name"):
        readings_panel.readings_desk("nowhere.csv")


# --- vehicle sheet ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def made() -> Any:
    return plan_of()


def test_a_pick_by_hand_is_fitted_with_what_it_needs(made: Any) -> None:
    picked = {"Rear turn left": "white LED B", "Rear turn right": "white LED B", "Number plate lamp": None}
    changed = by_hand(made, picked)
    assert changed.choice.chosen["Rear turn left"].name == "white LED B"
    assert changed.choice.chosen["Number plate lamp"] is None
    untouched = [n for n in made.choice.chosen if n not in picked]
    assert all(
        (made.choice.chosen[n] and made.choice.chosen[n].name)
        == (changed.choice.chosen[n] and changed.choice.chosen[n].name)
        for n in untouched
    )
    assert changed.choice.cost == pytest.approx(float(changed.choice.shopping_list().iloc[:-1, 3].sum()))
    (turn,) = [c for c in changed.circuits if c.circuit.name == "turn"]
    (before,) = [c for c in made.circuits if c.circuit.name == "turn"]
    assert turn.change.current[1] != before.change.current[1]
    assert by_hand(made, {}) is made


def test_what_physics_forbids_is_not_fitted_by_hand_either(made: Any) -> None:
    # The green LED has its centre contact positive, the van positive earth.
    changed = by_hand(made, {"Turn tell-tale": "green LED A"})
    assert changed.choice.chosen["Turn tell-tale"] is None
    (refusal,) = changed.choice.refused["Turn tell-tale"]["green LED A"]
    assert refusal is Family.POLARITY


def test_both_sides_and_both_filaments_of_a_holder_follow(made: Any) -> None:
    van = made.vehicle
    assert picked_along(van, "Stop lamp left", "white LED A") == {
        "Tail lamp left": "white LED A dim",
        "Stop lamp right": "white LED A",
        "Tail lamp right": "white LED A dim",
    }
    assert picked_along(van, "Tail lamp right", "red LED B dim")["Stop lamp left"] == "red LED B"
    assert picked_along(van, "Stop lamp left", Pick.KEEP)["Tail lamp right"] == Pick.KEEP
    assert picked_along(van, "Reversing lamp", "white LED C") == {}


def test_another_claim_changes_the_light_and_nothing_else(made: Any) -> None:
    source = made.vehicle.offers[0].source
    doubled = with_lumens(source, 2 * source.luminous_flux)
    assert np.allclose(doubled.spectrum, 2 * source.spectrum)
    assert float(lk.light.luminous_flux(doubled.spectrum)) == pytest.approx(doubled.luminous_flux)
    name = source.name
    van = with_offer(made.vehicle, name, 200.0, 9.0)
    assert {o.name: o.price for o in van.offers}[name] == 9.0
    held = [c for lamp in van.lamps for c in lamp.candidates if c.name == name]
    assert held and all(c.source.luminous_flux == 200.0 for c in held)
    assert {o.name for o in van.offers} == {o.name for o in made.vehicle.offers}


def test_a_plan_is_not_made_twice_and_only_lamps_with_the_light_source_are_assessed_again(
    made: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    known = lk.plan.plan.assess_lamps

    def watched(held: Any, *, lamps: Any, **how: Any) -> Any:
        asked.extend(lamp.name for lamp in lamps)
        return known(held, lamps=lamps, **how)

    monkeypatch.setattr(lk.plan.plan, "assess_lamps", watched)
    sheet = VehicleSheet(made)
    assert sheet.shown is made and not asked
    sheet.offer.value = "red LED A"
    sheet.lumens.value = "500"
    sheet.change.click()
    assert not plain(sheet.offer_message)
    has = {lamp.name for lamp in made.vehicle.lamps if any(o.name == "red LED A" for o in lamp.candidates)}
    assert asked and set(asked) <= has
    assert sheet.planned is not None
    again = {one.name: one for one in sheet.planned.predicted}
    for one in made.predicted:
        assert (again[one.name] is one) == (one.name not in has), one.name


def test_left_and_right_stand_in_one_row_as_on_the_job_sheet() -> None:
    made = plan_of(VAN)
    sheet = VehicleSheet(made)
    rows = [str(box.description) for row in sheet.rows.children for box in row.children[:1]]
    assert rows == [group.name for group in made.alike] and len(rows) < len(made.vehicle.lamps)
    assert set(sheet.picks) == set(sheet.results) == {lamp.name for lamp in made.vehicle.lamps}
    box = sheet.picks["Rear turn left"]
    box.value = "white LED B"
    assert sheet.shown is not None
    fitted = {name: sheet.shown.choice.chosen[f"Rear turn {name}"] for name in ("left", "right")}
    assert all(offer is not None and offer.name == "white LED B" for offer in fitted.values())
    assert plain(sheet.results["Rear turn right"]).count("white LED B") == 1
    front = sheet.shown.choice.chosen["Front turn left"]
    assert front == made.choice.chosen["Front turn left"]


def test_sheet_says_what_is_wrong_with_a_vehicle_file(tmp_path: Path) -> None:
    sheet = VehicleSheet(tmp_path)
    assert "vehicle.toml" in plain(sheet.open_message)
    sheet.save.click()
    assert "no vehicle is open" in plain(sheet.save_message)
    sheet.change.click()
    assert "no vehicle is open" in plain(sheet.offer_message)


def test_only_an_older_job_sheet_is_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    sheet = VehicleSheet(tmp_path)
    sheet.shown = plan_of(SMALL)
    sheet.target.value = "ours.html"
    (tmp_path / "ours.html").write_text("<p>holiday pictures</p>")
    sheet.save.click()
    assert "no job sheet stands there" in plain(sheet.save_message)
    assert (tmp_path / "ours.html").read_text() == "<p>holiday pictures</p>"
    sheet.target.value = "Blätter für den Bus.html"
    sheet.save.click()
    file = tmp_path / sheet.target.value
    assert plain(sheet.saved) == str(say("vehicle_sheet.saved", file=file, older=False))
    assert sheet.save_message.value == ""
    sheet.save.click()
    assert plain(sheet.saved) == str(say("vehicle_sheet.saved", file=file, older=True))


# --- how things show themselves -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def things() -> dict[str, Any]:
    lens = lk.lenses.load("red")
    old = lk.sources.filament("P21W", 13.5)
    new = lk.sources.white_led(6000, luminous_flux=1400, electrical_power=3.2, name="<b>odd</b> LED")
    log = lk.measurement.load_log(VAN / "readings.csv")
    return {
        "light source": new,
        "lens": lens,
        "log": log,
        "comparison": lk.measurement.compare_readings(log, draws=400),
        "assessment": lk.conversion.assess(old, [new], lens, function="stop", draws=400),
        "vehicle": lk.vehicle.load(VAN),
        "knowledge": lk.measurement.believed_lens(lens, draws=400),
    }


NAMES = ("light source", "lens", "log", "comparison", "assessment", "vehicle", "knowledge")


@pytest.mark.parametrize("name", NAMES)
def test_a_thing_shows_itself_in_a_notebook_and_in_a_terminal(things: dict[str, Any], name: str) -> None:
    words, page = repr(things[name]), things[name]._repr_html_()
    assert 0 < len(words) < 6000
    assert "array(" not in words and "object at 0x" not in words
    assert "<table" in page
    assert "<b>odd</b>" not in page, "a name is text, not markup"
    if name not in ("vehicle",):
        assert re.search(r"\[(nm|lx|lm|cd|1|K|m)\]", page), "units stand in the headings"


def test_a_table_on_a_page_has_words_left_and_numbers_right(things: dict[str, Any]) -> None:
    page = things["comparison"]._repr_html_()
    heads = {name: side for side, name in re.findall(r'<th scope="col" class="(word|number)">([^<]*)</th>', page)}
    assert heads["lamp"] == heads["new"] == "word"
    assert heads["fair ratio"] == heads["old [cd]"] == "number"
    # Two decimals of a ratio are known at most.
    assert not re.search(r">\d+\.\d{3,}<", page)
    assert page.count("data-heading=") == page.count("<td"), "on a narrow page each value keeps its heading"


def test_an_impossible_claim_is_said_where_the_assessment_is_shown(things: dict[str, Any]) -> None:
    assert numbers.together("Impossible: 1400 lm from 3.2 W") in things["assessment"]._repr_html_()


def test_a_chart_shows_itself_as_svg_in_the_colours_of_the_page(things: dict[str, Any]) -> None:
    for draw in (lk.page.through_lens_chart, lk.page.ratio_chart, lk.page.chromaticity_chart):
        page = draw(things["assessment"])._repr_html_()
        (element,) = svgs(page.replace("xlink:href", "href"))
        assert element.get("aria-label")
        assert "var(--ink" in page
        assert "--jp-content-font-color1" in page


def test_the_bench_offers_the_functions_that_the_rules_know() -> None:
    bench = lens_panel.LensBench("red")

    def offered() -> list[str]:
        return [value for _, value in bench.function.options if value]

    assert "rear turn" not in offered() and bench.function.value == "stop"
    edge = bench.edge.value = bench.edge.value + 2
    bench.function.value = "tail"
    bench.rules.value = "US"
    assert "rear turn" in offered() and "high-mounted stop" in offered()
    assert bench.function.value == "tail" and bench.edge.value == edge, "what was set stays"
    assert bench.assessment is not None and bench.assessment.colour_limit is not None
    assert bench.assessment.colour_limit.name == "US red" and not bench.message.value
    bench.function.value = "rear turn"
    bench.rules.value = "UN"
    assert bench.function.value == "stop", "what the rules do not know is not kept"
