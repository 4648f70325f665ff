"""Lamps of both sides written once, and the files that a vehicle file names."""

import os
from pathlib import Path

import numpy as np
import pytest
from vehicle_text import loaded

from lampkit import conversion
from lampkit.errors import InputError
from lampkit.lenses import coloured_lens
from lampkit.measurement import shortfall
from lampkit.sources import light_source
from lampkit.vehicle import vehicle

HEAD = """\
[vehicle]
name = "van"
supply_voltage_V = 12

[[light_source]]
name = "LED"
colour = "red"
claimed_lumens_lm = 120

[[light_source]]
name = "LED dim"
dim_level_of = "LED"
colour = "red"
claimed_lumens_lm = 12

"""
BOTH = """\
[[lamp]]
name = "Stop"
sides = ["left", "right"]
position = "rear"
function = "stop"
lens = "red"
filament = "P21/5W"
filament_part = "major"
holder = "rear"
candidates = ["LED"]

[lamp.left]
intensity_cd = 62
note = "read in May"

[[lamp]]
name = "Tail"
sides = ["left", "right"]
position = "rear"
function = "tail"
lens = "red"
filament = "P21/5W"
filament_part = "minor"
holder = "rear"
candidates = ["LED dim"]
right = { lens_material = "old glass" }
"""


def singly() -> str:
    """Write the same four lamps one by one."""
    written = []
    for name, part, led, own in (
        ("Stop", "major", "LED", {"left": 'intensity_cd = 62\nnote = "read in May"\n'}),
        ("Tail", "minor", "LED dim", {"right": 'lens_material = "old glass"\n'}),
    ):
        for side in ("left", "right"):
            keys = {"name": f"{name} {side}", "position": f"rear {side}", "function": name.lower(), "lens": "red"}
            keys |= {"filament": "P21/5W", "filament_part": part, "holder": f"rear {side}"}
            lines = [f'{key} = "{value}"' for key, value in keys.items()]
            written += ["[[lamp]]", *lines, f'candidates = ["{led}"]', own.get(side, "")]
    return "\n".join(written)


def told(lamp: vehicle.Lamp) -> tuple[object, ...]:
    lens, filament = (lamp.lens.name, lamp.lens.material), (lamp.filament.name, lamp.filament.luminous_flux)
    names = tuple(offer.name for offer in lamp.candidates)
    own = (lamp.name, lamp.function, lamp.position, lamp.side, lamp.holder, lamp.quantity, lamp.intensity, lamp.note)
    return (*own, lens, filament, names)


def test_both_sides_written_once_are_the_two_lamps_written_singly(tmp_path: Path) -> None:
    once, twice = loaded(tmp_path, HEAD + BOTH), loaded(tmp_path, HEAD + singly())
    assert [told(lamp) for lamp in once.lamps] == [told(lamp) for lamp in twice.lamps]
    names = [("Stop left", "left"), ("Stop right", "right"), ("Tail left", "left"), ("Tail right", "right")]
    assert [(lamp.name, lamp.side) for lamp in once.lamps] == names
    left, right = once.lamps[:2]
    assert left.lens is right.lens and left.filament is right.filament
    assert left.candidates[0] is right.candidates[0]


def test_a_position_without_sides_keeps_its_word(tmp_path: Path) -> None:
    roof = loaded(tmp_path, HEAD + BOTH.replace('position = "rear"', 'position = "roof"')).lamps
    assert [(lamp.position, lamp.side) for lamp in roof[:2]] == [("roof", "left"), ("roof", "right")]
    nowhere = loaded(tmp_path, HEAD + BOTH.replace('position = "rear"\n', "")).lamps
    assert [(lamp.position, lamp.side) for lamp in nowhere[:2]] == [(None, "left"), (None, "right")]


LINES = HEAD.count("\n")
SIDES, REAR = 'sides = ["left", "right"]', 'position = "rear"'
BROKEN = {
    "one side": ("Stop", SIDES, 'sides = ["left"]', 3, 'the list holds 1; expected `["left", "right"]`'),
    "another side": ("Stop", SIDES, 'sides = ["left", "top"]', 3, "'top' is unknown; expected one of 'left', 'right'"),
    "one position": ("Stop", REAR, 'position = "rear left"', 4, "'rear left' is one side, and the lamp is on both"),
    "a number": ("Stop", "= 62", "= -62", 12, "left of 'Stop': intensity_cd: -62 cd is below 0.01"),
    "another job": ("Stop", "intensity_cd = 62", 'function = "tail"', 12, "there is no key 'function' in 'left'"),
    "a circuit": ("Stop", "intensity_cd = 62", 'circuit = "none"', 12, "circuit of 'Stop': there is no circuit 'none'"),
    "a lens": ("Stop", 'lens = "red"', 'lens = "rod"', 6, "lens of 'Stop': there is no lens 'rod'"),
    "nothing": ("Tail", '{ lens_material = "old glass" }', "{}", 26, "right of 'Tail': nothing stands in it"),
    "no sides": ("Tail", SIDES + "\n", "", 25, "right of 'Tail': 'right' stands there without 'sides'"),
}


