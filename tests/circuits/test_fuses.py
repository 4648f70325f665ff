"""A fuse protects the wire: what a wire of 1 mm2 bears, what is left as it is, and what is never advised."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from lampkit.circuits import circuit_change, fuses, loads
from lampkit.circuits.fuses import FuseMark, FuseVerdict
from lampkit.circuits.tasks import Caution
from lampkit.circuits.wiring import Wire
from lampkit.sources import hot_wire, warming

P21 = loads.filament_load(25.0, 13.5, name="21 W lamp")
LED = loads.led_load(2.0, 13.5, feed="regulated", name="LED")
BLADE, NONE, UNKNOWN, BLOWING = FuseMark.BLADE, FuseMark.NONE, FuseMark.UNKNOWN, FuseMark.BLOWING


@pytest.mark.parametrize(
    ("fitted", "mark", "filaments", "verdict"),
    [
        (35.0, BLADE, 3.6, FuseVerdict.DOES_NOT_PROTECT),
        (35.0, BLOWING, 3.6, FuseVerdict.DOES_NOT_PROTECT),  # 17.5 A for good is more than 16.5 A
        (30.0, BLOWING, 3.6, FuseVerdict.LEAVE),
        (30.0, UNKNOWN, 3.6, FuseVerdict.ASK_HOW_MARKED),
        (5.0, BLADE, 3.6, FuseVerdict.LEAVE),
        (10.0, BLADE, 0.6, FuseVerdict.LEAVE),
        (3.0, BLADE, 3.6, FuseVerdict.TOO_SMALL),
        (None, NONE, 3.6, FuseVerdict.NONE_FITTED),
        (None, UNKNOWN, 3.6, FuseVerdict.NOT_TOLD),
        (15.0, BLADE, 14.0, FuseVerdict.WIRE_TOO_THIN),
    ],
)
def test_fuse_of_a_wire_of_1_mm2(fitted: float | None, mark: FuseMark, filaments: float, verdict: FuseVerdict) -> None:
    """The sources rate 1 mm2 at 8.75 A to 16.5 A: 7.5 A is the careful fuse, 15 A the largest."""
    found = fuses.judge_fuse(0.6, "1.0 mm2", fitted, filaments=filaments, mark=mark)
    assert found.verdict is verdict
    assert (found.careful, found.most) == (7.5, 15.0)
    assert found.judged.key == f"fuse.{verdict.value}" and str(found.said).endswith(".")


@given(st.floats(0.01, 10.0), st.floats(0.01, 10.0), st.sampled_from(FuseMark))
def test_never_below_three_amperes_nor_below_what_the_old_lamps_draw(now: float, old: float, mark: FuseMark) -> None:
    found = fuses.judge_fuse(now, "1.0 mm2", None, filaments=old, mark=mark)
    assert found.least >= 3.0
    assert found.least >= 1.25 * max(now, old)


def test_a_load_that_no_fuse_carries_is_told_as_such() -> None:
    """1.25 times 33 A is more than 40 A, the largest blade fuse; 1.0 mm2 bears 16.5 A at most."""
    for fitted, mark in ((8.0, BLADE), (16.0, BLADE), (None, NONE)):
        found = fuses.judge_fuse(33.0, "4 mm2", fitted, mark=mark, also_feeds=())
        assert found.least == float("inf") and "inf" not in str(found.said)
    bare = fuses.judge_fuse(30.0, "1.0 mm2", None, mark=NONE, also_feeds=()).judged
    assert bare.values["too_thin"] and "40 A" not in str(bare) and "split the circuit" in str(bare)


def test_no_amperes_are_advised_where_other_loads_hang_on_it_or_may() -> None:
    for others, key in ((None, "fuse.others_on_top"), (("horn", "wiper"), "fuse.others"), ((), None)):
        found = fuses.judge_fuse(0.6, "1.0 mm2", None, filaments=3.6, mark=NONE, also_feeds=others)
        assert (found.others.key if found.others else None) == key
        assert found.judged.values["alone"] is (others == ())


def test_an_assumed_wire_is_never_the_ground_to_call_a_fuse_wrong() -> None:
    found = fuses.judge_fuse(0.6, "1.0 mm2", 35.0, filaments=3.6, mark=BLADE, wire_known=False)
    assert found.verdict is FuseVerdict.LEAVE
    assert found.said.values["wire"].key == "fuse.wire_assumed"


def test_hazard_flashers_and_inrush_are_counted() -> None:
    wire = circuit_change.LampCircuit("turn", 13.5, Wire("1.0 mm2", 6.0), earth_resistance=0.05)
    alone = circuit_change.before_and_after(wire, [P21] * 2, [LED] * 2).fuse_state
    both = circuit_change.before_and_after(wire, [P21] * 2, [LED] * 2, also_lit=([P21] * 2, [LED] * 2)).fuse_state
    assert both.now == pytest.approx(2 * alone.now, rel=0.01)
    assert both.filaments > 1.9 * alone.filaments
    kept = circuit_change.before_and_after(wire, [P21] * 2, [P21] * 2).fuse_state
    assert kept.rush[1] > 7 * kept.now and kept.said.values["load"].values["rush"] is not None
    # The old lamps go back in at the roadside, so their rush is told with LEDs too; hazard flashers double the load.
    assert alone.rush == kept.rush and alone.said.values["load"].values["rush"] == kept.rush[1]
    assert both.rush[1] > alone.rush[1]


@pytest.mark.parametrize(
    ("fitted", "mark", "verdict"),
    [
        (5.0, BLADE, FuseVerdict.TIRES),
        (7.5, BLADE, FuseVerdict.LEAVE),
        (5.0, UNKNOWN, FuseVerdict.LEAVE),  # of a glass fuse nobody knows what melts it
    ],
)
def test_the_rush_of_filaments_tires_a_fuse_that_carries_them(
    fitted: float, mark: FuseMark, verdict: FuseVerdict
) -> None:
    """Two 21 W lamps put about 13 A2s through it: half of what melts 5 A (26 A2s), a fifth of 7.5 A (60 A2s)."""
    found = fuses.judge_fuse(0.6, "1.0 mm2", fitted, filaments=3.6, mark=mark, switched=3.6)
    assert found.verdict is verdict and found.least == 7.5
    assert found.judged.key == f"fuse.{verdict.value}" and str(found.judged).endswith(".")
    assert found.pulse == pytest.approx(13.0, abs=0.1)


def test_the_rush_is_that_of_the_hot_wire() -> None:
    """Squared current over 0.15 s, in units of the settled one: the longest is 1.1 s, and the kit takes 1 s for all."""
    seconds = []
    for power, volts, temperature in ((25, 13.5, 2800), (26, 6.75, 2800), (4, 13.5, 2400)):
        course = warming.switch_on(hot_wire.hot_wire_of_rating(volts, power, temperature), volts, series_resistance=0.1)
        early = course.time <= 0.15
        seconds.append(trapezoid((course.current[early] / course.settled_current) ** 2, course.time[early]))
    assert max(seconds) == pytest.approx(fuses.RUSH_TIME, rel=0.15) and min(seconds) > 0.4


def test_an_unknown_mark_is_asked_only_where_it_matters() -> None:
    """30 A on glass carries 15 A or 30 A; 1 mm2 bears 16.5 A at most, so only the maker's mark tells."""
    asked = fuses.judge_fuse(0.6, "1.0 mm2", 30.0, filaments=3.6, mark=UNKNOWN)
    assert asked.judged.key == "fuse.ask_how_marked" and asked.judged.values["half"] == 15.0
    assert fuses.judge_fuse(0.6, "1.0 mm2", 10.0, filaments=3.6, mark=UNKNOWN).verdict is FuseVerdict.LEAVE


