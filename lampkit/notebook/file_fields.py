"""Controls for the keys of a vehicle file, made from its schema: each with what it asks, its unit and what is wrong."""

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any, NoReturn

import ipywidgets as widgets

from lampkit.errors import InputError
from lampkit.notebook import controls
from lampkit.numbers import printed
from lampkit.sources import filament_lamps, leds
from lampkit.statements import Statement, say
from lampkit.vehicle import schema
from lampkit.vehicle.draft import Change, Draft

FLOW = {"display": "flex", "flex_flow": "row wrap", "width": "100%"}
"""A row that breaks where the page is narrow."""

Choices = Iterable[tuple[Statement | str, object]]


class Field:
    """One key of the vehicle file as a control, with a place for what is wrong with it."""

    def __init__(self, section: str, key: str, choices: Choices | None = None, label: Statement | None = None) -> None:
        self.section, self.key = section, key
        self.held: Mapping[str, Any] = schema.sections()[section]["properties"][key]
        title = re.sub(r"`|\[\[|\]\]", "", str(label or self.held["title"]))
        words = title[:1].upper() + title[1:]
        unit = printed(self.held.get("x-unit", ""))
        self.label = str(say("controls.with_unit", label=words, unit=unit) if unit else words)
        self.required = key in schema.sections()[section].get("required", ())
        self.control = self._made(choices)
        self.control.add_class("lampkit-field")
        self.message = controls.notice()
        self.box = widgets.VBox([self.control, self.message], layout={"flex": "1 1 230px", "min_width": "0"})

    def _made(self, choices: Choices | None) -> widgets.Widget:
        look = {"style": {"description_width": "auto"}, "layout": {"width": "auto"}, "description": self.label}
        told = list(choices) if choices is not None else self._closed()
        if told is not None:
            return widgets.Dropdown(options=_with_none(told), value=NOT_TOLD, **look)
        hint = self.held.get("default", self.held.get("x-default", "-"))
        placeholder = (
            "" if self.required or hint == "-" else str(say("your_vehicle.assumed", assumed=str(hint).replace("`", "")))
        )
        return widgets.Text(value="", placeholder=placeholder, tooltip=placeholder, continuous_update=False, **look)

    def _closed(self) -> list[tuple[Statement | str, object]] | None:
        if self.held.get("type") == "boolean":
            return [(say("your_vehicle.yes"), True), (say("your_vehicle.no"), False)]
        if "enum" in self.held:
            return [(f"{one:g}" if isinstance(one, float | int) else one, one) for one in self.held["enum"]]
        if self.held.get("x-names") == "rule sets":
            return [(one, one) for one in self.held["examples"]]
        return None

    def refuse(self, error: InputError) -> NoReturn:
        """Say beside the control what is wrong with it."""
        controls.show_message(self.message, error)
        raise error

    def value(self) -> Any:
        """Read the control; None where nothing is told. What is wrong is said beside it."""
        controls.show_message(self.message, None)
        try:
            found = self._read()
            fault = None if found is None else schema.fault_of(self.section, self.key, found)
            if fault is not None:
                raise InputError(fault.what, expected=fault.expected, remedy=fault.remedy)
        except InputError as error:
            self.refuse(error)
        return found

    def _read(self) -> Any:
        if isinstance(self.control, widgets.Dropdown):
            return None if self.control.value == NOT_TOLD else self.control.value
        text, kind = self.control.value.strip(), self.held.get("type")
        if not text:
            return None
        kinds = kind if isinstance(kind, list) else [kind]
        if "array" in kinds and self.held["items"]["type"] == "string":
            return [word.strip() for word in text.split(",") if word.strip()]
        parts = re.split(r"\s+(?:to|and)\s+|\s*;\s*|\s+-\s+", text) if "array" in kinds else [text]
        if "number" in kinds or "integer" in kinds or "array" in kinds:
            numbers = [self._number(part) for part in parts]
            return numbers[0] if len(numbers) == 1 and kinds != ["array"] else numbers
        return text

    def _number(self, text: str) -> float | int:
        typed = controls.digits(widgets.Text(value=text), self.held.get("x-unit", ""))
        try:
            found = float(typed)
        except ValueError:
            raise InputError(f"'{text}' is not a number", expected="digits with a decimal point") from None
        return int(found) if found.is_integer() else found

    def show(self, value: Any) -> None:
        """Put a value of the file into the control; one that it does not offer is offered then."""
        controls.show_message(self.message, None)
        if isinstance(self.control, widgets.Dropdown):
            wanted = NOT_TOLD if value is None else value
            if wanted not in [held for _, held in self.control.options]:
                self.control.options = [*self.control.options, (str(value), value)]
            self.control.value = wanted
        elif isinstance(value, list):
            between = ", " if all(isinstance(one, str) for one in value) else " to "
            self.control.value = between.join(_plain(one) for one in value)
        else:
            self.control.value = "" if value is None else _plain(value)

    def offer(self, choices: Choices) -> None:
        """Offer other choices, and keep what is chosen where it is still there."""
        chosen, options = self.control.value, _with_none(choices)
        self.control.options = options
        self.control.value = chosen if chosen in [value for _, value in options] else NOT_TOLD


