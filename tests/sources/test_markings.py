"""Filament lamps by what is stamped on them, and which goes in place of which."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampkit import tables
from lampkit.errors import InputError
from lampkit.sources import filament_lamps, interchange, markings
from lampkit.sources.markings import Marking, read_marking
from lampkit.uncertainty.sampling import Belief


@pytest.mark.parametrize(
    ("text", "marking"),
    [
        ("12V 2.2W", Marking(12, (2.2,))),
        ("12 v 2,2 w", Marking(12, (2.2,))),
        ("6V 3W 25lm BA9s", Marking(6, (3.0,), (25.0,), "BA9s")),
        ("ba9s, 6V, 3W", Marking(6, (3.0,), (), "BA9s")),
        ("12V 21/5W BAY15d", Marking(12, (21.0, 5.0), (), "BAY15d")),
        ("12V 21/5W 440/35lm", Marking(12, (21.0, 5.0), (440.0, 35.0))),
        ("12V 5W W2.1x9.5d", Marking(12, (5.0,), (), "W2.1x9.5d")),
        ("24V 21/5W BA15d-3 (100/130)", Marking(24, (21.0, 5.0), (), "BA15d-3 (100/130)")),
    ],
)
def test_what_is_stamped_is_read_however_it_is_typed(text: str, marking: Marking) -> None:
    assert read_marking(text) == marking
    assert read_marking(marking.name) == marking


def test_amperes_stand_for_watts() -> None:
    found = read_marking("6.3V 0.25A")
    assert found is not None and found.powers == pytest.approx((1.575,))
    small = read_marking("14V 80mA")
    assert small is not None and small.powers == pytest.approx((1.12,))


@pytest.mark.parametrize("text", ["P21W", "P21/5W", "1157", "W2.3W", "12V", "12V BA9s", "T4W 12V", "lamp of 5 W"])
def test_a_designation_is_no_mark(text: str) -> None:
    assert read_marking(text) is None


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("12V 2W XX9", "'XX9'.*is no base"),
        ("12V 2W BA9s BA7s", "more than one base"),
        ("9V 2W", "none of the usual supplies"),
        ("12V 2W 3W", "watts twice"),
        ("12V 2W 0.3A", "watts and amperes"),
        ("12V 0W", "is no lamp"),
        ("12/6V 5W", "is no lamp"),
        ("12V 21/5W 440lm", "not as many lumens as watts"),
    ],
)
def test_a_mark_that_cannot_be_is_refused(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        filament_lamps.filament(text)


def test_a_lamp_of_another_supply_is_refused() -> None:
    with pytest.raises(InputError, match="no rating for 12 V"):
        filament_lamps.filament("6V 3W", rated_voltage=12)
    with pytest.raises(InputError, match="has two filaments"):
        filament_lamps.filament("12V 21/5W")


@pytest.mark.parametrize("held_out", ["UN R37", "US trade number"])
def test_lumens_from_watts_hold_for_lamps_that_had_no_part_in_the_line(
    held_out: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fitted to the lamps of one system only, nine in ten of the other lie within the interval."""
    rows = [row for row in tables.load("lamps", "ratings").rows() if not row["designation"].startswith("H")]
    known = [row for row in rows if row["system"] not in (held_out, "British trade number")]
    x = np.array([[1.0, np.log(row["power_W"]), row["filament"] == "minor"] for row in known])
    y = np.log([row["white_flux_lm"] for row in known])
    line = np.linalg.lstsq(x, y, rcond=None)[0]
    spread = float(np.sqrt(np.sum((y - x @ line) ** 2) / (len(y) - 3)))
    monkeypatch.setattr(markings, "_line", lambda: (line, spread, len(known)))
    others = [row for row in rows if row["system"] == held_out]
    found = [markings.flux_of_power(row["power_W"], minor=row["filament"] == "minor") for row in others]
    away = [abs(np.log(row["white_flux_lm"] / one.flux)) / one.spread for row, one in zip(others, found, strict=True)]
    assert np.mean(np.array(away) <= 2.0) >= 0.9


@given(st.floats(0.5, 30.0), st.floats(1.01, 3.0))
def test_more_watts_give_more_lumens_for_each_watt(watts: float, times: float) -> None:
    one, more = markings.flux_of_power(watts), markings.flux_of_power(times * watts)
    assert more.flux > times * one.flux
    assert markings.flux_of_power(watts, minor=True).flux < one.flux


def test_watts_at_a_nominal_voltage_span_both_meanings() -> None:
    """5 W at 13.5 V, as UN R37 has a lamp marked 12 V, 5 W, and 5 W at 12 V, which is 6 W at 13.5 V."""
    mark = markings.power_of_mark(12.0, 5.0)
    assert mark.voltage == 13.5
    assert mark.power * (1 - mark.tolerance / 100) < 5.0 < 6.0 < mark.power * (1 + mark.tolerance / 100)
    exact = markings.power_of_mark(14.4, 2.0)
    assert (exact.voltage, exact.power, exact.tolerance) == (14.4, 2.0, 10.0)


