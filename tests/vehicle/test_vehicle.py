"""The vehicle file: what is read from it, and one sentence with the line for everything that cannot be used."""

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from lampkit import grid, tables
from lampkit.cli import main
from lampkit.errors import InputError
from lampkit.light import photometry
from lampkit.sources.light_source import SourceKind
from lampkit.vehicle import file, schema, vehicle

DEMO = tables.folder() / "library_van"

GOOD = """\
[vehicle]
name = "Test trailer"
supply_voltage_V = 12
running_voltage_V = 13.2
rules = "UN"
note = '''
Over three lines, with a line that looks like one of another section:
[[lamp]]
lens = "not a key"
'''

[[light_source]]
name = "red one"
colour = "red"
claimed_lumens_lm = 120
power_W = 2.5
price = 4.5

[[light_source]]
name = "red one dim"
dim_level_of = "red one"
peak_nm = 628
claimed_lumens_lm = 14

[[light_source]]
name = "white one"
cct_K = 4000
claimed_lumens_lm = 300
voltage_V = [10, 30]
true_over_claimed = [0.5, 1.0]

[[light_source]]
name = "measured one"
spectrum = "spectrum.csv"
outside = "zero"
claimed_lumens_lm = 300

[[lens]]
name = "own lens"
colour = "red"
edge_nm = 600
width_nm = 8

[[lens]]
name = "curve lens"
colour = "amber"
curve = "curve.csv"
outside = "hold"

[[circuit]]
name = "rear"
fuse_A = 10
flasher = "thermal series"
flasher_rated_load_W = 46

[[part]]
name = "ballast"
kind = "ballast resistor"
resistance_ohm = 6.8
power_W = 50
price = 2

[[lamp]]
name = "Stop lamp left"
function = "stop"
lens = "own lens"
filament = "P21/5W"
filament_part = "major"
holder = "left"
circuit = "rear"
candidates = [
    "red one",  # a comment with [brackets] and "quotes"
    "white one",
]

[[lamp]]
name = "Tail lamp left"
function = "tail"
lens = "own lens"
filament = "P21/5W"
filament_part = "minor"
holder = "left"
candidates = ["red one dim"]

[[lamp]]
name = "Rear turn left"
function = "rear turn"
lens = "curve lens"
filament = "P21W"
candidates = ["white one", "measured one"]

[[lamp]]
name = "Tell-tale"
function = "tell-tale"
road_rule = false
lens = "green"
lens_material = "old glass"
filament = "T4W"
candidates = ["white one"]
"""

SPECTRUM = "wavelength_nm,relative_power\n490,0\n500,1\n" + "".join(f"{w},1\n" for w in range(510, 701, 10)) + "720,0\n"
CURVE = "wavelength_nm,transmittance\n" + "".join(f"{w},{0.01 if w < 550 else 0.85}\n" for w in range(400, 801, 10))


def write(folder: Path, text: str = GOOD, spectrum: str = SPECTRUM, curve: str = CURVE) -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "vehicle.toml").write_text(text, encoding="utf-8")
    (folder / "spectrum.csv").write_text(spectrum, encoding="utf-8")
    (folder / "curve.csv").write_text(curve, encoding="utf-8")
    return folder


# ------------------------------------------------------------------------------------------------- what is read


def test_the_gap_to_the_headlamp_is_read_in_millimetres(tmp_path: Path) -> None:
    text = GOOD.replace('function = "rear turn"', 'function = "front turn"\nheadlamp_spacing_mm = 30')
    read = vehicle.load(write(tmp_path / "trailer", text))
    (turn,) = (lamp for lamp in read.lamps if lamp.function == "front turn")
    assert turn.spacing == pytest.approx(0.03)


def test_the_good_file_is_read(tmp_path: Path) -> None:
    read = vehicle.load(write(tmp_path / "trailer"))
    assert (read.name, read.supply_voltage, read.running_voltage, read.earth) == ("Test trailer", 12, 13.2, "negative")
    stop, tail, turn, tell_tale = read.lamps
    assert [offer.name for offer in stop.candidates] == ["red one", "white one"]
    assert (stop.circuit and stop.circuit.flasher_rated_load, stop.holder, tail.holder) == (46, "left", "left")
    assert stop.lens is tail.lens
    assert tell_tale.lens.material == "old glass" and not tell_tale.road_rule
    # UN R37 rates the P21/5W at 440 lm and 35 lm and the P21W at 460 lm, all at 13.5 V; 13.2 V gives a little less.
    rated = np.array([440.0, 35.0, 460.0])
    fluxes = np.array([lamp.filament.luminous_flux for lamp in (stop, tail, turn)])
    np.testing.assert_array_less(fluxes, rated)
    np.testing.assert_allclose(fluxes, rated * (13.2 / 13.5) ** 3.4, rtol=0.01)


