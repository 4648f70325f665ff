"""A page that needs nothing else, in the style of the job sheet, and how it is filled and kept."""

import os
import tempfile
from pathlib import Path
from typing import Any

from lampkit.errors import InputError


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
    target = Path(path)
    beside = None
    try:
        handle, beside = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(written)
        # A temporary file is private; a page is as open as any file that the user makes.
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(beside, 0o666 & ~mask)
        os.replace(beside, target)
    except OSError as error:
        raise InputError(
            f"the page cannot be written ({error.strerror or error})",
            file=target,
            remedy="choose another place with -o",
        ) from None
    finally:
        # Also when the user stops it half-way.
        if beside is not None:
            Path(beside).unlink(missing_ok=True)
