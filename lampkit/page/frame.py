"""The frame of every page: the environment that fills the templates, where a page may be written, how it is kept."""

import os
import re
from functools import cache
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from lampkit import numbers, statements, written_files
from lampkit.errors import InputError
from lampkit.page import style
from lampkit.statements import Statement, say

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup
    from matplotlib.figure import Figure

COLUMNS = 100
"""Width of every text in letters [1]."""


SMALLEST = 9.0
"""Smallest letters of a picture on a screen [pt]: 12 px. Source: own judgement, read at arm's length."""


@cache
def environment(package: str = "lampkit.page") -> "Environment":
    """Make the environment of the templates of a folder: what is filled in is escaped, and nothing may be missing."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader(package),
        autoescape=lambda name: name is not None and name.endswith(".html"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_held_together,
    )
    made.filters.update(numbers.FILTERS)
    made.globals.update(say=say, named=statements.named, language=lambda: statements.chosen().language)
    return made


def _held_together(value: object) -> object:
    """Hold numbers and units together in what is filled in; what is written for the page already stays as it is."""
    markup = hasattr(value, "__html__")
    return numbers.together(value) if isinstance(value, str | Statement) and not markup else value


def filled(template: str, **content: Any) -> "Markup":
    """Fill a template; what comes out may stand in another one as it is."""
    from markupsafe import Markup

    return Markup(environment().get_template(template).render(**content))


def page(title: object, shown: "Markup", footer: object) -> str:
    """Put a filled template into a page of its own."""
    return str(filled("page.html", title=title, content=shown, footer=footer))


def picture(figure: "Figure", description: object = "") -> "Markup":
    """Write a chart into a page, with the widths below and above which its letters would be too small and too large.

    What it shows in words is its own, where no other words are given.
    """
    from markupsafe import Markup

    drawn = style.svg(figure, description or figure.get_label())
    smallest = min((float(size) for size in re.findall(r"font(?:-size)?:[^;\"]*?([\d.]+)px", drawn)), default=SMALLEST)
    natural = 96 * figure.get_figwidth()
    wide, most = ceil(natural * SMALLEST / smallest), ceil(1.18 * natural)
    return Markup(f'<div class="drawn" tabindex="0" style="--wide: {wide}px; --most: {most}px">{drawn}</div>')


def drawn(drawing: style.Drawing) -> "Markup":
    """Write a drawing into a page; its letters are legible on a phone as it is."""
    from markupsafe import Markup

    return Markup(drawing.html)


def address(name: str) -> str:
    """Write the name of a file beside a page as a link does."""
    return quote(name)


def check_place(path: str | Path, what: str = "the job sheet") -> None:
    """Refuse a place where a page cannot be written, before a long calculation and not after it."""
    target = Path(path)
    try:
        folder, beside, there, regular = target.is_dir(), target.parent.is_dir(), target.exists(), target.is_file()
    except OSError as error:
        raise InputError(f"it cannot be written ({error.strerror})", file=target, remedy="name another place") from None
    if folder:
        raise InputError("this is a folder", file=target, expected="the name of a file to write")
    if not beside:
        raise InputError("its folder does not exist", file=target, expected="a folder that is there")
    if there and not regular:
        raise InputError("this is not a file", file=target, expected="the name of a file to write")
    if target.suffix.lower() not in (".html", ".htm"):
        raise InputError(f"{what} is a web page", file=target, expected="a name that ends in .html")
    # A page replaces an older file, which takes a right to the folder, not only to the file.
    if not os.access(target.parent, os.W_OK) or (there and not os.access(target, os.W_OK)):
        raise InputError("it may not be written there", file=target, remedy="name another place with -o")


def save(written: str, path: str | Path) -> None:
    """Write a page to a file, whole or not at all."""
    written_files.replace(Path(path), written.encode(), what="the page", remedy="choose another place with -o")


def item(words: object) -> list[str]:
    """Write a sentence as an item of a list in text."""
    return numbers.wrap(words, COLUMNS, "- ", "  ")


def kit() -> Statement:
    """Say what computed a page."""
    from lampkit import __version__

    return say("page.kit", version=__version__)