def test_every_light_source_carries_its_claim(tmp_path: Path) -> None:
    read = vehicle.load(write(tmp_path / "trailer"))
    for offer, claimed in zip(read.offers, (120, 14, 300, 300), strict=True):
        assert float(photometry.luminous_flux(offer.source.spectrum)) == pytest.approx(claimed, rel=1e-9)
        assert offer.source.voltage == 13.2
    assert read.offers[0].source.electrical_power == 2.5
    assert read.offers[1].dim_level_of == "red one"
    # Between 500 nm and 700 nm the table is flat, and beyond its ends there is no light.
    measured = read.offers[3].source.spectrum
    assert measured[grid.WAVELENGTHS == 600] == pytest.approx(measured[grid.WAVELENGTHS == 520])
    assert measured[0] == measured[-1] == 0


def test_the_belief_in_a_claim_can_be_set(tmp_path: Path) -> None:
    white = vehicle.load(write(tmp_path / "trailer")).offers[2].source
    belief = next(b for b in white.beliefs if b.name == "true over claimed lumens")
    # 95 % of a normal distribution lies within 1.959964 standard deviations.
    np.testing.assert_allclose(belief.value([-1.959964, 1.959964]), [0.5, 1.0], rtol=1e-6)


def test_a_lens_takes_the_stated_edge(tmp_path: Path) -> None:
    lens = vehicle.load(write(tmp_path / "trailer")).lamps[0].lens
    half = lens.transmittance[grid.WAVELENGTHS == 600] / lens.transmittance[-1]
    assert half == pytest.approx(0.5, abs=0.005)  # an edge stands at half of the plateau; the leak adds 0.0005


def test_thickness_and_fading_of_a_lens(tmp_path: Path) -> None:
    def transmittance(extra: str) -> np.ndarray:
        text = GOOD.replace("width_nm = 8", f"width_nm = 8\n{extra}")
        return vehicle.load(write(tmp_path / "trailer", text)).lamps[0].lens.transmittance

    plain, faded, thick = transmittance(""), transmittance("dye_left = 0.5"), transmittance("thickness_ratio = 2")
    assert np.all(thick <= plain) and np.all(plain <= faded)
    assert thick[230] < plain[230] < faded[230]


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    folder = write(tmp_path / "trailer")
    (folder / "vehicle.toml").write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert vehicle.load(folder).name == "Test trailer"
    (folder / "vehicle.toml").write_bytes(GOOD.replace("fuse_A = 10", "fuse_A = 0").replace("\n", "\r\n").encode())
    with pytest.raises(InputError, match=f"line {GOOD.splitlines().index('fuse_A = 10') + 1}, "):
        vehicle.load(folder)


def test_a_light_source_may_carry_the_designation_that_it_stands_in_for(tmp_path: Path) -> None:
    text = GOOD.replace('"red one"', '"P21/5W LED"')
    assert vehicle.load(write(tmp_path / "trailer", text)).lamps[0].candidates[0].name == "P21/5W LED"


def test_the_file_itself_will_do_for_the_folder(tmp_path: Path) -> None:
    assert vehicle.load(write(tmp_path / "trailer") / "vehicle.toml").name == "Test trailer"


@pytest.mark.parametrize(("supply", "running"), [(6, 6.75), (12, 13.5), (24, 28.0)])
def test_running_voltage_when_left_out(tmp_path: Path, supply: int, running: float) -> None:
    """The test voltages of the UN lamp regulations: 6.75 V, 13.5 V and 28.0 V."""
    text = GOOD.replace("supply_voltage_V = 12", f"supply_voltage_V = {supply}")
    text = text.replace("running_voltage_V = 13.2\n", "").replace("voltage_V = [10, 30]", "voltage_V = [5, 30]")
    assert vehicle.load(write(tmp_path / "trailer", text)).running_voltage == running


# ------------------------------------------------------------------------------------------------- the demo