def test_what_is_right_is_left_whatever_the_new_lamps_draw() -> None:
    """The load falls from 3.6 A to 0.6 A, and no smaller fuse is advised: the wire is the same."""
    found = fuses.judge_fuse(0.6, "1.0 mm2", 10.0, filaments=3.6, mark=BLADE, switched=3.6)
    assert found.judged.key == "fuse.leave" and "1 A" not in str(found.judged).replace("10 A", "")
    told = str(found.said)
    assert "up to 7.5 A" in told and "Load as chosen 0.6 A, with filament lamps 3.6 A" in told


@pytest.mark.parametrize(
    ("mark", "told"), [(NONE, Caution.NO_FUSE), (UNKNOWN, Caution.GLASS_FUSE), (BLOWING, Caution.GLASS_FUSE)]
)
def test_cautions_stand_beside_the_fuse(mark: FuseMark, told: Caution) -> None:
    found = fuses.judge_fuse(0.6, "1.0 mm2", mark=mark)
    assert told in found.cautions and {Caution.FUSE_SIZE, Caution.SPARE_FILAMENTS} <= set(found.cautions)


@pytest.mark.parametrize(("rush", "told"), [((4.0, 7.6), None), ((4.0, 8.4), 8.4)])
def test_a_rush_is_told_where_it_is_more_than_twice_what_filaments_draw(
    rush: tuple[float, float], told: float | None
) -> None:
    found = fuses.judge_fuse(0.6, "1.0 mm2", 7.5, filaments=4.0, rush=rush)
    assert found.said.values["load"].values["rush"] == told


