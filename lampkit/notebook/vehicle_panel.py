"""The vehicle sheet: a panel that opens a vehicle, lets candidates be changed, and saves the job sheet."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from lampkit import conversion, show
from lampkit.errors import InputError
from lampkit.notebook import controls
from lampkit.page import job_sheet, light_charts
from lampkit.plan import plan, socket_voltages
from lampkit.plan.plan import Plan
from lampkit.sources.light_source import LightSource
from lampkit.statements import named, say
from lampkit.vehicle import vehicle
from lampkit.vehicle.lamps import Lamp
from lampkit.vehicle.vehicle import Vehicle
from lampkit.vehicle.vehicle_parts import Offer

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DRAWS, SEED = 1000, 1
"""Draws and seed of the panel: a thousand keep the wait for a new plan to seconds [1]. Source: own measurement."""


BOTH_SIDES = {"description_width": "15.5em"}
"""Width of a label that names both sides of a lamp."""


class Pick(Enum):
    """What may be picked for a lamp, other than one of its candidates."""

    AS_PLANNED = "as_planned"
    KEEP = "keep"


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


def each_sort_once(
    held: Vehicle, assess: Callable[[Lamp], conversion.Assessment], known: Mapping[str, conversion.Assessment]
) -> Iterator[conversion.Assessment]:
    """Assess lamp after lamp, but for those that are known, and lamps that are alike once."""
    alike: dict[object, conversion.Assessment] = {}
    for lamp in held.lamps:
        sort = socket_voltages.sort_of(held, lamp)
        if lamp.name not in known and sort not in alike:
            alike[sort] = assess(lamp)
        yield known[lamp.name] if lamp.name in known else replace(alike[sort], name=lamp.name)


def by_hand(made: Plan, wanted: dict[str, str | None]) -> Plan:
    """Give the plan with some lamps chosen by hand, by the names of what is on offer for them."""
    offers = {lamp.name: {offer.name: offer for offer in lamp.candidates} for lamp in made.vehicle.lamps}
    return plan.pick(made, {lamp: None if name is None else offers[lamp][name] for lamp, name in wanted.items()})


def picked_along(held: Vehicle, lamp: str, pick: str | Pick) -> dict[str, str | Pick]:
    """Say what else is picked with a pick: the same on the other side, and the other level in the same holder."""
    by_name = {one.name: one for one in held.lamps}
    picks: dict[str, str | Pick] = {lamp: pick}
    level_of = {offer.dim_level_of: offer.name for offer in held.offers if offer.dim_level_of}
    bright = {dim: name for name, dim in level_of.items()}
    holder = by_name[lamp].holder
    for one in held.lamps:
        if holder is not None and one.holder == holder and one.name != lamp:
            picks[one.name] = pick if isinstance(pick, Pick) else level_of.get(pick, bright.get(pick, Pick.KEEP))
    for name, value in list(picks.items()):
        if other_side(name) != name and other_side(name) in by_name:
            picks[other_side(name)] = value
    offered = {one.name: {*Pick, *(offer.name for offer in one.candidates)} for one in held.lamps}
    return {name: value for name, value in picks.items() if name != lamp and value in offered[name]}


def other_side(name: str) -> str:
    """Name the lamp of the other side."""
    return " ".join({"left": "right", "right": "left"}.get(word, word) for word in name.split(" "))


def rows_of(made: Plan) -> list[tuple[Lamp, ...]]:
    """List the lamps, left and right together where they are alike: they are picked together anyway."""
    found: dict[tuple[int, frozenset[str]], tuple[Lamp, ...]] = {}
    for place, group in enumerate(made.alike):
        for lamp in group.lamps:
            pair = place, frozenset({lamp.name, other_side(lamp.name)})
            found[pair] = *found.get(pair, ()), lamp
    return list(found.values())


class VehicleSheet:
    """The panel."""

    def __init__(self, place: str | Path | Plan) -> None:
        given = place if isinstance(place, Plan) else None
        folder = str(place) if given is None else str(given.vehicle.file.parent)
        self.place = controls.entry(say("vehicle_sheet.folder"), "", folder)
        self.open = controls.button(say("vehicle_sheet.open"), "folder-open")
        self.open_message, self.offer_message, self.pick_message, self.save_message = (
            controls.notice() for _ in range(4)
        )
        self.offer = controls.choice(say("vehicle_sheet.offer"), ("-",))
        self.lumens = controls.entry(say("controls.claimed_lumens"), "lm", "")
        self.price = controls.entry(say("vehicle_sheet.price"), "currency", "")
        self.change = controls.button(say("vehicle_sheet.change"), "pencil")
        self.target = controls.entry(say("vehicle_sheet.job_sheet"), "", "")
        self.save = controls.button(say("vehicle_sheet.save"), "save", button_style="primary")
        self.saved, self.head, self.foot = (controls.page() for _ in range(3))
        self.rows = widgets.VBox()
        self.vehicle: Vehicle | None = None
        self.planned: Plan | None = None
        self.shown: Plan | None = None
        self.predicted: dict[str, conversion.Assessment] = {}
        self.draws, self.seed = (DRAWS, SEED) if given is None else (_draws_of(given), given.seed)
        self.progress = widgets.IntProgress(min=0, max=1, layout={"width": "auto", "display": "none"})
        self.picks: dict[str, widgets.Dropdown] = {}
        self.results: dict[str, widgets.HTML] = {}
        self._following = False
        controls.when_pressed(self.open, self.open_message, self._open)
        controls.when_pressed(self.change, self.offer_message, self._change)
        controls.when_pressed(self.save, self.save_message, self._save)
        self.offer.observe(lambda _: self._show_offer(), "value")
        top = widgets.VBox([self.place, self.open, self.open_message], layout=_column())
        offers = widgets.VBox(
            [
                controls.heading(say("vehicle_sheet.trial")),
                self.offer, self.lumens, self.price, self.change, self.progress, self.offer_message,
            ],
            layout=_column(),
        )  # fmt: skip
        sheet = widgets.VBox([self.target, self.save, self.save_message, self.saved], layout=_column())
        parts = (top, self.head, self.rows, self.pick_message, self.foot, offers, sheet)
        self.box = controls.panel("vehicle-sheet", *parts)
        if given is None:
            controls.guarded(self.open_message, self._open)()
        else:
            self._take(given.vehicle)
            self._show(given)

    def _open(self) -> None:
        self._take(vehicle.load(self.place.value.strip() or "."))
        self._plan(None)

    def _take(self, held: Vehicle) -> None:
        """Fill the controls with what the vehicle holds."""
        self.vehicle = held
        self.target.value = f"{held.file.resolve().parent.name}.html"
        price = say("controls.with_unit", label=say("vehicle_sheet.price"), unit=held.currency or "currency")
        self.price.description = str(price)
        self.offer.options = [offer.name for offer in held.offers]
        self._show_offer()

    def _plan(self, offer: str | None) -> None:
        """Make the plan anew; after another claim only the lamps that have this light source are assessed again."""
        assert self.vehicle is not None
        held = self.vehicle
        self.progress.max, self.progress.value, self.progress.layout.display = len(held.lamps), 0, ""
        found: list[conversion.Assessment] = []

        known = {} if offer is None else dict(self.predicted)
        for lamp in held.lamps:
            if any(one.name == offer for one in lamp.candidates):
                known.pop(lamp.name, None)

        def assess(lamp: Lamp) -> conversion.Assessment:
            return plan.assess_lamps(held, lamps=(lamp,), draws=self.draws, seed=self.seed)[0]

        try:
            for one in each_sort_once(held, assess, known):
                found.append(one)
                self.progress.value += 1
            before = None if offer is None else self.planned
            self._show(plan.make(held, draws=self.draws, seed=self.seed, assessed=found, before=before))
        finally:
            self.progress.layout.display = "none"

    def _show(self, made: Plan) -> None:
        """Show a plan, with a row for each lamp, or for left and right."""
        self.planned, self.predicted = made, {one.name: one for one in made.predicted}
        before = {name: box.value for name, box in self.picks.items()}
        self.picks, self.results = {}, {}
        rows = []
        for lamps in rows_of(made):
            lamp, names = lamps[0], [offer.name for offer in lamps[0].candidates]
            name = plan.joint_name([one.name for one in lamps])
            box = controls.choice(name, [*((named(pick), pick) for pick in Pick), *names])
            box.layout, box.style = {"flex": "1 1 360px", "max_width": "480px", "min_width": "0"}, BOTH_SIDES
            if before.get(lamp.name) in (*Pick, *names):
                box.value = before[lamp.name]
            box.observe(self._picked, "value")
            said = widgets.HTML(layout={"flex": "2 1 320px", "min_width": "0"})
            self.picks |= dict.fromkeys((one.name for one in lamps), box)
            self.results |= dict.fromkeys((one.name for one in lamps), said)
            rows.append(widgets.Box([box, said], layout={"display": "flex", "flex_flow": "row wrap"}))
        self.rows.children = rows
        self._pick()

    def _picked(self, change: dict[str, Any]) -> None:
        """Let the other side and the other filament of the holder follow, then show the plan."""
        if self._following:
            return
        lamp = next(name for name, box in self.picks.items() if box is change["owner"])
        assert self.vehicle is not None
        self._following = True
        try:
            for other, value in picked_along(self.vehicle, lamp, change["new"]).items():
                self.picks[other].value = value
        finally:
            self._following = False
        controls.guarded(self.pick_message, self._pick)()

    def _pick(self) -> None:
        """Show the plan with what is picked by hand."""
        assert self.planned is not None
        picked = {name: box.value for name, box in self.picks.items() if box.value is not Pick.AS_PLANNED}
        wanted = {name: None if value is Pick.KEEP else value for name, value in picked.items()}
        self.shown = by_hand(self.planned, wanted)
        told: dict[widgets.HTML, list[str]] = {}
        for assessment in self.shown.assessments:
            words = row(self.shown, assessment, assessment.name in wanted)
            told.setdefault(self.results[assessment.name], []).append(words)
        for said, words_of_each in told.items():
            said.value = "".join(dict.fromkeys(words_of_each))
        self.head.value, self.foot.value = head(self.shown, bool(wanted)), foot(self.shown)

    def _show_offer(self) -> None:
        if self.vehicle is not None and self.offer.value is not None:
            found = next((o for o in self.vehicle.offers if o.name == self.offer.value), None)
            if found is not None:
                self.lumens.value = f"{found.source.luminous_flux:g}"
                self.price.value = "" if found.price is None else f"{found.price:g}"

    def _change(self) -> None:
        if self.vehicle is None:
            raise InputError("no vehicle is open", remedy="open one above")
        lumens = controls.number(self.lumens, say("controls.claimed_lumens"), "lm", 0.1, 20000.0)
        price = None
        if self.price.value.strip():
            price = controls.number(self.price, say("vehicle_sheet.price"), self.vehicle.currency, 0.0, 1e5)
        self.vehicle = with_offer(self.vehicle, self.offer.value, lumens, price)
        self._plan(self.offer.value)

    def _save(self) -> None:
        if self.shown is None:
            raise InputError("no vehicle is open", remedy="open one above")
        self.saved.value = ""
        name = self.target.value.strip()
        if not name.lower().endswith((".html", ".htm")):
            key = str(say("vehicle_sheet.job_sheet"))
            raise InputError("the job sheet is a web page", key=key, expected="a name that ends in .html")
        target = Path(name).expanduser()
        replaced = older(target)
        job_sheet.save_job_sheet(self.shown, target)
        self.saved.value = controls.filled("saved.html", file=target.resolve(), older=replaced)


def older(target: Path) -> bool:
    """Say whether an older job sheet stands there; a page that is none, there or beside it, is not to be lost."""
    for place in (target, job_sheet.basis_beside(target)):
        if place.is_file() and "lampkit" not in place.read_text(encoding="utf-8", errors="replace"):
            raise InputError("a page that is no job sheet stands there", file=place, remedy="give another name")
    return target.is_file()


def _draws_of(made: Plan) -> int:
    """Count the draws of a plan."""
    return len(made.predicted[0].garage) if made.predicted else DRAWS


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

    Examples
    --------
    >>> import lampkit as lk
    >>> van = lk.vehicle.load(lk.tables.folder() / "library_van")
    >>> chart = lk.notebook.plan_chart(lk.plan.make(van, draws=100))
    >>> chart.texts[0].get_text()
    'Each lamp against its filament'
    """
    return light_charts.ratio_chart(made.assessments, suggested={a.name: made.result(a.name) for a in made.assessments})