def test_the_library_van() -> None:
    van = vehicle.load(DEMO)
    assert len(van.lamps) >= 14
    assert {lamp.lens.colour for lamp in van.lamps} == {"red", "amber", "clear", "green", "blue"}
    assert {lamp.function for lamp in van.lamps} == {
        *("stop", "tail", "rear turn", "front turn", "side repeater", "front position", "number plate"),
        *("reversing", "tell-tale"),
    }
    assert {lamp.lens.colour for lamp in van.lamps if not lamp.road_rule} == {"red", "green", "blue"}
    assert all(lamp.road_rule == (lamp.function != "tell-tale") for lamp in van.lamps)
    ratings = [lamp.filament.rating for lamp in van.lamps if lamp.filament.rating is not None]
    assert {row["filament"] for row in ratings if row["designation"] == "P21/5W"} == {"major", "minor"}
    names = [lamp.name for lamp in van.lamps]
    assert all(name.replace("left", "right") in names for name in names)
    assert all(lamp.circuit is not None and lamp.position is not None for lamp in van.lamps)


def test_the_measured_spectrum_of_the_van_is_the_published_illuminant() -> None:
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    theirs = colour.SDS_ILLUMINANTS["LED-B3"]
    white = next(o.source for o in vehicle.load(DEMO).offers if o.source.kind is SourceKind.MEASURED)
    ours = np.interp(theirs.wavelengths, grid.WAVELENGTHS, white.spectrum)
    np.testing.assert_allclose(ours / ours.max(), theirs.values / theirs.values.max(), atol=1e-9)


def test_one_light_source_of_the_van_claims_the_impossible() -> None:
    """No spectrum can exceed the luminous efficacy of its own radiation."""
    impossible = [
        offer.name
        for offer in vehicle.load(DEMO).offers
        if offer.source.electrical_power
        and offer.source.luminous_flux / offer.source.electrical_power
        > photometry.efficacy_of_radiation(offer.source.spectrum)
    ]
    assert impossible == ["white LED D"]


# ------------------------------------------------------------------------------------------------- broken files

