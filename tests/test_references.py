"""The pages that are made out of what stands elsewhere: fresh, whole, and good without a network."""

import html
import importlib.util
import re
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def make() -> ModuleType:
    spec = importlib.util.spec_from_file_location("make", ROOT / "references" / "make.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def sources(make: ModuleType) -> str:
    return str(make.sources())


def test_the_page_of_sources_is_fresh(sources: str) -> None:
    """`python references/make.py sources references/sources.md` writes it."""
    assert (ROOT / "references" / "sources.md").read_text(encoding="utf-8") == sources


def test_the_guide_to_the_vehicle_file_is_fresh(make: ModuleType) -> None:
    """`python references/make.py guide references/vehicle_file.md` writes it."""
    assert (ROOT / "references" / "vehicle_file.md").read_text(encoding="utf-8") == make.guide()


def test_each_source_says_how_it_is_known_and_what_it_gives(make: ModuleType, sources: str) -> None:
    rows = {row.key: row for row in make.bibliography()}
    assert rows["un-r37"].known == "read in part; from memory"
    assert rows["un-r87"].known == "text not seen"
    assert rows["un-r48"].cited_in("UN R48, 5.15") and not rows["un-r48"].cited_in("UN R148, table 3")
    assert rows["sultanova-2009"].name.endswith("Acta Phys. Pol. A 116 (2009) 585")
    (row,) = re.findall(r"^\| \*\*un-r148\*\* .*$", sources, re.MULTILINE)
    assert "`rules/intensity_limits`" in row and "`published/rules_un.toml`" in row
    assert sources.count("\n| **") == len(rows)


def test_the_page_of_functions_holds_every_public_name(make: ModuleType) -> None:
    page = make.functions()
    for folder, _, names in make.public_names():
        for name, _ in names:
            assert page.count(f'<section id="{folder}.{name}">') == 1, name
    read = html.unescape(re.sub(r"<[^>]*>", "", page))
    assert "(array_like, shape (..., 471) [W/nm])" in read and ">>> import lampkit as lk\n" in read
    assert "lampkit.light.chromaticity(spectrum: ArrayLike) -> NDArray[np.float64]" in read
    # It opens from a stick, in a barn.
    assert not re.search(r'<[^>]*(?:src|href)="(?!#)|url\(|@import|<script', page)
