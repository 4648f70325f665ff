"""The fault finder without a browser: what it says is what the command says, and a wrong place is explained."""

import re
import shutil
from html import unescape
from pathlib import Path

import ipywidgets as widgets
import pytest
from worked_out import VAN

import lampkit as lk
from lampkit.circuits.fault_finding import Measurement, Symptom
from lampkit.notebook.circuit_panel import SHOWN, FaultFinder, readings
from lampkit.plan import faults


def plain(place: widgets.HTML) -> str:
    return unescape(re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", place.value))).strip()


@pytest.mark.parametrize("symptom", Symptom)
def test_each_symptom_is_told_as_the_command_tells_it(symptom: Symptom) -> None:
    panel = FaultFinder(VAN)
    panel.symptom.value = symptom
    found = faults.find_fault(symptom, panel.vehicle)
    told = plain(panel.answer).casefold()
    for suspect in found.suspects:
        assert str(suspect.said).casefold() in told
    if found.telling is not None:
        assert " ".join(str(found.telling.said).split()).casefold() in told
    assert panel.message.value == ""


def test_the_lamp_that_is_picked_is_asked_about() -> None:
    panel = FaultFinder(VAN)
    panel.symptom.value = Symptom.STAYS_DARK
    panel.lamp.value = "Rear turn right"
    assert "Rear turn right" in plain(panel.answer)


def test_only_readings_that_tell_something_apart_are_shown() -> None:
    found = faults.find_fault("stays dark", lk.vehicle.load(VAN))
    suspects = found.suspects[:SHOWN]
    shown = readings(suspects)
    assert shown and len(shown) < len(Measurement)
    for _, cells in shown:
        assert len(cells) == len(suspects)
        assert len({str(cell) for cell in cells}) > 1
    assert found.telling is not None
    told = [str(what) for what, _ in shown]
    assert str(lk.statements.named(found.telling.measurement)) in told, "the telling one is among them"


def test_a_wrong_folder_is_explained_and_another_one_opens(tmp_path: Path) -> None:
    panel = FaultFinder(tmp_path / "nowhere")
    assert "lampkit-message" in panel.open_message.value and panel.answer.value == ""
    panel.symptom.value = Symptom.DIM
    assert "no vehicle is open" in plain(panel.message)
    shutil.copytree(VAN, tmp_path / "van")
    panel.place.value = str(tmp_path / "van")
    panel.open.click()
    assert panel.open_message.value == "" and panel.message.value == ""
    assert plain(panel.answer)


def test_every_control_has_its_label() -> None:
    panel = FaultFinder(VAN)
    for control in (panel.place, panel.symptom, panel.lamp, panel.open):
        assert control.description.strip()
    assert isinstance(lk.notebook.fault_finder(VAN), widgets.VBox)
