"""Controls for the keys of a vehicle file, made from its schema: each with what it asks, its unit and what is wrong."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

import ipywidgets as widgets

from lampkit.errors import InputError
from lampkit.notebook import controls
from lampkit.statements import Statement, say
from lampkit.vehicle import schema

FLOW = {"display": "flex", "flex_flow": "row wrap", "width": "100%"}
"""A row that breaks where the page is narrow."""

Choices = Iterable[tuple[Statement | str, object]]


class Field:
    """One key of the vehicle file as a control, with a place for what is wrong with it."""

    def __init__(self, section: str, key: str, choices: Choices | None = None, label: Statement | None = None) -> None:
        self.section, self.key = section, key
        self.held: Mapping[str, Any] = schema.sections()[section]["properties"][key]
        title = str(label or self.held["title"]).replace("`", "")
        words = title[:1].upper() + title[1:]
        unit = self.held.get("x-unit")
        self.label = str(say("controls.with_unit", label=words, unit=unit) if unit else words)
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
        required = self.key in schema.sections()[self.section].get("required", ())
        placeholder = (
            "" if required or hint == "-" else str(say("your_vehicle.assumed", assumed=str(hint).replace("`", "")))
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

    def value(self) -> Any:
        """Read the control; None where nothing is told. What is wrong is said beside it."""
        controls.show_message(self.message, None)
        try:
            found = self._read()
            fault = None if found is None else schema.fault_of(self.section, self.key, found)
            if fault is not None:
                raise InputError(fault.what, expected=fault.expected, remedy=fault.remedy)
        except InputError as error:
            controls.show_message(self.message, error)
            raise
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
    return f"{value:g}" if isinstance(value, float) else str(value)


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


def folded(words: Statement, inside: widgets.Widget) -> widgets.Accordion:
    """Fold away what need not be told."""
    box = widgets.Accordion([inside], titles=[str(words)], selected_index=None)
    box.add_class("lampkit-fold")
    return box
