"""Lit faces: the light of the screen is to scale, the filament looks the same everywhere, nothing hangs on colour."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from lampkit import conversion
from lampkit.conversion import Assessment
from lampkit.lenses import coloured_lens
from lampkit.light import colorimetry
from lampkit.page import lamp_faces
from lampkit.page.lamp_faces import Face
from lampkit.sources import filament_lamps, leds
from lampkit.visibility import brightness

LUMINANCE = (0.2126, 0.7152, 0.0722)  # IEC 61966-2-1:1999


def light_of(code: str) -> float:
    """Luminance of a colour code by the transfer function of IEC 61966-2-1:1999, written down once more."""
    parts = [int(code[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(share * one for share, one in zip(LUMINANCE, linear, strict=True))


@pytest.fixture(scope="module")
def job() -> Assessment:
    old = filament_lamps.filament("P21W", 13.5)
    candidates = [leds.coloured_led("red", luminous_flux=120), leds.white_led(6000, luminous_flux=420)]
    return conversion.assess(old, candidates, coloured_lens.load("red"), function="stop", draws=200, name="<Stop> & go")


def discs(html: str) -> list[str]:
    return re.findall(r'r="31" fill="(#[0-9a-f]{6})"', html)


@pytest.mark.parametrize("ratio", [0.2, 0.5, 1.0, 1.9])
@pytest.mark.parametrize("xy", [(0.64, 0.33), (0.56, 0.42), (0.40, 0.39), (0.31, 0.33), (0.25, 0.45), (0.17, 0.12)])
def test_the_screen_gives_light_as_the_lamps_do(ratio: float, xy: tuple[float, float]) -> None:
    old = Face("old", np.array([0.44, 0.405]), None)
    new = Face("new", np.array(xy), ratio * np.array([0.8, 1.0, 1.2]))
    first, second = discs(lamp_faces.side_by_side([old, new], "lamp").html)[::2]
    full = colorimetry.screen_light(np.array(xy)) @ np.array(LUMINANCE)
    wanted = ratio * light_of(first)
    # Beyond what the screen has of a colour it stays at its most, and says so.
    if wanted <= full:
        assert light_of(second) == pytest.approx(wanted, rel=0.03)
    else:
        assert "old" not in str(lamp_faces.side_by_side([old, new], "lamp").note).split("brighter", 1)[1]


def test_the_filament_looks_the_same_in_every_picture(job: Assessment) -> None:
    one, both = (discs(lamp_faces.lit_faces(job, results).html)[0] for results in (job.results[:1], None))
    assert one == both


def test_half_rings_are_the_ends_of_the_interval() -> None:
    old, new = (Face(n, np.array([0.44, 0.405]), r) for n, r in (("old", None), ("new", np.array([0.4, 0.9, 1.6]))))
    html = lamp_faces.side_by_side([old, new], "lamp").html
    dim, bright = re.findall(r'stroke="(#[0-9a-f]{6})" stroke-width="6"', html)[:2]
    filament = light_of(discs(html)[0])
    assert light_of(dim) / filament == pytest.approx(0.4, rel=0.03)
    assert light_of(bright) / filament == pytest.approx(1.6, rel=0.03)
    assert ">0.40<" in html and ">1.6<" in html


def test_what_a_screen_cannot_show_is_said() -> None:
    old = Face("old lamp", np.array([0.69, 0.305]), None)
    new = Face("strong lamp", np.array([0.60, 0.34]), np.array([2.0, 4.0, 8.0]))
    note = lamp_faces.side_by_side([old, new], "lamp").note
    assert note is not None
    assert note.values["outside"] == ["old lamp"]
    assert note.values["beyond"] == ["strong lamp"]


def test_names_and_numbers_stand_without_colour(job: Assessment) -> None:
    drawing = lamp_faces.lit_faces(job)
    for result in job.results:
        assert result.source.name in drawing.html
        assert f"{result.ratio[1]:.2g}"[:3] in str(drawing.words)


@pytest.mark.parametrize("low", [False, True])
def test_well_formed_small_and_the_same_bytes(job: Assessment, low: bool) -> None:
    def made() -> str:
        return (lamp_faces.faces_in_row(job, ["a", "b", "<c>"]) if low else lamp_faces.lit_faces(job)).html

    html = made()
    assert html == made()
    root = ElementTree.fromstring(html)
    assert all(svg.get("aria-label") for svg in root.iter("svg"))
    assert len(html) < 3 * 3000
    assert 'id="' not in html


def test_small_faces_fit_a_line_and_are_described(job: Assessment) -> None:
    drawing = lamp_faces.small_faces(job.old, job.results[0])
    root = ElementTree.fromstring(drawing.html)
    assert root.get("height") == "30"
    assert job.results[0].source.name in str(root.get("aria-label"))
    assert len(drawing.html) < 2500
    assert ElementTree.fromstring(lamp_faces.small_faces(job.old, None).html).get("width") == "30"


def test_eight_times_the_light_looks_twice_as_bright() -> None:
    # Stevens, Science 133 (1961) 80: exponent of a third (from memory).
    assert brightness.looks_brighter(8.0) == pytest.approx(2.0)


def test_the_screen_is_that_of_a_reference_library() -> None:
    import colour

    # Within what a screen can show, so that no way of mending colours outside is compared.
    for xy in ((0.3127, 0.3290), (0.40, 0.39), (0.50, 0.40), (0.25, 0.30), (0.32, 0.50)):
        reference = colour.XYZ_to_sRGB(colour.xy_to_XYZ(np.array(xy)) * 0.05)
        linear = colour.cctf_decoding(reference)
        assert colorimetry.screen_code(colorimetry.screen_light(np.array(xy)) * linear.max()) == pytest.approx(
            reference, abs=2e-3
        )