# What is changed in the good file, into what, and the words that the one sentence must hold. Its line is that on which
# the last changed word stands.
EDITS: dict[str, tuple[str, str, str]] = {
    "unknown key": ('lens = "curve lens"', 'lense = "curve lens"', "there is no key 'lense'"),
    "unknown section": ("[[part]]", "[[parts]]", "there is no section 'parts'; expected one of"),
    "single brackets": ('[[part]]\nname = "ballast"', '[part]\nname = "ballast"', "expected [[part]], not [part]"),
    "double brackets": ("[vehicle]", "[[vehicle]]", "expected [vehicle], not [[vehicle]]"),
    "two vehicles": ("[[circuit]]", "[vehicle]", "the section stands there twice"),
    "key without its unit": (
        "claimed_lumens_lm = 120",
        "claimed_lumens = 120",
        "does not carry the unit lm; expected 'claimed_lumens_lm'",
    ),
    "key with another unit": ("peak_nm = 628", "peak_um = 0.628", "expected 'peak_nm', a value in nm"),
    "key in another spelling": ("power_W = 2.5", "power_w = 2.5", "expected 'power_W'"),
    "text for a number": ("claimed_lumens_lm = 14", 'claimed_lumens_lm = "14 lm"', "'14 lm' is not a number"),
    "number for text": ('filament = "P21W"', "filament = 1156", "1156 is not text"),
    "truth for a number": ("price = 4.5", "price = true", "true is not a number"),
    "text for truth": ("road_rule = false", 'road_rule = "no"', "'no' is neither true nor false"),
    "part of a lamp": ('circuit = "rear"', 'circuit = "rear"\nquantity = 1.5', "1.5 is not a whole number"),
    "not a number": ("power_W = 2.5", "power_W = nan", "nan is not a finite number"),
    "negative flux": ("claimed_lumens_lm = 14", "claimed_lumens_lm = -14", "-14 lm is below 0.1"),
    "negative price": ("price = 4.5", "price = -4.5", "-4.5 is below 0"),
    "colour temperature out of range": ("cct_K = 4000", "cct_K = 12000", "12000 K is above 8000"),
    "colour temperature in mired": ("cct_K = 4000", "cct_K = 250", "250 K is below 2200"),
    "peak outside visible light": ("peak_nm = 628", "peak_nm = 940", "940 nm is above 720"),
    "no such supply": ("supply_voltage_V = 12", "supply_voltage_V = 72", "expected 6 or 12 or 24 V; where a converter"),
    "running voltage of another supply": (
        "running_voltage_V = 13.2",
        "running_voltage_V = 6.75",
        "6.75 V does not go with a supply of 12 V",
    ),
    "limits in the wrong order": ("[0.5, 1.0]", "[1.0, 0.5]", "the lower limit 1 is not below the upper limit 0.5"),
    "one limit": ("true_over_claimed = [0.5, 1.0]", "true_over_claimed = [0.5]", "is no lower and upper limit"),
    "unknown rules": ('rules = "UN"', 'rules = "UNO"', "the rules 'UNO'"),
    "rules of the sea": ('rules = "UN"', 'rules = "COLREG"', "do not say what a lamp of a road vehicle shows"),
    "unknown function": ('function = "rear turn"', 'function = "rear trun"', "'rear trun' is unknown; "),
    "unknown lens": ('lens = "green"', 'lens = "gren"', "there is no lens 'gren'; expected one of"),
    "unknown filament": ('filament = "T4W"', 'filament = "T44W"', "there is no filament lamp 'T44W'; did you mean"),
    "unknown candidate": ('"red one dim"]', '"red one dimm"]', "there is no light source 'red one dimm' on offer"),
    "unknown circuit": ('circuit = "rear"', 'circuit = "reer"', "there is no circuit 'reer'; expected one of 'rear'"),
    "unknown colour": ('colour = "red"\nclaimed', 'colour = "pink"\nclaimed', "'pink' is unknown"),
    "unknown flasher": ('flasher = "thermal series"', 'flasher = "thermal"', "'thermal' is unknown"),
    "no part of a double filament": ('filament_part = "minor"\n', "", "'major' or 'minor'"),
    "a part of a single filament": (
        'filament = "P21W"',
        'filament = "P21W"\nfilament_part = "minor"',
        "P21W has no filament 'minor'",
    ),
    "a spacing for a rear lamp": (
        'function = "rear turn"',
        'function = "rear turn"\nheadlamp_spacing_mm = 30',
        "only a front turn lamp has limits",
    ),
    "one candidate without a list": ('["red one dim"]', '"red one dim"', "'red one dim' is no list"),
    "a candidate twice": ('"measured one"]', '"white one"]', "'white one' stands there twice"),
    "duplicate lamp": ('name = "Tail lamp left"', 'name = "Stop lamp left"', "stands there twice, first on line 64"),
    "duplicate light source": ('name = "white one"', 'name = "Red One"', "stands there twice, first on line 13"),
    "a light source named as a lens": ('name = "white one"', 'name = "own lens"', "'own lens' also names a lens"),
    "a light source named as a filament": ('name = "white one"', 'name = "P21W"', "'P21W' already names"),
    "a light source named as one filament of two": (
        'name = "white one"',
        'name = "P21/5W minor"',
        "'P21/5W minor' already names",
    ),
    "a light source named as the meter": ('name = "white one"', 'name = "meter"', "'meter' already names"),
    "a lens named as a colour": ('name = "own lens"', 'name = "red"', "'red' already means a lens"),
    "two kinds of light": ("cct_K = 4000", 'cct_K = 4000\ncolour = "red"', "contradict each other"),
    "a width of white": ("cct_K = 4000", "cct_K = 4000\nfwhm_nm = 20", "fwhm_nm does not go with cct_K"),
    "two kinds of lens": ("width_nm = 8", "width_nm = 8\nx = 0.68", "describe the lens in two ways"),
    "an edge that is not red": ("edge_nm = 600", "edge_nm = 500", "is outside"),
    "dim level of nothing": ('dim_level_of = "red one"', 'dim_level_of = "red two"', "no other light source 'red two'"),
    "dim level too bright": ("claimed_lumens_lm = 14", "claimed_lumens_lm = 140", "is no dimmer than 'red one'"),
    "a holder for two lamps": (
        'filament = "P21/5W"\nfilament_part = "minor"\nholder',
        'filament = "P21/4W"\nfilament_part = "minor"\nholder',
        "does not hold the filaments of one lamp",
    ),
    "load of no flasher": ('flasher = "thermal series"\n', "", "'flasher_rated_load_W' stands there without 'flasher'"),
    "a ballast without watts": ("power_W = 50\n", "", "the key 'power_W' is missing; expected the rated power"),
    "a tell-tale under a road rule": ("road_rule = false\n", "road_rule = true\n", "expected road_rule = false"),
    "missing spectrum file": (
        'spectrum = "spectrum.csv"',
        'spectrum = "spektrum.csv"',
        "there is no file 'spektrum.csv'",
    ),
    "empty name": ('name = "Tell-tale"', 'name = ""', "the text is empty"),
    "a line break in a name": ('name = "Tell-tale"', 'name = "Tell\\ntale"', "(U+000A, a line break)"),
    "an escape character in a note": ('rules = "UN"', 'rules = "\\u001b[31m"', "(U+001B, a control character)"),
    "an open quotation mark": ('lens = "green"', 'lens = "green', "this is not TOML"),
    "two values": ("fuse_A = 10", "fuse_A = 10 A", "this is not TOML"),
    "a comma for a point": ("running_voltage_V = 13.2", "running_voltage_V = 13,2", "this is not TOML"),
    "a key twice": ("price = 4.5", "price = 4.5\nprice = 5.5", "the key stands there twice"),
}

