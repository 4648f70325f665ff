"""What people type as names is shown as text by every panel, never as markup."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import pytest

import lampkit as lk
from lampkit.notebook.vehicle_form import YourVehicle

MARK = "<script>alert(1)</script>"
FILE = f"""[vehicle]
name = "Van {MARK}"
supply_voltage_V = 12
note = "Kept {MARK}"

[[light_source]]
name = "red {MARK}"
colour = "red"
claimed_lumens_lm = 260
power_W = 2.8
base = "BA15s"

[[lamp]]
name = "Stop {MARK}"
function = "stop"
filament = "P21W"
lens = "red"
candidates = ["red {MARK}"]
circuit = "brakes {MARK}"

[[circuit]]
name = "brakes {MARK}"
wire_area_mm2 = 1.0
wire_length_m = 6
"""
LOG = f"""lamp,source,illuminance_lx,dark_lx,distance_mm
Stop {MARK},filament,40,2,1000
Stop {MARK},red {MARK},60,2,1000
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "vehicle.toml").write_text(FILE, encoding="utf-8")
    (tmp_path / "readings.csv").write_text(LOG, encoding="utf-8")
    return tmp_path


def within(widget: widgets.Widget) -> list[widgets.Widget]:
    """A widget and all that it holds."""
    return [widget, *(inner for child in getattr(widget, "children", ()) for inner in within(child))]


PANELS: dict[str, Callable[[Path], widgets.Box]] = {
    "your vehicle": lk.notebook.your_vehicle,
    "vehicle sheet": lk.notebook.vehicle_sheet,
    "readings desk": lk.notebook.readings_desk,
    "fault finder": lk.notebook.fault_finder,
}


@pytest.mark.parametrize("name", PANELS)
def test_a_name_is_text_in_a_panel(name: str, folder: Path) -> None:
    panel = PANELS[name](folder)
    for button in [
        one for one in within(panel) if isinstance(one, widgets.Button) and "plan" in one.description.lower()
    ]:
        button.click()
    held: list[Any] = within(panel)
    pages = [one.value for one in held if isinstance(one, widgets.HTML | widgets.HTMLMath)]
    words = [getattr(one, trait, "") for one in held for trait in ("value", "description")]
    assert any("alert(1)" in str(said) for said in words), "the name is shown"
    assert all(MARK not in page for page in pages)
    assert not any(getattr(one, "description_allow_html", False) for one in held)


def test_a_name_is_text_in_the_plan_of_the_vehicle_that_is_clicked(folder: Path) -> None:
    panel = YourVehicle(folder)
    panel.make.click()
    pages = [one.value for one in vars(panel).values() if isinstance(one, widgets.HTML)]
    assert panel.planned is not None and any("alert(1)" in page for page in pages), "the name is shown"
    assert all(MARK not in page for page in pages)