NOT_TOLD = ""
"""What a list holds where nothing is told."""


def _with_none(choices: Choices) -> list[tuple[str, object]]:
    return [(str(say("your_vehicle.not_told")), NOT_TOLD), *((str(words), value) for words, value in choices)]


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) and float(f"{value:g}") == value else str(value)


class Fields:
    """Some keys of one section, side by side."""

    def __init__(self, section: str, keys: Iterable[str], **choices: Choices) -> None:
        self.fields = {key: Field(section, key, choices.get(key)) for key in keys}
        self.box = widgets.Box([field.box for field in self.fields.values()], layout=FLOW)
        self.box.add_class("lampkit-fields")

    def __getitem__(self, key: str) -> Field:
        return self.fields[key]

    def values(self) -> dict[str, Any]:
        """Read every control, None where nothing is told; everything that is wrong is said, each in its place."""
        found, wrong = {}, []
        for key, field in self.fields.items():
            try:
                found[key] = field.value()
            except InputError:
                wrong.append(field.label)
        if wrong:
            raise InputError(f"something is wrong with: {', '.join(wrong)}", remedy="see there")
        return found

    def show(self, values: Mapping[str, Any]) -> None:
        """Put the values of an entry into the controls."""
        for key, field in self.fields.items():
            field.show(values.get(key))

    def complete(self, draft: Draft, number: int | None, values: dict[str, Any]) -> None:
        """Say beside its control what an entry needs and lacks."""
        for field in self.fields.values():
            if field.required and values[field.key] is None:
                field.refuse(InputError("nothing is told here", expected=str(field.held["title"])))

    def add(self, draft: Draft, values: dict[str, Any]) -> None:
        """Add an entry to the draft."""
        draft.add(next(iter(self.fields.values())).section, values)


OFFER = ("cct_K", "colour", "claimed_lumens_lm", "power_W", "base", "either_polarity", "price")
"""What is asked of a light source on offer first."""


def others(section: str, asked: tuple[str, ...], *left_out: str) -> list[str]:
    """List the keys of a section that are not asked first."""
    return [key for key in schema.sections()[section]["properties"] if key not in (*asked, *left_out)]


class OfferFields:
    """What is told of a light source on offer: its light, what the box claims, its dim level, base, price and name."""

    def __init__(self) -> None:
        self.kind = widgets.ToggleButtons(
            options=[(str(say("your_vehicle.white")), "white"), (str(say("your_vehicle.coloured")), "coloured")],
            description=str(say("your_vehicle.light")),
            style={"description_width": "auto", "button_width": "auto"},
        )
        bases = [(base.base, base.base) for base in filament_lamps.bases().values()]
        self.fields = Fields("light_source", OFFER, base=bases, colour=[(one, one) for one in leds.colours()])
        self.dim = Field("light_source", "claimed_lumens_lm", label=say("your_vehicle.dim_lumens"))
        self.name = Field("light_source", "name", label=say("your_vehicle.offer_name"))
        self.more = Fields("light_source", others("light_source", OFFER, "name", "dim_level_of"))
        self.kind.observe(lambda _: self._fold(), "value")
        self.fields.box.children = [*self.fields.box.children, self.dim.box, self.name.box]
        inside = [self.kind, self.fields.box, folded(say("your_vehicle.more_of_offer"), self.more.box)]
        self.box = widgets.VBox(inside)
        self._fold()

    def _fold(self) -> None:
        white = self.kind.value == "white"
        self.fields["cct_K"].box.layout.display = "" if white else "none"
        self.fields["colour"].box.layout.display = "none" if white else ""

    def show(self, values: Mapping[str, Any]) -> None:
        """Put a light source into the controls; an empty one is a new one, which may have a dim level."""
        self.kind.value = "coloured" if {"colour", "peak_nm"} & values.keys() else "white"
        self.fields.show(values)
        self.more.show(values)
        self.name.show(values.get("name"))
        self.dim.show(None)
        self.dim.box.layout.display = "none" if values else ""

    def values(self) -> dict[str, Any]:
        """Read what its light is, and every key that is told."""
        values = {**self.fields.values(), **self.more.values(), "name": self.name.value()}
        values["colour" if self.kind.value == "white" else "cct_K"] = None
        return values

    def complete(self, draft: Draft, number: int | None, values: dict[str, Any]) -> None:
        """Say what it needs and lacks, and name it where it has no name."""
        told = ("cct_K", "spectrum") if self.kind.value == "white" else ("colour", "peak_nm", "spectrum")
        if not any(values.get(key) for key in told):
            self.fields[told[0]].refuse(InputError("nothing is told here", expected=self.fields[told[0]].held["title"]))
        self.fields.complete(draft, number, values)
        taken = [one for n, one in enumerate(draft.names("light_source")) if n != number]
        if values["name"] is None:
            values["name"] = suggested_name(values, taken)
        elif values["name"].casefold() in map(str.casefold, taken):
            name = values["name"]
            self.name.refuse(InputError(f"there is a light source '{name}' already", expected="a name of its own"))

    def add(self, draft: Draft, values: dict[str, Any]) -> None:
        """Add it to the draft, with its dim level, and offer it to the lamps."""
        told = {key: value for key, value in values.items() if value is not None}
        draft.add_offer(told, self.dim.value())


