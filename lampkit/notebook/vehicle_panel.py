"""The vehicle sheet: a panel that opens a vehicle, lets candidates be changed, and saves the job sheet."""

from dataclasses import replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets as widgets

from lampkit import conversion, numbers
from lampkit.errors import InputError
from lampkit.notebook import controls
from lampkit.page import light_charts, report, small_charts
from lampkit.plan import plan
from lampkit.plan.plan import Plan
from lampkit.sources.light_source import LightSource
from lampkit.vehicle import vehicle
from lampkit.vehicle.vehicle import Vehicle
from lampkit.vehicle.vehicle_parts import Offer

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DRAWS, SEED = 1000, 1
"""Draws and seed of the panel: a thousand keep the wait for a new plan to seconds [1]. Source: own measurement."""

AS_PLANNED, KEEP = "as the plan chooses", "keep the filament lamp"


def with_lumens(source: LightSource, luminous_flux: float) -> LightSource:
    """Give the same light source with another claim on its box."""
    spectrum = source.spectrum * (luminous_flux / source.luminous_flux)
    spectrum.setflags(write=False)
    return replace(source, luminous_flux=luminous_flux, spectrum=spectrum)


def with_offer(held: Vehicle, name: str, luminous_flux: float, price: float | None) -> Vehicle:
    """Give the same vehicle with another claim and price for one of the light sources on offer."""
    old = next(offer for offer in held.offers if offer.name == name)
    new = replace(old, source=with_lumens(old.source, luminous_flux), price=price)
    changed = {id(old): new}

    def put(offers: tuple[Offer, ...]) -> tuple[Offer, ...]:
        return tuple(changed.get(id(offer), offer) for offer in offers)

    lamps = tuple(replace(lamp, candidates=put(lamp.candidates)) for lamp in held.lamps)
    return replace(held, offers=put(held.offers), lamps=lamps)


def by_hand(made: Plan, wanted: dict[str, str | None]) -> Plan:
    """Give the plan with some lamps chosen by hand, by the names of what is on offer for them."""
    offers = {lamp.name: {offer.name: offer for offer in lamp.candidates} for lamp in made.vehicle.lamps}
    return plan.pick(made, {lamp: None if name is None else offers[lamp][name] for lamp, name in wanted.items()})


def together(held: Vehicle, lamp: str, pick: str) -> dict[str, str]:
    """Say what else is picked with a pick: the same on the other side, and the other level in the same holder."""
    by_name = {one.name: one for one in held.lamps}
    picks = {lamp: pick}
    level_of = {offer.dim_level_of: offer.name for offer in held.offers if offer.dim_level_of}
    bright = {dim: name for name, dim in level_of.items()}
    holder = by_name[lamp].holder
    for one in held.lamps:
        if holder is not None and one.holder == holder and one.name != lamp:
            picks[one.name] = pick if pick in (AS_PLANNED, KEEP) else level_of.get(pick, bright.get(pick, KEEP))
    for name, value in list(picks.items()):
        swapped = " ".join({"left": "right", "right": "left"}.get(word, word) for word in name.split(" "))
        if swapped != name and swapped in by_name:
            picks[swapped] = value
    offered = {one.name: {AS_PLANNED, KEEP, *(offer.name for offer in one.candidates)} for one in held.lamps}
    return {name: value for name, value in picks.items() if name != lamp and value in offered[name]}