def test_a_wire_and_a_load_that_just_fit_a_size_take_it() -> None:
    """0.5 mm2 is rated at 5 A in the workshop and at 11 A by thin-wall cable; 4 A times 1.25 is just 5 A."""
    found = fuses.judge_fuse(4.0, "0.5 mm2", 5.0, mark=BLADE)
    assert (found.careful, found.most, found.least) == (5.0, 10.0, 5.0)
    # A fuse that carries just what flows is not called too small.
    assert fuses.judge_fuse(5.0, "1.0 mm2", 5.0, mark=BLADE).verdict is FuseVerdict.LEAVE


def test_what_no_allowed_size_would_bear_and_what_an_assumed_wire_may_bear_is_left() -> None:
    """6.2 A of filaments put 38.4 A2s through it: over a third of 115 A2s (10 A), and 15 A is too much for 0.5 mm2."""
    found = fuses.judge_fuse(0.6, "0.5 mm2", 10.0, filaments=6.2, mark=BLADE, switched=6.2)
    assert found.verdict is FuseVerdict.LEAVE and found.least == 15.0
    # 14 A times 1.25 is more than 16.5 A, but the wire was only assumed.
    assumed = fuses.judge_fuse(0.6, "1.0 mm2", 15.0, filaments=14.0, mark=BLADE, wire_known=False)
    assert assumed.verdict is FuseVerdict.LEAVE
    # 13.2 A times 1.25 is just the 16.5 A that the wire is rated at.
    assert fuses.judge_fuse(0.6, "1.0 mm2", 15.0, filaments=13.2, mark=BLADE).verdict is FuseVerdict.LEAVE


@pytest.mark.parametrize("size", [7.5, 10.0, 15.0])
def test_the_other_side_lit_by_the_hazard_switch_tires_a_fuse_as_four_lamps_do(size: float) -> None:
    """The fuse cannot tell two sides of two lamps from four lamps: all are cold at the same instant."""
    circuit = circuit_change.LampCircuit("turn", 13.5, Wire("4.0 mm2", 2), fuse=size, fuse_mark=BLADE)
    both = circuit_change.before_and_after(circuit, [P21] * 2, [LED] * 2, also_lit=([P21] * 2, [LED] * 2))
    four = circuit_change.before_and_after(circuit, [P21] * 4, [LED] * 4)
    assert both.fuse_state.verdict is four.fuse_state.verdict
