"""The lamps of a vehicle by clicking: an outline with its places, and the form of one lamp."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import ipywidgets as widgets

from lampkit.errors import InputError
from lampkit.lenses import coloured_lens
from lampkit.notebook import controls
from lampkit.notebook.file_fields import FLOW, Fields, folded
from lampkit.rules import functions
from lampkit.sources import filament_lamps, interchange, markings
from lampkit.statements import say
from lampkit.vehicle.draft import Change, Draft
from lampkit.vehicle.lamps import Place, lamps_of, outlines, places

MORE = (
    "circuit", "fitted", "quantity", "position", "filament_part", "holder", "intensity_cd", "blackened", "compartments",
    "lit_area_mm2", "headlamp_spacing_mm", "socket_voltage_V", "socket_voltage_idle_V", "note",
)  # fmt: skip
"""What a lamp need not tell."""

SHOWN = 60
"""Filament lamps that the list shows at one time [1]."""


class FilamentPicker:
    """The filament lamp: typed by designation or by watts, picked from a list, its base drawn."""

    def __init__(self) -> None:
        self.supply: float = 12.0
        self.often: tuple[str, ...] = ()
        self.search = controls.entry(say("your_vehicle.filament"), "", "", say("your_vehicle.filament_hint"))
        self.search.add_class("lampkit-field")
        self.search.continuous_update = True  # the list follows each letter
        self.list = widgets.Select(options=[], rows=6, description=str(say("your_vehicle.filament_list")))
        self.list.add_class("lampkit-field")
        self.list.layout = {"width": "auto"}
        self.picture, self.message = controls.page(), controls.notice()
        self.search.observe(lambda _: self._find(), "value")
        self.list.observe(lambda _: self._draw(), "value")
        left = widgets.VBox([self.search, self.list, self.message], layout={"flex": "2 1 260px", "min_width": "0"})
        self.picture.layout = {"flex": "1 1 150px", "min_width": "0"}
        self.box = widgets.Box([left, self.picture], layout=FLOW)

    def show(self, designation: str, supply: float, often: tuple[str, ...] = ()) -> None:
        """Show a lamp, or what is often found in such a place."""
        controls.show_message(self.message, None)
        self.supply, self.often = supply, often
        self.search.value = designation
        self._find()

    def _find(self) -> None:
        text = self.search.value.strip()
        options = [*_listed(text, self.supply, self.often)][:SHOWN]
        self.list.options = options
        exact = [value for _, value in options if value.casefold() == text.casefold()]
        first = options[0][1] if options and (text or self.often) else None
        self.list.value = exact[0] if exact else first
        self._draw()

    def _draw(self) -> None:
        base = None
        if self.list.value is not None:
            try:
                base = filament_lamps.base(self.list.value)
            except InputError:
                base = None
        self.picture.value = controls.filled("lamp_base.html", base=base, lamp=self.list.value)

    def value(self) -> str:
        """Read the lamp that is chosen; what is wrong is said beside the list."""
        controls.show_message(self.message, None)
        if self.list.value is None:
            typed = self.search.value.strip()
            what = f"no lamp of {self.supply:g} V answers to '{typed}'" if typed else "no filament lamp is chosen"
            error = InputError(
                what,
                expected="a designation such as P21W, a base such as BA9s, or watts",
            )
            controls.show_message(self.message, error)
            raise error
        return str(self.list.value)


def _listed(text: str, supply: float, often: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """List the filament lamps that answer to what is typed, what is often found there first."""
    words = text.casefold().replace(",", ".").split()
    known = [lamp for lamp in interchange.listed_lamps(()) if lamp.supply == supply]
    rank = {name: place for place, name in enumerate(often)}
    known.sort(key=lambda lamp: rank.get(lamp.designation, len(rank)))
    for lamp in known:
        rated = "/".join(f"{row['rated_W']:g}" for row in lamp.ratings)
        told = say(
            "your_vehicle.listed",
            name=lamp.designation,
            number=lamp.number,
            watts=rated,
            base=lamp.base,
            often=lamp.designation in rank,
        )
        names = f"{lamp.designation} {lamp.number} {rated}W {rated} W {lamp.base}".casefold()
        if all(word in names for word in words):
            yield str(told), lamp.designation
    if not words:
        return
    marked = text if "v" in text.casefold() else f"{supply:g}V {text}"
    for candidate in (marked, f"{marked}W"):
        try:
            marking = markings.read_marking(candidate)
        except InputError:
            continue
        if marking is not None and marking.supply == supply:
            yield str(say("your_vehicle.as_marked", name=marking.name)), marking.name
            return


class LampForm:
    """The form of one lamp: five things that it must tell, and what it may."""

    def __init__(self) -> None:
        self.place: Place | None = None
        self.number: int | None = None
        self.name, self.second_name = (
            controls.entry(say("your_vehicle.name"), "", ""),
            controls.entry(say("your_vehicle.second_name"), "", ""),
        )
        self.function = controls.choice(say("your_vehicle.function"), functions.names())
        self.second = controls.choice(
            say("your_vehicle.second_function"), [(say("your_vehicle.one_filament"), ""), *functions.names()], ""
        )
        self.both = widgets.Checkbox(description=str(say("your_vehicle.both")), indent=False, layout={"width": "auto"})
        self.lens = widgets.RadioButtons(
            options=coloured_lens.COLOURS, description=str(say("your_vehicle.lens")), layout={"width": "auto"}
        )
        self.lens.add_class("lampkit-lens-colours")
        self.material = widgets.RadioButtons(
            options=tuple(coloured_lens.SUBSTANCE),
            description=str(say("your_vehicle.material")),
            layout={"width": "auto"},
        )
        self.filament = FilamentPicker()
        self.offered = widgets.VBox()
        self.offered.add_class("lampkit-offered")
        self.more = Fields("lamp", MORE, circuit=(), fitted=())
        for control in (self.name, self.second_name, self.function, self.second, self.lens, self.material):
            control.add_class("lampkit-field")
            control.layout = {"width": "auto"}
        self.name_message = controls.notice()
        self.second.observe(lambda _: self._fold_second(), "value")
        self.head = controls.page()
        left = [self.name, self.name_message, self.second_name, self.function, self.second, self.both]
        column = {"flex": "1 1 240px", "min_width": "0"}
        self.box = widgets.VBox(
            [
                self.head,
                widgets.Box(
                    [
                        widgets.VBox(left, layout=column),
                        widgets.VBox([self.lens, self.material], layout={"flex": "1 1 170px", "min_width": "0"}),
                        widgets.VBox([self.filament.box], layout={"flex": "2 1 400px", "min_width": "0"}),
                    ],
                    layout=FLOW,
                ),
                self.offered,
                folded(say("your_vehicle.more_of_lamp"), self.more.box),
            ]
        )

    def _fold_second(self) -> None:
        self.second.layout.display = "" if self.number is None else "none"
        self.second_name.layout.display = "" if self.second.value else "none"

    def begin(self, place: Place, draft: Draft, supply: float, view: str) -> None:
        """Begin a lamp at a place, with what is usual there."""
        self.place, self.number = place, None
        self._choices(draft)
        taken = {name.casefold() for name in draft.names("lamp")}
        free = [_free(name, taken) for name in place.names]
        self.name.value, self.second_name.value = free[0], free[1] if len(free) > 1 else ""
        self.function.value = place.functions[0]
        self.second.value = place.functions[1] if len(place.functions) > 1 else ""
        self.both.value, self.both.disabled = place.both, False
        self._lens_options(draft)
        self.lens.value, self.material.value = place.lens, self.material.options[0]
        self.filament.show("", supply, place.often)
        self.more.show({"position": place.position})
        self.offered.children = []
        self.head.value = controls.filled("form_head.html", words=say("your_vehicle.new_lamp", view=view))
        self._fold_second()

    def edit(self, number: int, draft: Draft, supply: float) -> None:
        """Open a lamp that is there."""
        lamp = draft.entries("lamp")[number]
        self.place, self.number = None, number
        self._choices(draft)
        self.name.value, self.second.value, self.second_name.value = str(lamp.get("name", "")), "", ""
        try:
            self.function.value = functions.function(str(lamp.get("function"))).name
        except InputError:
            self.function.value = functions.names()[0]
        self.both.value, self.both.disabled = "sides" in lamp, True
        self._lens_options(draft)
        lens = lamp.get("lens")
        if lens in [value for _, value in self.lens.options]:
            self.lens.value = lens
        self.material.value = lamp.get("lens_material", self.material.options[0])
        self.filament.show(str(lamp.get("filament", "")), supply)
        self.more.show(lamp)
        offers = draft.entries("light_source")
        chosen = lamp.get("candidates", [])
        self.offered.children = [
            controls.heading(say("your_vehicle.offered_for_it")),
            *(
                widgets.Checkbox(
                    value=offer.get("name") in chosen,
                    description=str(offer.get("name")),
                    indent=False,
                    layout={"width": "auto"},
                )
                for offer in offers
            ),
        ]
        words = say("your_vehicle.lamp_there", name=self.name.value)
        self.head.value = controls.filled("form_head.html", words=words)
        self._fold_second()

    def _choices(self, draft: Draft) -> None:
        self.more["circuit"].offer([(name, name) for name in draft.names("circuit")])
        self.more["fitted"].offer([(name, name) for name in draft.names("light_source")])

    def _lens_options(self, draft: Draft) -> None:
        own = [(str(say("your_vehicle.own_lens", name=name)), name) for name in draft.names("lens")]
        self.lens.options = [*((colour, colour) for colour in coloured_lens.COLOURS), *own]

    def told(self) -> dict[str, Any]:
        """Read what the form says of the lamp."""
        controls.show_message(self.name_message, None)
        if not self.name.value.strip() or (self.second.value and not self.second_name.value.strip()):
            error = InputError("nothing is typed here", expected="a name of its own")
            controls.show_message(self.name_message, error)
            raise error
        filament = self.filament.value()
        told = {key: value for key, value in self.more.values().items() if value is not None}
        told |= {"name": self.name.value.strip(), "lens": self.lens.value, "filament": filament}
        if self.material.value != self.material.options[0] and self.lens.value in coloured_lens.COLOURS:
            told["lens_material"] = self.material.value
        if self.both.value:
            told["sides"] = ["left", "right"]
        return told

    def write(self, draft: Draft, supply: float) -> list[str]:
        """Write the lamp into the draft, and give the names that it has there."""
        told = self.told()
        if self.number is not None:
            return [self._change(draft, self.number, told)]
        names = (told["name"], self.second_name.value.strip())
        does = (self.function.value, self.second.value) if self.second.value else (self.function.value,)
        if "filament_part" in told and len(does) == 1:
            lamps = [{**told, "function": does[0]}]
        else:
            try:
                lamps = lamps_of(told, names, does, supply=supply)
            except InputError as error:
                controls.show_message(self.filament.message, error)
                raise
        taken = {name.casefold() for name in draft.names("lamp")}
        if twice := [lamp["name"] for lamp in lamps if lamp["name"].casefold() in taken]:
            taken_already = InputError(f"there is a lamp '{twice[0]}' already", expected="a name of its own")
            controls.show_message(self.name_message, taken_already)
            raise taken_already
        for lamp in lamps:
            draft.add_lamp(lamp)
        return [lamp["name"] for lamp in lamps]

    def _change(self, draft: Draft, number: int, told: Mapping[str, Any]) -> str:
        before = draft.entries("lamp")[number]
        if before.get("name") != told["name"]:
            draft.rename("lamp", number, told["name"])
        offered = [box.description for box in self.offered.children[1:] if box.value]
        values: dict[str, Any] = {key: told.get(key) for key in (*MORE, "lens", "lens_material", "filament")}
        if before.get("lens_material") == self.material.value:
            values["lens_material"] = self.material.value  # said, though it is what would be assumed
        try:
            known = functions.function(str(before.get("function"))).name
        except InputError:
            known = ""
        if known != self.function.value:
            values["function"] = self.function.value
        if set(offered) != set(before.get("candidates", [])):
            kept = [name for name in before.get("candidates", []) if name in offered]
            values["candidates"] = [*kept, *(name for name in offered if name not in kept)]
        draft.put(*(Change("lamp", number, key, value) for key, value in values.items() if before.get(key) != value))
        return str(told["name"])


def _free(name: str, taken: set[str]) -> str:
    tried = (name, *(f"{name} {number}" for number in range(2, 1000)))
    return next(one for one in tried if one.casefold() not in taken)


class Outline:
    """The outline of a vehicle with its places as buttons: front, left and right side, rear, dashboard."""

    def __init__(self, chosen: Callable[[Place, str], None], told: Callable[[str], None]) -> None:
        self.kind = widgets.ToggleButtons(
            options=[(str(say("your_vehicle.outline", name=name)), name) for name in outlines()],
            value=None,
            description=str(say("your_vehicle.kind")),
            style={"description_width": "auto", "button_width": "auto"},
        )
        self.chosen, self.told = chosen, told
        self.views = widgets.Box(layout={**FLOW, "grid_gap": "6px 14px"})
        self.box = widgets.VBox([self.kind, self.views])
        self.box.add_class("lampkit-outlines")
        self.buttons: list[tuple[Place, str, widgets.Button]] = []
        self._shown = ""
        self.kind.observe(lambda _: self._chosen(), "value")

    def _chosen(self) -> None:
        if self.kind.value != self._shown:
            self.told(self.kind.value)

    def show(self, draft: Draft) -> None:
        """Show the outline of the vehicle, and mark the places that have their lamp."""
        kind = _kind_of(draft)
        if kind != self._shown:
            self._shown = self.kind.value = kind
            self._build()
        for place, side, button in self.buttons:
            there = lamp_at(draft, place, side) is not None
            words = say("your_vehicle.place", names=place.names, side=side, there=there)
            button.description = button.tooltip = str(words)
            button.button_style = "success" if there else ""

    def _build(self) -> None:
        here = [place for place in places() if place.outline == self.kind.value]
        self.buttons = []
        boxes = []
        for view in dict.fromkeys(place.view for place in here):
            mine = [place for place in here if place.view == view]
            if view != "side":
                boxes.append(self._view(view, "", mine))
            else:
                boxes += [self._view(view, side, mine) for side in ("left", "right")]
        self.views.children = boxes

    def _view(self, view: str, only: str, mine: list[Place]) -> widgets.VBox:
        width = max(place.column for place in mine)
        inner = max((place.column for place in mine if place.both), default=0)
        columns = width if only or not inner else 2 * width - (inner < width)
        grid = widgets.GridBox(
            layout={"grid_template_columns": f"repeat({columns}, minmax(0, 1fr))", "grid_gap": "3px", "width": "auto"}
        )
        cells = []
        for place in mine:
            for side in (only,) if only else ("left", "right") if place.both else ("",):
                # A view from in front shows the left side of the vehicle on the right.
                there = (side == "right") != (view == "front") and bool(side) and not only
                column = columns + 1 - place.column if there else place.column
                button = widgets.Button(
                    layout={"width": "auto", "height": "auto", "grid_area": f"{place.row} / {column} / auto / auto"}
                )
                button.add_class("lampkit-place" if side or not inner else "lampkit-between")
                button.on_click(lambda _, place=place, view=view: self.chosen(place, view))
                self.buttons.append((place, side, button))
                cells.append(button)
        grid.children = cells
        grid.add_class("lampkit-outline")
        grid.add_class(f"lampkit-outline-{view}")
        words = controls.heading(say("your_vehicle.view", view=view, side=only))
        return widgets.VBox([words, grid], layout={"flex": f"{columns} 1 {104 * columns}px", "min_width": "0"})


def _kind_of(draft: Draft) -> str:
    """Take the kind of vehicle that the file tells, or else the outline with a place for most of its lamps."""
    told = [head.get("kind") for head in draft.entries("vehicle")]
    if told and told[0] in outlines():
        return str(told[0])
    found = {
        kind: {lamp_at(draft, place) for place in places() if place.outline == kind} - {None}
        for kind in sorted(outlines(), key=lambda kind: kind != "car")  # a car where several serve alike
    }
    return max(found, key=lambda kind: len(found[kind]))


def lamp_at(draft: Draft, place: Place, side: str = "") -> int | None:
    """Find the lamp of a place: by its name, or by function, position, side and, of a tell-tale, colour."""
    own = {lens.get("name"): lens.get("colour") for lens in draft.entries("lens")}
    for number, lamp in enumerate(draft.entries("lamp")):
        position = str(lamp.get("position", ""))
        sides = {"left", "right"} if "sides" in lamp else {position.rsplit(" ", 1)[-1]} & {"left", "right"}
        if side and sides and side not in sides:
            continue
        if ("holder" in lamp and "filament_part" in lamp) != (len(place.functions) > 1):
            continue
        alike = lamp.get("function") == place.functions[0] and position.startswith(place.position)
        coloured = own.get(lamp.get("lens"), lamp.get("lens")) == place.lens
        if lamp.get("name") == place.names[0] or (alike and (coloured or place.functions[0] != "tell-tale")):
            return number
    return None