def test_volts_watts_and_base_of_a_category_are_that_category() -> None:
    found, listed = filament_lamps.rating("12V 4W BA9s"), filament_lamps.rating("T4W")
    assert (found["power_W"], found["flux_lm"]) == (listed["power_W"], listed["flux_lm"])
    assert "T4W" in found["source"] and found["designation"] == "12V 4W BA9s"
    # Lumens that were told are believed, and another base is another lamp.
    assert filament_lamps.rating("12V 4W 20lm BA9s")["flux_lm"] == 20.0
    assert filament_lamps.rating("12V 4W BA7s")["system"] == "as marked"


def test_lumens_that_are_not_told_are_wide_and_those_told_are_not() -> None:
    def belief(text: str) -> Belief:
        return next(b for b in filament_lamps.filament(text).beliefs if b.name == "true over claimed lumens")

    assert belief("12V 2.2W").spread > 0.2 and belief("12V 2.2W").shape == "lognormal"
    assert belief("12V 2.2W 18lm").spread == pytest.approx(0.1)


def test_a_trade_number_of_a_small_lamp_is_its_mark() -> None:
    lamp = filament_lamps.filament("281")
    assert lamp.name == "12V 2W BA7s" and lamp.rating is not None and lamp.rating["base"] == "BA7s"
    for row in tables.load("lamps", "markings").rows():
        marking = read_marking(row["marking"])
        assert marking is not None and marking.name == row["marking"] and marking.base
        assert filament_lamps.filament(row["marking"]).luminous_flux > 0


@pytest.mark.parametrize("number", ["1445", "1893", "281", "257", "756", "1816", "382", "987"])
def test_the_small_lamps_people_ask_for_are_there(number: str) -> None:
    assert filament_lamps.filament(number).electrical_power


def test_small_lamps_of_each_supply_and_base_are_listed() -> None:
    rows = [row for lamp in interchange.listed_lamps() for row in lamp.ratings if row["power_W"] <= 4.5]
    assert {(row["class_V"], row["base"]) for row in rows} >= {
        (volts, base) for volts in (6.0, 12.0, 24.0) for base in ("BA7s", "BA9s", "E10", "W2x4.6d")
    }
    assert min(row["power_W"] for row in rows) < 0.7


def test_words_pick_lamps() -> None:
    assert {lamp.base for lamp in interchange.listed_lamps(["BA9s", "6V"])} == {"BA9s"}
    assert {lamp.supply for lamp in interchange.listed_lamps(["BA9s", "6v"])} == {6.0}
    assert [lamp.designation for lamp in interchange.listed_lamps(["281"])] == ["12V 2W BA7s"]
    assert len(interchange.listed_lamps(["5W"])) > 3
    (free,) = interchange.listed_lamps(["12V", "2.2W", "E10"])
    assert free.designation == "12V 2.2W E10" and free.said.key == "lamp_list.lamp"
    with pytest.raises(InputError, match="no filament lamp answers to 'xyz'"):
        interchange.listed_lamps(["xyz"])


def names(designation: str, volts: float | None = None) -> list[str]:
    return [one.designation for one in interchange.replacements(designation, volts)]


def test_what_fits_in_place_of_what() -> None:
    """Trade cross-reference lists, from memory: 1156 for P21W, 7506 is P21W; 67 takes 8 W, R5W 5 W."""
    assert {"7506", "382", "1156"} <= set(names("P21W"))
    assert "1157" in names("P21/5W") and "P21/5W" in names("1157") and "2057" in names("1157")
    assert {"168", "501"} <= set(names("W5W"))
    assert "67" not in names("R5W") and "P21/5W" not in names("P21W") and "PY21W" not in names("P21W")
    assert names("12V 2.2W") == []
    assert "257" not in names("57") and names("257") == []  # one flashes by itself


@pytest.mark.parametrize("designation", ["P21W", "T4W", "1157", "R5W", "12V 2W BA9s", "W5W", "1893"])
def test_only_where_base_volts_and_watts_fit(designation: str) -> None:
    own = filament_lamps.ratings_of(designation)
    for one in interchange.replacements(designation):
        other = filament_lamps.ratings_of(one.designation, own[0]["class_V"])
        assert {row["base"] for row in other} == {row["base"] for row in own}
        for ratio, mine, its in zip(one.power, own, other, strict=False):
            # Watts moved to one voltage by the law V^1.6, in plain numbers.
            moved = its["power_W"] * (mine["test_V"] / its["test_V"]) ** 1.6 / mine["power_W"]
            assert ratio == pytest.approx(moved, rel=0.02)
            assert 0.75 <= ratio <= 1.34
        assert str(one.said).startswith(one.designation)