def suggested_name(values: dict[str, Any], taken: list[str]) -> str:
    """Name a light source by its light, with the next letter that is free."""
    if values.get("cct_K") is not None:
        light = str(say("controls.white_led", cct=values["cct_K"]))
    else:
        light = str(say("controls.coloured_led", colour=values.get("colour") or f"{values.get('peak_nm') or ''} nm"))
    known = {one.casefold() for one in taken}
    letters = [chr(ord("A") + n) for n in range(26)] + [str(n) for n in range(27, 1000)]
    return next(f"{light} {letter}" for letter in letters if f"{light} {letter}".casefold() not in known)


class EntryForm:
    """One section of the vehicle file: the form of an entry, and below it the list of those that are there."""

    def __init__(
        self, section: str, fields: Fields | OfferFields, written: Callable[[], Draft], changed: Callable[[], None]
    ) -> None:
        self.section, self.fields, self._written, self._changed = section, fields, written, changed
        self.number: int | None = None
        self.message, self.list = controls.notice(), widgets.VBox()
        self.add = controls.button(
            say("your_vehicle.put_in", section=section, there=False), "check", button_style="primary"
        )
        self.new = controls.button(say("your_vehicle.another"), "plus")
        controls.when_pressed(self.add, self.message, self.write)
        self.new.on_click(lambda _: self.edit(None))
        told = widgets.HTML(controls.filled("plain.html", words=say("your_vehicle.told", section=section)))
        self.inside = [told, self.fields.box, self.message, in_row(self.add, self.new)]
        self.box = widgets.VBox([*self.inside, self.list])

    def edit(self, number: int | None) -> None:
        """Put an entry into the form, or none."""
        self.number = number
        self.offer_names()
        self.fields.show({} if number is None else self._written().entries(self.section)[number])
        controls.show_message(self.message, None)
        words = say("your_vehicle.put_in", section=self.section, there=number is not None)
        self.add.description = self.add.tooltip = str(words)

    def offer_names(self) -> None:
        """Offer the names that stand in the file now, and keep what is chosen."""
        for key, section in NAMED.get(self.section, {}).items():
            assert isinstance(self.fields, Fields)
            names = self._written().lamps() if section == "lamp" else self._written().names(section)
            self.fields[key].offer([(name, name) for name in names])

    def write(self) -> None:
        """Write the entry into the draft; what it needs and lacks is said beside it."""
        draft, values, number = self._written(), self.fields.values(), self.number
        self.fields.complete(draft, number, values)
        if number is None:
            self.fields.add(draft, values)
        else:
            if draft.entries(self.section)[number].get("name") != values.get("name"):
                draft.rename(self.section, number, values["name"])
            before = draft.entries(self.section)[number]
            draft.put(*(Change(self.section, number, k, v) for k, v in values.items() if before.get(k) != v))
        self.edit(None)
        self._changed()


NAMED = {"meter_reading": {"circuit": "circuit", "lamp": "lamp"}}
"""The keys of a section that name what stands in another."""


def fields_of(section: str, keys: Iterable[str]) -> Fields:
    """Make the controls of a section; what names another entry offers none until a file is open."""
    return Fields(section, keys, **dict.fromkeys(NAMED.get(section, {}), ()))


def in_row(*inside: widgets.Widget) -> widgets.Box:
    """Put controls into a row that breaks where the page is narrow."""
    return widgets.Box(list(inside), layout={**FLOW, "align_items": "flex-end"})


def folded(words: Statement, inside: widgets.Widget) -> widgets.Accordion:
    """Fold away what need not be told."""
    box = widgets.Accordion([inside], titles=[str(words)], selected_index=None)
    box.add_class("lampkit-fold")
    return box