# A key that is missing is told with the line of its section: the heading, and the words of the sentence.
MISSING: dict[str, tuple[str, str]] = {
    'function = "rear turn"\n': ('[[lamp]]\nname = "Rear turn left"', "the key 'function' is missing"),
    'lens = "green"\n': ('[[lamp]]\nname = "Tell-tale"', "the key 'lens' is missing; expected the colour of the lens"),
    'candidates = ["red one dim"]\n': ('[[lamp]]\nname = "Tail lamp left"', "the key 'candidates' is missing"),
    'name = "own lens"\n': ('[[lens]]\ncolour = "red"', "the key 'name' is missing"),
    "supply_voltage_V = 12\n": ("[vehicle]", "the key 'supply_voltage_V' is missing"),
    "cct_K = 4000\n": ('[[light_source]]\nname = "white one"', "nothing says what its light is"),
}


def refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """Run the command, check exit code 2, one sentence and that nothing was touched, and return the sentence."""
    old = folder.parent / "old.html"
    old.write_text("what was there before", encoding="utf-8")
    before = {path: path.stat().st_mtime_ns for path in folder.parent.rglob("*")}
    code = main(["report", str(folder), "-o", str(old)])
    out, err = capsys.readouterr()
    assert code == 2
    assert out == ""
    assert err.startswith("lampkit: ") and err.endswith(".\n") and err.count("\n") == 1
    assert ". " not in err, "more than one sentence"
    assert "Traceback" not in err
    assert {path: path.stat().st_mtime_ns for path in folder.parent.rglob("*")} == before
    assert old.read_text(encoding="utf-8") == "what was there before"
    return err


def line_of(text: str, words: str) -> int:
    assert text.count(words) == 1, words
    return text[: text.index(words)].count("\n") + 1


