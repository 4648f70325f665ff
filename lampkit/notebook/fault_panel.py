"""The fault finder: a panel that starts from what is seen, and ends at a cause and the reading that tells two apart."""

from pathlib import Path

import ipywidgets as widgets

from lampkit.circuits import fault_finding
from lampkit.circuits.fault_finding import Measurement, Suspect, Symptom
from lampkit.errors import InputError
from lampkit.notebook import controls
from lampkit.plan import faults
from lampkit.statements import Statement, named, say
from lampkit.vehicle import vehicle
from lampkit.vehicle.vehicle import Vehicle

SHOWN = 4
"""Suspects whose readings stand beside each other [1]. Source: own judgement: more do not fit a phone."""


class FaultFinder:
    """The panel."""

    def __init__(self, place: str | Path) -> None:
        self.place = controls.entry(say("vehicle_sheet.folder"), "", str(place))
        self.open = controls.button(say("vehicle_sheet.open"), "folder-open")
        self.open_message, self.message = controls.notice(), controls.notice()
        self.symptom = controls.choice(say("fault_finder.seen"), [(named(one), one) for one in Symptom])
        self.lamp = controls.choice(say("fault_finder.lamp"), [(say("fault_finder.any_lamp"), "")])
        self.answer = controls.page()
        self.vehicle: Vehicle | None = None
        self._opening = False
        controls.when_pressed(self.open, self.open_message, self._open)
        for control in (self.symptom, self.lamp):
            control.observe(controls.guarded(self.message, self._show), "value")
        top = widgets.VBox(
            [self.place, self.open, self.open_message, self.symptom, self.lamp, self.message],
            layout={"max_width": "560px", "width": "auto"},
        )
        self.box = controls.panel("fault-finder", top, self.answer)
        controls.guarded(self.open_message, self._open)()

    def _open(self) -> None:
        self.vehicle = None
        self.vehicle = vehicle.load(self.place.value.strip() or ".")
        self._opening = True
        lamps = [(lamp.name, lamp.name) for lamp in self.vehicle.lamps]
        self.lamp.options = [(str(say("fault_finder.any_lamp")), ""), *lamps]
        self.lamp.value = ""
        self._opening = False
        controls.show_message(self.message, None)
        self._show()

    def _show(self) -> None:
        if self._opening:
            return
        self.answer.value = ""
        if self.vehicle is None:
            raise InputError("no vehicle is open", remedy="open one above")
        found = faults.find_fault(self.symptom.value, self.vehicle, self.lamp.value or None)
        self.answer.value = controls.filled(
            "fault_answer.html",
            found=found,
            suspects=found.suspects,
            readings=readings(found.suspects[:SHOWN]),
            cautions=[named(one) for one in found.cautions],
        )


def readings(suspects: tuple[Suspect, ...]) -> list[tuple[Statement, list[Statement]]]:
    """List the measurements that differ between suspects, with what each would read.

    Source: as for lampkit.circuits.suspects.
    """
    told = [
        (named(one), [fault_finding.reading_words(one, suspect.expected[one]) for suspect in suspects])
        for one in Measurement
    ]
    return [(what, cells) for what, cells in told if len({str(cell) for cell in cells}) > 1]


def fault_finder(place: str | Path = "library_van") -> widgets.Box:
    """Open the fault finder.

    Parameters
    ----------
    place : str or Path
        The folder of the vehicle.

    Returns
    -------
    Box
        The panel, which shows itself when it is the last line of a cell. What is wrong with the vehicle file stands
        in it.

    Examples
    --------
    >>> import lampkit as lk
    >>> type(lk.notebook.fault_finder("no_such_folder")).__name__
    'VBox'
    """
    return FaultFinder(place).box