def row(made: Plan, assessment: conversion.Assessment, hand: bool) -> str:
    """Write what is chosen for a lamp."""
    result = made.result(assessment.name)
    return controls.filled("lamp_row.html", result=result, kept=made.choice.kept.get(assessment.name), by_hand=hand)


def head(made: Plan, hand: bool) -> str:
    """Write what the plan costs, and what marks a choice by hand where there is one."""
    return controls.filled("plan_head.html", plan=made, draws=_draws_of(made), seed=made.seed, by_hand=hand)


def foot(made: Plan) -> str:
    """Write what is to be bought and what else is to be known."""
    said = [*made.choice.fitted, *made.choice.binding, made.choice.runner_up, *made.choice.notes]
    return controls.filled(
        "plan_foot.html",
        bought=show.written(made.choice.shopping_list()),
        said=[line for line in said if line],
        circuits=[circuit.words[0] for circuit in made.circuits],  # what it draws, or why that is not known
    )


def vehicle_sheet(place: str | Path | Plan = "library_van") -> widgets.Box:
    """Open the vehicle sheet.

    Parameters
    ----------
    place : str or Path or Plan
        The folder of the vehicle, or a plan that is made already.

    Returns
    -------
    Box
        The panel, which shows itself when it is the last line of a cell. What is wrong with the vehicle file stands
        in it.

    Examples
    --------
    >>> import lampkit as lk
    >>> type(lk.notebook.vehicle_sheet("no_such_folder")).__name__
    'VBox'
    """
    return VehicleSheet(place).box