class VehicleSheet:
    """The panel.

    Source: as for lampkit.plan.make.
    """

    def __init__(self, place: str | Path) -> None:
        self.place = controls.entry("folder of the vehicle", "", str(place))
        self.open = controls.button("Open it", "folder-open")
        self.open_message, self.offer_message, self.pick_message, self.save_message = (
            controls.notice() for _ in range(4)
        )
        self.offer = controls.choice("light source on offer", ("-",))
        self.lumens = controls.entry("claimed lumens", "lm", "")
        self.price = controls.entry("price", "currency", "")
        self.change = controls.button("Change it", "pencil")
        self.target = controls.entry("job sheet", "", "")
        self.save = controls.button("Save the job sheet", "save", button_style="primary")
        self.saved, self.head, self.foot = (controls.page() for _ in range(3))
        self.rows = widgets.VBox()
        self.vehicle: Vehicle | None = None
        self.planned: Plan | None = None
        self.shown: Plan | None = None
        self.picks: dict[str, widgets.Dropdown] = {}
        self.results: dict[str, widgets.HTML] = {}
        self._following = False
        self.open.on_click(controls.guarded(self.open_message, lambda: self._busy(self.open, self._open)))
        self.change.on_click(controls.guarded(self.offer_message, lambda: self._busy(self.change, self._change)))
        self.save.on_click(controls.guarded(self.save_message, lambda: self._busy(self.save, self._save)))
        self.offer.observe(lambda _: self._show_offer(), "value")
        heading = ('<b style="color:' + small_charts.INK + '">{}</b>').format
        top = widgets.VBox([self.place, self.open, self.open_message], layout=_column())
        offers = widgets.VBox(
            [
                widgets.HTML(heading("Change a light source on offer, for a trial; the file stays as it is")),
                self.offer, self.lumens, self.price, self.change, self.offer_message,
            ],
            layout=_column(),
        )  # fmt: skip
        sheet = widgets.VBox([self.target, self.save, self.save_message, self.saved], layout=_column())
        self.box = widgets.VBox([top, self.head, self.rows, self.pick_message, self.foot, offers, sheet])
        self.box.add_class("lampkit-vehicle-sheet")
        controls.guarded(self.open_message, self._open)()

    def _busy(self, pressed: widgets.Button, work: object) -> None:
        label = pressed.description
        pressed.description, pressed.disabled = "Working…", True
        try:
            work()  # type: ignore[operator]
        finally:
            pressed.description, pressed.disabled = label, False

    def _open(self) -> None:
        held = vehicle.load(self.place.value.strip() or ".")
        self.vehicle = held
        self.target.value = f"{held.file.resolve().parent.name}.html"
        self.price.description = f"price [{held.currency or 'currency'}]"
        self.offer.options = [offer.name for offer in held.offers]
        self._show_offer()
        self._plan()

    def _plan(self) -> None:
        """Make the plan anew, and a row for each lamp."""
        assert self.vehicle is not None
        self.planned = plan.make(self.vehicle, draws=DRAWS, seed=SEED)
        before = {name: box.value for name, box in self.picks.items()}
        self.picks, self.results = {}, {}
        rows = []
        for lamp in self.vehicle.lamps:
            options = (AS_PLANNED, KEEP, *(offer.name for offer in lamp.candidates))
            box = controls.choice(lamp.name, options)
            box.layout = {"flex": "1 1 300px", "max_width": "440px", "min_width": "0"}
            if before.get(lamp.name) in options:
                box.value = before[lamp.name]
            box.observe(self._picked, "value")
            said = widgets.HTML(layout={"flex": "2 1 320px", "min_width": "0"})
            self.picks[lamp.name], self.results[lamp.name] = box, said
            rows.append(widgets.Box([box, said], layout={"display": "flex", "flex_flow": "row wrap"}))
        self.rows.children = rows
        self._pick()

    def _picked(self, change: dict[str, object]) -> None:
        """Let the other side and the other filament of the holder follow, then show the plan."""
        if self._following:
            return
        lamp = next(name for name, box in self.picks.items() if box is change["owner"])
        assert self.vehicle is not None
        self._following = True
        try:
            for other, value in together(self.vehicle, lamp, str(change["new"])).items():
                self.picks[other].value = value
        finally:
            self._following = False
        controls.guarded(self.pick_message, self._pick)()

    def _pick(self) -> None:
        """Show the plan with what is picked by hand."""
        assert self.planned is not None
        wanted = {n: None if b.value == KEEP else b.value for n, b in self.picks.items() if b.value != AS_PLANNED}
        self.shown = by_hand(self.planned, wanted)
        for assessment in self.shown.assessments:
            self.results[assessment.name].value = _row(self.shown, assessment, assessment.name in wanted)
        self.head.value, self.foot.value = _head(self.shown), _foot(self.shown)

    def _show_offer(self) -> None:
        if self.vehicle is not None and self.offer.value is not None:
            found = next((o for o in self.vehicle.offers if o.name == self.offer.value), None)
            if found is not None:
                self.lumens.value = f"{found.source.luminous_flux:g}"
                self.price.value = "" if found.price is None else f"{found.price:g}"

    def _change(self) -> None:
        if self.vehicle is None:
            raise InputError("no vehicle is open", remedy="open one above")
        lumens = controls.within(controls.number(self.lumens, "claimed lumens"), "claimed lumens", 0.1, 20000.0, "lm")
        price = None
        if self.price.value.strip():
            price = controls.within(controls.number(self.price, "price"), "price", 0.0, 1e5, self.vehicle.currency)
        self.vehicle = with_offer(self.vehicle, self.offer.value, lumens, price)
        self._plan()

    def _save(self) -> None:
        if self.shown is None:
            raise InputError("no vehicle is open", remedy="open one above")
        self.saved.value = ""
        name = self.target.value.strip()
        if not name.lower().endswith((".html", ".htm")):
            raise InputError("the job sheet is a web page", key="job sheet", expected="a name that ends in .html")
        target = Path(name).expanduser()
        older = _older(target)
        report.save_job_sheet(self.shown, target)
        self.saved.value = (
            f'<div class="lampkit-saved" role="status" style="color:{small_charts.INK}">✓ Saved as '
            f"<b>{escape(str(target.resolve()))}</b>{', in place of the older one' if older else ''}. Open it in a "
            "browser to read and print it.</div>"
        )