@pytest.mark.parametrize("case", BROKEN)
def test_what_is_wrong_with_a_lamp_of_both_sides_is_said_once(tmp_path: Path, case: str) -> None:
    name, old, new, line, words = BROKEN[case]
    start = BOTH.index(f'name = "{name}"')
    with pytest.raises(InputError) as caught:
        loaded(tmp_path, HEAD + BOTH[:start] + BOTH[start:].replace(old, new, 1))
    (fault,) = caught.value.faults
    assert fault.line == LINES + line
    assert words in str(fault)


def test_a_lamp_at_the_side_has_a_side(tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match=r"position of 'Tail': a lamp at the side is left or right; expected 'side left'"
    ):
        loaded(tmp_path, HEAD + ONE.replace(SIDES + "\n", "").replace("rear", "side"))


# ------------------------------------------------------------------------------------------------- files that are named

MEASURED = HEAD.replace('"red"\nclaimed_lumens_lm = 120', '"red"\nclaimed_lumens_lm = 120\noutside = "zero"')
MEASURED = MEASURED.replace('colour = "red"\nclaimed_lumens_lm = 120', 'spectrum = "NAME"\nclaimed_lumens_lm = 120')
ONE = BOTH[BOTH.index('[[lamp]]\nname = "Tail"') :].replace("LED dim", "LED").replace("P21/5W", "P21W")
ONE = ONE.replace('filament_part = "minor"\nholder = "rear"\n', "").replace(
    'right = { lens_material = "old glass" }\n', ""
)
SPECTRUM = "wavelength_nm,relative_power\n" + "".join(f"{w},1\n" for w in range(400, 701, 10))


def test_a_file_of_the_folder_is_read_also_from_a_folder_in_it(tmp_path: Path) -> None:
    (tmp_path / "curves").mkdir()
    (tmp_path / "curves" / "white.csv").write_text(SPECTRUM)
    (tmp_path / "link.csv").symlink_to("curves/white.csv")
    for name in ("curves/white.csv", "./curves/../curves/white.csv", "link.csv"):
        assert loaded(tmp_path, MEASURED.replace("NAME", name) + ONE).offers[0].source.kind


def test_nothing_outside_of_the_folder_is_opened_or_quoted(tmp_path: Path) -> None:
    van, outside = tmp_path / "van", tmp_path / "secret.csv"
    van.mkdir()
    outside.write_text("a secret heading\n1\n2\n")
    os.mkfifo(van / "pipe.csv")
    (van / "link.csv").symlink_to(outside)
    (van / "device.csv").symlink_to("/dev/zero")
    (van / "loop.csv").symlink_to("loop.csv")
    (van / "note.csv").write_text("a private note\n1\n2\n")
    leads_out = (
        "leads out of the folder of the vehicle; expected the name of a file beside vehicle.toml; copy it there."
    )
    for name, words in (
        ("../secret.csv", leads_out),
        ("/etc/passwd", leads_out),
        ("/dev/zero", leads_out),
        ("/proc/kmsg", leads_out),
        ("link.csv", leads_out),
        ("device.csv", leads_out),
        ("~/secret.csv", "there is no file '~/secret.csv' in the folder"),
        ("pipe.csv", "there is no file 'pipe.csv' in the folder"),
        ("loop.csv", "there is no file 'loop.csv' in the folder"),
        (".", "there is no file '.' in the folder"),
        ("ü" * 80, "in the folder"),
        ("é灯" * 40, "in the folder"),
        ("note.csv", "note.csv, line 1: there is no column 'wavelength_nm'; expected a heading such as"),
    ):
        with pytest.raises(InputError) as caught:
            loaded(van, MEASURED.replace("NAME", name) + ONE)
        assert words in str(caught.value), caught.value
        assert "secret heading" not in str(caught.value) and "private" not in str(caught.value)


def with_filament(tmp_path: Path, filament: str) -> Path:
    lamp = f"""
[[lamp]]
name = "Speedometer light"
function = "instrument light"
road_rule = false
lens = "clear"
filament = "{filament}"
candidates = ["LED"]
"""
    (tmp_path / "vehicle.toml").write_text(HEAD + lamp, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("filament", "watts", "base"), [("12V 2.2W", 2.42, ""), ("12 V 1.2W ba7s", 1.32, "BA7s"), ("14V 80mA", 1.06, "")]
)
def test_a_filament_lamp_by_what_is_stamped_on_it(tmp_path: Path, filament: str, watts: float, base: str) -> None:
    """Watts at 13.5 V: 2.42 W lies between 2.2 W, meant at 13.5 V, and 2.66 W, meant at 12 V."""
    (lamp,) = vehicle.load(with_filament(tmp_path, filament)).lamps
    assert lamp.filament.electrical_power == pytest.approx(watts, rel=0.02) and lamp.filament.voltage == 13.5
    assert lamp.filament.rating is not None and lamp.filament.rating["base"] == base


