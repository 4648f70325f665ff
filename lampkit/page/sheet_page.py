"""A page that needs nothing else, in the style of the job sheet, and how it is filled and kept."""

from pathlib import Path
from typing import Any

from lampkit import written_files


def filled(template: str, **content: Any) -> str:
    """Fill a template."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("lampkit.page"),
        autoescape=lambda name: name is not None and name.endswith(".html"),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template(template).render(**content)


def page(title: str, shown: str, footer: str) -> str:
    """Put HTML into a page of its own."""
    from markupsafe import Markup

    return filled("sheet.html", title=title, content=Markup(shown), footer=footer)


def save(written: str, path: str | Path) -> None:
    """Write a page to a file, whole or not at all."""
    written_files.replace(Path(path), written.encode(), what="the page", remedy="choose another place with -o")
