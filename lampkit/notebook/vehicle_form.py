"""Your vehicle: a panel that reads and writes the vehicle file by clicking, and makes the plan of it."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from lampkit import progress
from lampkit.conversion.assessment import Assessment
from lampkit.errors import Fault, InputError
from lampkit.notebook import controls, vehicle_panel
from lampkit.notebook.file_fields import EntryForm, Field, Fields, OfferFields, fields_of, folded, in_row, others
from lampkit.notebook.lamp_form import LampForm, Outline, lamp_at
from lampkit.page import job_sheet
from lampkit.plan import plan
from lampkit.plan.plan import Plan
from lampkit.sources import filament_lamps
from lampkit.statements import Statement, named, say
from lampkit.vehicle import file, schema
from lampkit.vehicle.draft import Change, Draft
from lampkit.vehicle.lamps import Place
from lampkit.vehicle.vehicle import Lamp, Vehicle

HEAD = ("name", "supply_voltage_V", "year", "rules", "earth", "earth_after")
"""What is asked of the vehicle first."""

CIRCUIT = (
    "name", "fuse_A", "fuse_mark", "flasher", "flasher_rated_load_W", "tell_tale", "tell_tale_W", "wire_length_m",
    "wire_area_mm2", "switch_rating_A", "trailer_W", "also_feeds", "note",
)  # fmt: skip
"""What is asked of a circuit."""

ENTRIES = {
    "circuit": CIRCUIT,
    **{section: tuple(schema.sections()[section]["properties"]) for section in ("lens", "part", "meter_reading")},
}
"""The sections of which each entry is a form, with what is asked of it."""

ENTRY_TOLD = (
    "fuse_A", "flasher", "colour", "material", "curve", "edge_nm", "kind", "price", "circuit", "current_A", "supply_V",
    "lamp", "socket_V", "claimed_lumens_lm", "power_W", "base", "either_polarity",
)  # fmt: skip
"""What the list of a section says of an entry."""


class YourVehicle:
    """The panel."""

    def __init__(self, place: str | Path) -> None:
        self.draft: Draft | None = None
        self.planned: Plan | None = None
        self._known: dict[str, Assessment] = {}
        self._quiet = False
        self._rows: dict[str, list[tuple[widgets.HTML, widgets.Box]]] = {}
        self.place = controls.entry(say("your_vehicle.folder"), "", str(place))
        self.place.add_class("lampkit-field")
        self.open = controls.button(say("your_vehicle.open"), "folder-open")
        self.like = controls.choice(
            say("your_vehicle.like"),
            [(say("cli.starter", name=name, told=told), name) for name, told in file.starters().items()],
        )
        self.like.add_class("lampkit-field")
        self.like.layout = {"flex": "1 1 260px", "min_width": "0"}
        self.begin = controls.button(say("your_vehicle.begin"), "copy")
        self.open_message = controls.notice()
        self.steps = widgets.ToggleButtons(
            options=[(str(say("your_vehicle.step", step=step)), step) for step in ("vehicle", "lamps", "offers")]
            + [(str(say("your_vehicle.step", step=step)), step) for step in ("circuits", "plan")],
            style={"button_width": "auto"},
        )
        self.head = Fields("vehicle", HEAD)
        self.head_more = Fields("vehicle", others("vehicle", HEAD, "kind", "note", "invented"))
        self.head_told = controls.page()
        self.outline, self.lamp = Outline(self._begin_lamp, self._kind_told), LampForm()
        self.offer = OfferFields()
        asked: dict[str, Fields | OfferFields] = {"light_source": self.offer}
        asked |= {section: fields_of(section, keys) for section, keys in ENTRIES.items()}
        self.entries = {
            section: EntryForm(section, fields, lambda: self.written, self._show) for section, fields in asked.items()
        }
        self.lamp_done, self.lamp_list = widgets.VBox(), widgets.VBox()
        self.lamp_message, self.plan_message, self.foot_message = (controls.notice() for _ in range(3))
        self.add_lamp = controls.button(say("your_vehicle.add_lamp"), "check", button_style="primary")
        self.apart = controls.button(say("your_vehicle.apart"), "columns")
        self.make = controls.button(say("your_vehicle.make_plan"), "play", button_style="primary")
        self.sheet = controls.button(say("your_vehicle.job_sheet"), "print")
        self.progress = widgets.IntProgress(min=0, max=1, layout={"width": "auto", "display": "none"})
        self.progress.style.description_width = "auto"
        self.plan_head, self.plan_rows, self.plan_foot, self.first_page = (controls.page() for _ in range(4))
        self.status, self.faults = controls.page(), controls.page()
        self.save = controls.button(say("your_vehicle.save"), "save", button_style="primary")
        self.undo = controls.button(say("your_vehicle.undo"), "undo")
        self.restore = controls.button(say("your_vehicle.restore"), "history")
        self.panes = {
            "vehicle": widgets.VBox(
                [self.head.box, folded(say("your_vehicle.more_of_vehicle"), self.head_more.box), self.head_told]
            ),
            "lamps": widgets.VBox(
                [
                    self.outline.box, self.lamp_done, controls.heading(say("your_vehicle.lamps")), self.lamp_list,
                    self._folded("lens"),
                ]
            ),
            "offers": self._pane("light_source", "part"),
            "circuits": self._pane("circuit", "meter_reading"),
            "plan": widgets.VBox(
                [
                    in_row(self.make, self.sheet), self.progress, self.plan_message, self.first_page,
                    self.plan_head, self.plan_rows, self.plan_foot,
                ]
            ),
        }  # fmt: skip
        self.body = widgets.VBox()
        foot = widgets.VBox([in_row(self.save, self.undo, self.restore), self.foot_message, self.status, self.faults])
        foot.add_class("lampkit-foot")
        like = folded(say("your_vehicle.begin_like"), in_row(self.like, self.begin))
        top = widgets.VBox([in_row(self.place, self.open), like, self.open_message])
        self.place.layout = {"flex": "1 1 260px", "min_width": "0"}
        self.box = controls.panel("your-vehicle", top, self.steps, self.body, foot, look="your_vehicle.html")
        self._wire()
        controls.guarded(self.open_message, self._open)()

    def _pane(self, section: str, beside: str) -> widgets.VBox:
        form, heading = self.entries[section], controls.heading(say("your_vehicle.entries", section=section))
        return widgets.VBox([*form.inside, heading, form.list, self._folded(beside)])

    def _folded(self, section: str) -> widgets.Accordion:
        return folded(say("your_vehicle.entries", section=section), self.entries[section].box)

    def _wire(self) -> None:
        controls.when_pressed(self.open, self.open_message, self._open)
        controls.when_pressed(self.begin, self.open_message, self._begin)
        self.steps.observe(lambda _: self._show_step(), "value")
        for fields in (self.head, self.head_more):
            for field in fields.fields.values():
                field.control.observe(lambda _, field=field: self._head_changed(field), "value")
        controls.when_pressed(self.add_lamp, self.lamp_message, self._write_lamp)
        controls.when_pressed(self.apart, self.lamp_message, self._tell_apart)
        controls.when_pressed(self.make, self.plan_message, self._plan)
        controls.when_pressed(self.sheet, self.plan_message, self._save_sheet)
        controls.when_pressed(self.save, self.foot_message, self._save)
        controls.when_pressed(self.undo, self.foot_message, self._undo)
        controls.when_pressed(self.restore, self.foot_message, self._restore)

    @property
    def written(self) -> Draft:
        """The draft, or a word that none is open."""
        if self.draft is None:
            raise InputError("no vehicle is open", remedy="name its folder above and open it")
        return self.draft

    @property
    def supply(self) -> float:
        """The nominal supply, 12 V as long as none is told."""
        heads = self.written.entries("vehicle")
        found = heads[0].get("supply_voltage_V") if heads else None
        return float(found) if found in (6, 12, 24) else 12.0

    # --- the file -------------------------------------------------------------------------------------------------

    def _open(self) -> None:
        self.draft = None
        self.body.children = []
        self.draft = Draft(self.place.value.strip() or ".")
        self.planned, self._known = None, {}
        self.plan_head.value = self.plan_rows.value = self.plan_foot.value = self.first_page.value = ""
        self.lamp_done.children = []
        for form in self.entries.values():
            form.edit(None)
        self._show_step()
        self._show()

    def _begin(self) -> None:
        file.begin(self.place.value.strip() or ".", str(self.like.value))
        self._open()

    def _show_step(self) -> None:
        if self.draft is not None:
            self.body.children = [self.panes[self.steps.value]]

    def _show(self) -> None:
        """Show the draft everywhere."""
        draft = self.written
        heads = draft.entries("vehicle")
        self._quiet = True
        try:
            for fields in (self.head, self.head_more):
                fields.show(heads[0] if heads else {})
        finally:
            self._quiet = False
        self.head_told.value = controls.filled("not_told.html", told=draft.not_told("vehicle", 0))
        self.outline.show(draft)
        self._list("lamp", self.lamp_list, self._edit_lamp, self._lamp_words)
        self._offer_bases(draft)
        for section, form in self.entries.items():
            self._list(section, form.list, form.edit, partial(self._entry_words, section))
            form.offer_names()
        self._state()

    def _offer_bases(self, draft: Draft) -> None:
        """Offer the bases of the vehicle's filament lamps first."""
        mine = [_base_of(lamp) for lamp in draft.entries("lamp")]
        first = dict.fromkeys(base.base for base in mine if base is not None)
        every = dict.fromkeys([*first, *filament_lamps.bases()])
        self.offer.fields["base"].offer([(name, name) for name in every])

    def _state(self) -> None:
        draft = self.written
        new = not draft.file.exists() and not draft.entries("lamp")
        faults = () if new else draft.faults()
        counts = {key: len(draft.entries(section)) for key, section in (("lamps", "lamp"), ("offers", "light_source"))}
        self.status.value = controls.filled(
            "vehicle_state.html",
            words=say("your_vehicle.state", changed=draft.changed, file=str(draft.file), **counts),
            changed=draft.changed,
        )
        self.restore.disabled = not draft.kept.is_file()
        self.faults.value = controls.filled("vehicle_faults.html", faults=[_without_file(fault) for fault in faults])

    def _save(self) -> None:
        self.written.save()
        self._state()

    def _undo(self) -> None:
        if not self.written.undo():
            raise InputError("nothing was changed since the file was opened", remedy="there is nothing to take back")
        self._reload()

    def _restore(self) -> None:
        self.written.restore()
        self._reload()

    def _reload(self) -> None:
        self.lamp_done.children = []
        for form in self.entries.values():
            form.edit(None)
        self._show()

    def _head_changed(self, field: Field) -> None:
        if self._quiet or self.draft is None:
            return
        try:
            value = field.value()
            self.draft.put(Change("vehicle", 0, field.key, value))
        except InputError as error:
            controls.show_message(field.message, error)
            return
        self.head_told.value = controls.filled("not_told.html", told=self.draft.not_told("vehicle", 0))
        self._state()

    def _kind_told(self, kind: str) -> None:
        if self.draft is not None:
            self.draft.put(Change("vehicle", 0, "kind", kind))
            self._show()

    # --- lists ----------------------------------------------------------------------------------------------------

    def _list(
        self, section: str, place: widgets.VBox, edit: Callable[[int], None], words: Callable[[int], Statement]
    ) -> None:
        names = self.written.names(section)
        rows = self._rows.setdefault(section, [])
        while len(rows) < len(names):
            rows.append(self._entry(section, len(rows), edit))
        for number, (name, (said, row)) in enumerate(zip(names, rows, strict=False)):
            faults = self.written.faults_of(section, number)
            said.value = controls.filled("file_entry.html", name=name, words=words(number), faults=faults)
            change, remove = row.children[1].children
            change.tooltip = str(say("your_vehicle.edit", name=name))
            remove.tooltip = str(say("your_vehicle.remove", name=name))
        place.children = [row for _, row in rows[: len(names)]]

    def _entry(self, section: str, number: int, edit: Callable[[int], None]) -> tuple[widgets.HTML, widgets.Box]:
        change = controls.button(say("your_vehicle.edit_short"), "pencil")
        remove = controls.button(say("your_vehicle.remove_short"), "trash")
        change.on_click(lambda _: edit(number))
        remove.on_click(lambda _: self._remove(section, number))
        said = widgets.HTML(layout={"flex": "1 1 260px", "min_width": "0"})
        return said, in_row(said, widgets.HBox([change, remove]))

    def _lamp_words(self, number: int) -> Statement:
        lamp = self.written.entries("lamp")[number]
        told = {key: lamp.get(key) for key in ("function", "lens", "filament", "filament_part", "circuit")}
        offered = len(lamp.get("candidates", []))
        own = lamp.get("lens") in self.written.names("lens")
        return say("your_vehicle.lamp", both="sides" in lamp, offered=offered, own_lens=own, **told)

    def _entry_words(self, section: str, number: int) -> Statement:
        entry = self.written.entries(section)[number]
        names = "candidates" if section == "light_source" else section
        lamps = self.written.entries("lamp")
        uses = [lamp for lamp in lamps if entry.get("name") in _listed(lamp.get(names))]
        told = {key: entry.get(key) for key in ENTRY_TOLD}
        return say("your_vehicle.entry", section=section, lamps=[str(lamp.get("name")) for lamp in uses], **told)

    def _remove(self, section: str, number: int) -> None:
        self.written.remove(section, number)
        self._reload()

    # --- lamps ----------------------------------------------------------------------------------------------------

    def _begin_lamp(self, place: Place, view: str) -> None:
        if self.draft is None:
            return
        there = lamp_at(self.draft, place)
        if there is not None:
            self._edit_lamp(there)
            return
        self.lamp.begin(place, self.draft, self.supply, view)
        self._show_lamp_form(say("your_vehicle.add_lamp"))

    def _edit_lamp(self, number: int) -> None:
        self.lamp.edit(number, self.written, self.supply)
        self._show_lamp_form(say("your_vehicle.change_lamp"))

    def _show_lamp_form(self, words: Statement) -> None:
        controls.show_message(self.lamp_message, None)
        self.add_lamp.description = self.add_lamp.tooltip = str(words)
        told = [] if self.lamp.number is None else self.written.not_told("lamp", self.lamp.number)
        missing = controls.page()
        missing.value = controls.filled("not_told.html", told=told)
        both = self.lamp.number is not None and "sides" in self.written.entries("lamp")[self.lamp.number]
        buttons = in_row(self.add_lamp, self.apart) if both else in_row(self.add_lamp)
        form = widgets.VBox([self.lamp.box, missing, self.lamp_message, buttons])
        form.add_class("lampkit-lamp-form")
        self.lamp_done.children = [form]

    def _tell_apart(self) -> None:
        assert self.lamp.number is not None
        self._lamps_done(self.written.tell_apart(self.lamp.number))

    def _write_lamp(self) -> None:
        self._lamps_done(self.lamp.write(self.written, self.supply))

    def _lamps_done(self, names: list[str]) -> None:
        self.lamp_done.children = [
            widgets.HTML(controls.filled("done.html", words=say("your_vehicle.lamp_done", names=names)))
        ]
        self._show()

    # --- the plan -------------------------------------------------------------------------------------------------

    def _plan(self) -> None:
        """Make the plan of what stands here, saved or not; lamps of which nothing changed are not worked out again."""
        held = self.written.made()
        self._watch(progress.Phase.LAMPS, 0, len(held.lamps))
        self.progress.layout.display = ""
        rows: list[str] = []
        found: list[Assessment] = []
        try:
            for one in vehicle_panel.each_sort_once(held, partial(self._assessed, held), {}):
                found.append(one)
                self._watch(progress.Phase.LAMPS, len(found), len(held.lamps))
                rows.append(_plan_row(one.name, "", say("your_vehicle.assessed")))
                self.plan_rows.value = "".join(rows)
            draws, seed = vehicle_panel.DRAWS, vehicle_panel.SEED
            made = plan.make(held, draws=draws, seed=seed, assessed=found, before=self.planned)
        finally:
            self.progress.layout.display = "none"
        self.planned = made
        by_name = {one.name: one for one in made.assessments}
        rows = []
        for group in made.alike:
            first = group.lamps[0].name
            row = "" if made.fitted(first) is None else vehicle_panel.row(made, by_name[first], False)
            rows.append(_plan_row(group.name, row, made.decision(first).statement))
        self.plan_rows.value = "".join(rows)
        self.plan_head.value, self.plan_foot.value = vehicle_panel.head(made, False), vehicle_panel.foot(made)

    def _watch(self, phase: progress.Phase, done: int, total: int) -> None:
        self.progress.max, self.progress.value = max(total, 1), done
        self.progress.description = str(say("your_vehicle.progress", phase=named(phase), done=done, total=total))

    def _assessed(self, held: Vehicle, lamp: Lamp) -> Assessment:
        bearing = self.written.bearing_on(lamp.name)
        if bearing not in self._known:
            draws, seed = vehicle_panel.DRAWS, vehicle_panel.SEED
            (self._known[bearing],) = plan.assess_lamps(held, lamps=(lamp,), draws=draws, seed=seed)
        return self._known[bearing]

    def _save_sheet(self) -> None:
        self._plan()
        assert self.planned is not None
        target = self.written.file.parent / "job_sheet.html"
        older = vehicle_panel.older(target)
        self._save()  # what is printed is what stands in the file
        self.progress.layout.display = ""
        try:
            with progress.watched(self._watch):
                job_sheet.save_job_sheet(self.planned, target)
        finally:
            self.progress.layout.display = "none"
        said = controls.filled("saved.html", file=target.resolve(), older=older)
        shown = controls.filled("sheet_preview.html", page=target.read_text(encoding="utf-8"))
        self.first_page.value = said + shown


def _plan_row(lamp: str, row: str, words: Statement) -> str:
    return controls.filled("plan_row.html", lamp=lamp, row=row, words=words)


def _listed(told: Any) -> list[Any]:
    return told if isinstance(told, list) else [told]


def _base_of(lamp: dict[str, Any]) -> filament_lamps.Base | None:
    try:
        return filament_lamps.base(str(lamp.get("filament")))
    except InputError:
        return None


def _without_file(fault: Fault) -> str:
    return str(Fault(fault.what, None, fault.line, fault.key, fault.expected, fault.remedy))


def your_vehicle(place: str | Path = "my_vehicle") -> widgets.Box:
    """Open the panel that reads and writes a vehicle by clicking.

    Parameters
    ----------
    place : str or Path
        The folder of the vehicle; one that is not there yet is made by the first save.

    Returns
    -------
    Box
        The panel, which shows itself when it is the last line of a cell. What is wrong with the vehicle file stands
        in it.

    Examples
    --------
    >>> import tempfile
    >>> import lampkit as lk
    >>> type(lk.notebook.your_vehicle(tempfile.mkdtemp())).__name__
    'VBox'
    """
    return YourVehicle(place).box