@pytest.mark.parametrize(
    ("filament", "message"),
    [
        ("6V 2W", "filament of 'Speedometer light': 6V 2W has no rating for 12 V"),
        ("12V 2W BX7", "'BX7'"),
        ("12V", "12V 2"),
    ],
)
def test_a_mark_that_cannot_be_used_is_refused_by_its_line(tmp_path: Path, filament: str, message: str) -> None:
    with pytest.raises(InputError, match=message) as refused:
        vehicle.load(with_filament(tmp_path, filament))
    assert "line 22" in str(refused.value) and "filament of" in str(refused.value)


def test_what_an_old_bulb_keeps_can_be_told_lamp_by_lamp(tmp_path: Path) -> None:
    """A share that is known is no belief any more; a range is one; what is not told is assumed."""
    right = 'right = { lens_material = "old glass" }'
    assert BOTH.count(right) == 1
    own = BOTH.replace("intensity_cd = 62", "blackened = 0.3").replace(right, "blackened = [0.0, 0.1]")
    known = {lamp.name: lamp.filament for lamp in loaded(tmp_path, HEAD + own).lamps}
    kept = {
        name: next(b for b in source.beliefs if b.name == light_source.BLACKENING) for name, source in known.items()
    }
    assert kept["Stop left"].typical == pytest.approx(0.7) and kept["Stop left"].spread == 0.0
    assert kept["Stop right"].typical == pytest.approx(np.sqrt(0.75 * 0.9))
    assert "assumption" in kept["Stop right"].source
    for side in ("left", "right"):
        assert kept[f"Tail {side}"].value([-1.96, 1.96]) == pytest.approx([0.9, 1.0], abs=0.01)
    # The old lamp that lost three tenths is easier to match, by as much.
    red = loaded(tmp_path, HEAD + own).offers[0].source
    lens = coloured_lens.load("red")
    ratios = [
        conversion.assess(known[f"Stop {side}"], [red], lens, draws=4000).results[0].ratio[1]
        for side in ("left", "right")
    ]
    assert ratios[0] / ratios[1] == pytest.approx(np.sqrt(0.75 * 0.9) / 0.7, rel=0.02)


def test_what_is_believed_of_a_light_source_can_be_told(tmp_path: Path) -> None:
    """Heat, drift, beam, colour: each range or uncertainty of the file is the belief of the source."""
    colour = 'colour = "red"\nclaimed_lumens_lm = 120\n'
    more = (
        f"{colour}peak_nm = 626\npeak_uncertainty_nm = 1\nhot_over_cold = [0.7, 0.8]\ndrift_nm = [1, 3]\n"
        "beam_ratio = [0.9, 1.6]\ntrue_over_claimed = [0.9, 1.0]\n"
    )
    white = (
        "cct_K = 6000\nduv = 0.004\ncct_uncertainty_K = 120\nduv_uncertainty = 0.001\n"
        "claimed_lumens_lm = 120\nhot_over_cold = [0.7, 0.8]\n"
    )
    red = loaded(tmp_path, HEAD.replace(colour, more, 1) + BOTH).offers[0].source
    pale = loaded(tmp_path, HEAD.replace(colour, white, 1) + BOTH).offers[0].source

    def middle(source: light_source.LightSource, name: str) -> list[float]:
        belief = next(b for b in source.beliefs if b.name == name)
        assert "given by the user" in belief.source
        return [float(v) for v in belief.value([-1.959964, 0.0, 1.959964])]

    assert middle(red, "peak wavelength") == pytest.approx([626 - 1.96, 626, 626 + 1.96], abs=0.01)
    assert middle(red, "drift when hot") == pytest.approx([1, 2, 3], abs=1e-6)
    assert middle(red, "true over claimed lumens") == pytest.approx([0.9, np.sqrt(0.9), 1.0])
    for source in (red, pale):
        assert middle(source, "hot over cold light") == pytest.approx([0.7, np.sqrt(0.56), 0.8])
    far = np.exp(1.96 * 0.02)
    assert middle(pale, "correlated colour temperature") == pytest.approx([6000 / far, 6000, 6000 * far], 1e-3)
    assert middle(pale, "Duv") == pytest.approx([0.004 - 0.00196, 0.004, 0.004 + 0.00196], abs=1e-5)
    beam = shortfall.beam_of(red)
    assert beam.value([-1.959964, 1.959964]) == pytest.approx([0.9, 1.6])
    assert shortfall.beam_of(pale) == shortfall.beam_belief(None)


def test_what_belongs_to_another_kind_of_light_source_is_refused(tmp_path: Path) -> None:
    for key in ("cct_uncertainty_K = 100", "duv_uncertainty = 0.001"):
        with pytest.raises(InputError, match="does not go with colour"):
            loaded(tmp_path, HEAD.replace('colour = "red"', f'colour = "red"\n{key}', 1) + BOTH)
    with pytest.raises(InputError, match="does not go with cct_K"):
        loaded(tmp_path, HEAD.replace('colour = "red"', "cct_K = 3000\ndrift_nm = [0, 1]", 1) + BOTH)
