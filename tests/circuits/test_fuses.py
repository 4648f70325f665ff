"""A fuse protects the wire: what a wire of 1 mm2 bears, what is left as it is, and what is never advised."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lampkit.circuits import circuit_change, fuses, loads
from lampkit.circuits.caution import Caution
from lampkit.circuits.fuses import FuseMark, FuseVerdict
from lampkit.circuits.wiring import Wire

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


def test_no_amperes_are_advised_where_other_loads_hang_on_it_or_may() -> None:
    for others, key in ((None, "fuse.others_unknown"), (("horn", "wiper"), "fuse.others"), ((), None)):
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
    assert kept.rush[1] > 10 * kept.now and kept.said.values["load"].values["rush"] is not None
    assert alone.said.values["load"].values["rush"] is None


@pytest.mark.parametrize(
    ("mark", "told"), [(NONE, Caution.NO_FUSE), (UNKNOWN, Caution.GLASS_FUSE), (BLOWING, Caution.GLASS_FUSE)]
)
def test_cautions_stand_beside_the_fuse(mark: FuseMark, told: Caution) -> None:
    found = fuses.judge_fuse(0.6, "1.0 mm2", mark=mark)
    assert told in found.cautions and {Caution.FUSE_SIZE, Caution.SPARE_FILAMENTS} <= set(found.cautions)