def _older(target: Path) -> bool:
    """Say whether an older job sheet stands there; a page that is none is not to be lost."""
    if not target.is_file():
        return False
    if "lampkit" not in target.read_text(encoding="utf-8", errors="replace"):
        raise InputError("a page that is no job sheet stands there", file=target, remedy="give another name")
    return True


def _column() -> dict[str, str]:
    return {"max_width": "560px", "width": "auto"}


def plan_chart(made: Plan) -> "Figure":
    """Draw the light of every lamp against its filament, with the light source that was chosen.

    Parameters
    ----------
    made : Plan
        The plan.

    Returns
    -------
    Figure
        The chart.

    Source: as for lampkit.charts.ratio.
    """
    return light_charts.ratio_chart(made.assessments, suggested={a.name: made.result(a.name) for a in made.assessments})


def _row(made: Plan, assessment: conversion.Assessment, hand: bool) -> str:
    result = made.result(assessment.name)
    mark = "✎ " if hand else ""
    if result is None:
        words = f"{mark}{escape(str(made.choice.kept[assessment.name]))}"
    else:
        colour = f", colour {escape(result.verdict)}" if result.verdict else ""
        dim = "▼ dimmer: " if result.ratio[1] < 1.0 else ""
        words = (
            f"{mark}<b>{escape(result.source.name)}</b>: {dim}{numbers.interval(result.ratio)} times the "
            f"filament's light{colour}"
        )
    return f'<div class="lampkit-fit" style="line-height:1.35;padding:4px 8px;color:{small_charts.INK}">{words}</div>'


def _head(made: Plan) -> str:
    return (
        f'<div style="color:{small_charts.INK};line-height:1.4"><b>{escape(made.vehicle.name)}</b>: '
        f"{len(made.vehicle.lamps)} lamps; what is chosen costs "
        f'<b class="lampkit-total">{escape(made.choice.currency)} {made.choice.cost:.2f}</b> in all. '
        f"✎ marks what you chose by hand. {DRAWS} draws, seed {SEED}.</div>"
    )


def _foot(made: Plan) -> str:
    bought = small_charts.plain_table(made.choice.shopping_list())
    said = [*made.choice.fitted, *made.choice.binding, made.choice.runner_up, *made.choice.notes]
    wires = [words for circuit in made.circuits for words in circuit.words[:1]]
    lists = [
        f"<h4>{title}</h4><ul>{''.join(f'<li>{escape(str(line))}</li>' for line in lines if line)}</ul>"
        for title, lines in (("What else to know", said), ("Circuits", wires))
    ]
    return (
        f'<div style="color:{small_charts.INK};line-height:1.4;overflow-x:auto"><h4>To buy</h4>{bought}'
        f"{''.join(lists)}</div>"
    )


def vehicle_sheet(place: str | Path = "library_van") -> widgets.Box:
    """Open the vehicle sheet.

    Parameters
    ----------
    place : str or Path
        The folder of the vehicle.

    Returns
    -------
    Box
        The panel, which shows itself when it is the last line of a cell. What is wrong with the vehicle file stands
        in it.

    Source: as for lampkit.plan.make.
    """
    return VehicleSheet(place).box
