"""Flash and road: the light of each moment, to scale, still where stillness is asked for."""

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from lampkit import tables
from lampkit.errors import InputError
from lampkit.page import time_pictures
from lampkit.plan import timing
from lampkit.vehicle import vehicle
from lampkit.vehicle.vehicle import Lamp


def light_of(code: str) -> float:
    """Luminance of a colour code by IEC 61966-2-1:1999, written down once more."""
    parts = [int(code[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.fixture(scope="module")
def lamps() -> dict[str, Lamp]:
    return {lamp.function: lamp for lamp in vehicle.load(tables.folder() / "library_van").lamps}


@pytest.fixture(scope="module")
def drawn(lamps: dict[str, Lamp]) -> str:
    return time_pictures.flash_picture(lamps["rear turn"]).html


def strips(html: str) -> list[list[float]]:
    """Light of each column of each strip, in the order of the picture."""
    groups = re.findall(r'<g shape-rendering="crispEdges" stroke-width="28">(.*?)</g>', html)
    return [[light_of(code) for code in re.findall(r'stroke="(#\w{6})"', group)] for group in groups]


def test_a_filament_comes_up_slowly_and_an_led_at_once(drawn: str) -> None:
    filament, led = strips(drawn)
    assert len(led) == 4  # lit and dark, twice
    first = filament[: len(filament) // 2]
    peak = int(np.argmax(first))
    assert all(np.diff(first[: peak + 1]) > 0)
    assert all(np.diff(first[peak:]) < 0)
    assert peak > 15


def test_the_strip_has_the_light_of_the_model(drawn: str, lamps: dict[str, Lamp]) -> None:
    _, light = timing.flash_of(lamps["rear turn"])
    filament, _ = strips(drawn)
    # What the brightest column has above the night is the greatest light of the flash.
    dark = min(filament)
    full = light_of(re.findall(r'class="face-\w+-F"[^>]*fill="(#\w{6})"', drawn)[0]) - dark
    assert (max(filament) - dark) / full == pytest.approx(float(light.max()), rel=0.08)


def test_it_moves_only_where_motion_is_welcome_and_stops_by_itself(drawn: str, lamps: dict[str, Lamp]) -> None:
    # WCAG 2.2: 2.3.1 at most three flashes a second, 2.2.2 what moves longer than five seconds can be stopped.
    assert "@media screen and (prefers-reduced-motion:no-preference)" in drawn
    seconds, times = re.findall(r"animation:face-\w+-F ([\d.]+)s linear (\d+)", drawn)[0]
    assert float(seconds) * int(times) <= 5.0
    assert 1 / float(seconds) <= 3.0
    still = time_pictures.flash_picture(lamps["rear turn"], moving=False).html
    assert "<style" not in still
    assert strips(still) == strips(drawn)


@pytest.mark.parametrize("moving", [True, False])
def test_the_same_bytes_well_formed_and_described(lamps: dict[str, Lamp], moving: bool) -> None:
    one, two = (time_pictures.flash_picture(lamps["rear turn"], moving=moving).html for _ in range(2))
    assert one == two
    assert ElementTree.fromstring(one).get("aria-label")
    assert len(one) < 25_000


@pytest.mark.parametrize(("rate", "duty", "key"), [(240, 0.5, "rate"), (0, 0.5, "rate"), (90, 1.0, "duty")])
def test_what_cannot_be_shown_is_refused(lamps: dict[str, Lamp], rate: float, duty: float, key: str) -> None:
    with pytest.raises(InputError, match=key):
        time_pictures.flash_picture(lamps["rear turn"], rate=rate, duty=duty)


def test_the_road_is_to_scale(lamps: dict[str, Lamp]) -> None:
    found = timing.assess_timing(lamps["stop"])
    assert found is not None
    html = time_pictures.road_picture(found).html
    ElementTree.fromstring(html)
    lines = re.search(r'd="M([\d.]+),40V[\d.]+M([\d.]+),40V', html)
    metres = {name: x for x, name in re.findall(r'x="([\d.]+)" y="[\d.]+" text-anchor="middle">(\d+)(?: m)?<', html)}
    assert lines is not None
    unit = float(metres["1"]) - float(metres["0"])
    led, filament = (float(place) for place in lines.groups())
    # 50 km/h are 13.9 m each second.
    assert (filament - led) / unit == pytest.approx(50 / 3.6 * found.gained[1], abs=0.02)
    car = re.search(r'<rect x="0.0" y="[\d.]+" width="([\d.]+)"', html)
    assert car is not None
    assert float(car[1]) / unit == pytest.approx(4.2, abs=0.03)
    assert f"{50 / 3.6 * found.gained[2]:.1f} m" in html