@pytest.mark.parametrize("case", EDITS)
def test_a_broken_vehicle_file(case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    old, new, words = EDITS[case]
    line_of(GOOD, old)
    text = GOOD.replace(old, new)
    sentence = refused(write(tmp_path / "trailer", text), capsys)
    assert words in sentence
    told = re.match(r"lampkit: (\S+), line (\d+)[,:]", sentence)
    assert told is not None, sentence
    assert told.group(1) == str(tmp_path / "trailer" / "vehicle.toml")
    position = GOOD.index(old)
    changed = text[position : position + len(new)]
    first = text[:position].count("\n") + 1
    assert first <= int(told.group(2)) <= first + changed.count("\n") or not new, sentence


@pytest.mark.parametrize("taken", MISSING)
def test_a_missing_key(taken: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    heading, words = MISSING[taken]
    line_of(GOOD, taken)
    text = GOOD.replace(taken, "")
    sentence = refused(write(tmp_path / "trailer", text), capsys)
    assert words in sentence
    assert f"vehicle.toml, line {line_of(text, heading)}" in sentence


WHOLE: dict[str, tuple[Callable[[Path], object], str]] = {
    "no file": (lambda toml: toml.unlink(), "there is no vehicle.toml in this folder"),
    "a folder in its place": (lambda toml: (toml.unlink(), toml.mkdir()), "this is not a file"),
    "empty": (lambda toml: toml.write_bytes(b""), "the file is empty"),
    "comments only": (lambda toml: toml.write_bytes(b"# nothing\n\n"), "the file is empty"),
    "no lamps": (
        lambda toml: toml.write_text(GOOD[: GOOD.index('[[lamp]]\nname = "Stop')], encoding="utf-8"),
        "there is no section [[lamp]]",
    ),
    "no vehicle": (
        lambda toml: toml.write_text(GOOD[GOOD.index("[[light_source]]") :], encoding="utf-8"),
        "there is no section [vehicle]",
    ),
    "lamps in one line": (
        lambda toml: toml.write_text("lamp = 3\n" + GOOD[: GOOD.index('[[lamp]]\nname = "Stop')], encoding="utf-8"),
        "line 1: the section lamp has the wrong brackets or none; expected [[lamp]]",
    ),
    "huge": (lambda toml: toml.write_text(GOOD + "#" * 1_100_000, encoding="utf-8"), "holds 1.1 MB, too much"),
    "Latin 1": (
        lambda toml: toml.write_bytes(GOOD.replace("Test trailer", "Anhänger").encode("latin-1")),
        "line 2: the file is not plain text in UTF-8",
    ),
    "UTF-16": (lambda toml: toml.write_bytes(GOOD.encode("utf-16")), "the file is not plain text in UTF-8"),
    "binary": (lambda toml: toml.write_bytes(b"\x00" * 100), "the file holds binary data"),
    "nested without end": (
        lambda toml: toml.write_text("a = " + "[" * 100_000, encoding="utf-8"),
        "the brackets are nested too deeply",
    ),
    "a word processor's": (lambda toml: toml.write_bytes(b"PK\x03\x04\x14\x00\x06\x00"), "the file holds binary data"),
    "percent for transmittance": (
        lambda toml: (toml.parent / "curve.csv").write_text(CURVE.replace("0.85", "85"), encoding="utf-8"),
        "curve.csv, line 17: 85 at 550 nm is above one",
    ),
    "a curve out of order": (
        lambda toml: (toml.parent / "curve.csv").write_text(CURVE.replace("\n420,", "\n402,"), encoding="utf-8"),
        "curve.csv, line 4, wavelength_nm: 402 nm comes after 410 nm",
    ),
    "a negative spectrum": (
        lambda toml: (toml.parent / "spectrum.csv").write_text(SPECTRUM.replace("500,1", "500,-1"), encoding="utf-8"),
        "spectrum.csv, line 3: -1 at 500 nm is below zero",
    ),
    "a table that ends early": (
        lambda toml: toml.write_text(GOOD.replace('outside = "zero"\n', ""), encoding="utf-8"),
        "spectrum.csv: the table covers 490 nm to 720 nm only; expected 360 nm to 830 nm, or a rule for the rest",
    ),
    "a curve of nothing": (
        lambda toml: (toml.parent / "curve.csv").write_text(CURVE.replace("550,0.85", "550,"), encoding="utf-8"),
        "curve.csv, line 17, transmittance: the cell is empty",
    ),
    "an empty curve": (
        lambda toml: (toml.parent / "curve.csv").write_text("", encoding="utf-8"),
        "curve.csv: the file is empty",
    ),
}


@pytest.mark.parametrize("case", WHOLE)
def test_a_file_broken_as_a_whole(case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    change, words = WHOLE[case]
    folder = write(tmp_path / "trailer")
    change(folder / "vehicle.toml")
    sentence = refused(folder, capsys)
    assert words in sentence
    assert str(folder) in sentence


def test_no_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = write(tmp_path / "trailer")
    assert "nowhere: there is no such folder" in refused(folder.parent / "nowhere", capsys)
    assert "curve.csv: this is not a vehicle" in refused(folder / "curve.csv", capsys)
    assert "can be no file's name" in refused(folder.parent / ("x" * 300), capsys)


def test_the_line_of_every_key(tmp_path: Path) -> None:
    """The lines are held against the text itself, key by key, in files where brackets, comments and texts mislead."""
    for folder in (DEMO, write(tmp_path / "trailer")):
        lines = (folder / "vehicle.toml").read_text(encoding="utf-8").splitlines()
        for section, entries in schema.check(file.read(folder))[0].items():
            for entry in entries:
                assert re.fullmatch(rf"\[+{section}\]+", lines[entry.lines[""] - 1])
                assert set(entry.lines) == {"", *entry.values}
                for key in entry.values:
                    assert lines[entry.lines[key] - 1].startswith(f"{key} = ")
                    assert entry.lines[key] > entry.lines[""]
