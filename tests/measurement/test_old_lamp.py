"""Which source of a log is the old lamp: whole words and designations, and it is always said which was taken."""

from pathlib import Path

import pytest

from lampkit.measurement import fair_ratio, illuminance_log, old_lamp
from lampkit.measurement.old_lamp import OldLampGround


@pytest.mark.parametrize(
    ("source", "old"),
    [
        ("filament", True),
        ("filament, 12 V", True),
        ("the old one", True),
        ("Bulb", True),
        ("P21W", True),
        ("new P21/5W, bright", True),
        ("1156", True),
        ("cold white LED", False),
        ("cold white", False),
        ("gold lamp", False),
        ("goldfish", False),
        ("bulbous red", False),
        ("P21W LED red", False),
        ("LED bulb", False),
        ("filament with a red gel", False),
        ("old lamp, blue filter", False),
        ("P21X", False),
        ("12V 2.2W", True),
        ("6 V 21/5 W BAY15d", True),
        ("old lamp 12V 4W", True),
        ("12V 2.2W LED", False),
        ("white 12V 2.2W", False),
    ],
)
def test_names(source: str, old: bool) -> None:
    assert old_lamp.is_old_lamp(source) == old


@pytest.mark.parametrize(
    ("sources", "old"),
    [
        (["filament with a red gel", "filament", "LED"], "filament"),
        (["new P21/5W", "P21W, the old one"], "P21W, the old one"),
        (["LED", "filament a", "filament b"], "filament a"),
    ],
)
def test_of_several_filament_lamps_the_one_that_was_there(sources: list[str], old: str) -> None:
    found = old_lamp.find_old_lamp("Stop", sources)
    assert found is not None and found.source == old


def test_designation() -> None:
    assert old_lamp.designation_in("spare p21/5w from the drawer") == "P21/5W"
    assert old_lamp.designation_in("red LED A") is None


def compare(folder: Path, rows: list[tuple[str, str, float]], **options: str) -> fair_ratio.Comparison:
    lines = ["lamp,source,illuminance_lx,dark_lx,distance_m", *(f"{lamp},{s},{lux},3,0.8" for lamp, s, lux in rows)]
    path = folder / "log.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    return fair_ratio.compare_readings(illuminance_log.load_log(path), draws=500, **options)  # type: ignore[arg-type]


@pytest.mark.parametrize("new", ["cold white LED", "gold LED", "bold amber"])
@pytest.mark.parametrize("first", [True, False])
def test_the_filament_is_the_old_one_wherever_it_stands(tmp_path: Path, new: str, first: bool) -> None:
    rows = [("Reversing lamp", "P21W", 60.0), ("Reversing lamp", new, 132.0)]
    found = compare(tmp_path, rows if first else rows[::-1])
    (ratio,) = found.ratios
    assert (ratio.old, ratio.new) == ("P21W", new)
    assert ratio.ratio[1] > 2.0
    assert [(one.source, one.ground) for one in found.old_lamps] == [("P21W", OldLampGround.NAMED)]


def test_the_source_that_was_taken_is_always_named(tmp_path: Path) -> None:
    rows = [("A", "cold white", 60.0), ("A", "gold", 132.0), ("B", "gold", 70.0), ("B", "filament", 90.0)]
    found = compare(tmp_path, rows)
    assert [(one.lamp, one.source, one.ground) for one in found.old_lamps] == [
        ("A", "cold white", OldLampGround.READ_FIRST),
        ("B", "filament", OldLampGround.NAMED),
    ]
    asked = compare(tmp_path, rows, old="gold")
    assert {(one.source, one.ground) for one in asked.old_lamps} == {("gold", OldLampGround.ASKED_FOR)}
    for comparison in (found, asked):
        told = " ".join(str(remark) for remark in comparison.remarks)
        assert all(f"'{one.source}'" in told for one in comparison.old_lamps)
