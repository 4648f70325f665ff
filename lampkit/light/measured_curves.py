"""Reads a measured curve, transmittance or spectrum, from a CSV file or an IES TM-27 file onto the grid."""

import csv
import io
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lampkit import grid, written_files
from lampkit.errors import InputError, missing_library, nearest

WEAKEST, STRONGEST = 1e-30, 1e30
"""Between what the largest value of a curve lies, so that its integrals are numbers [1]. Source: own judgement."""

What = Literal["transmittance", "spectrum", "responsivity"]

COLUMNS: dict[str, tuple[str, ...]] = {
    "transmittance": ("transmittance",),
    "spectrum": ("relative_power", "spectral_flux_W_per_nm"),
    "responsivity": ("relative_responsivity",),
}
"""The value columns that a curve file may have, beside wavelength_nm."""

LARGEST_FILE = 5_000_000
"""Largest file that is read [byte]; 471 points take about 10 kB."""

WIDEST_GAP = 25.0
"""Widest step between two rows that is still interpolated [nm]."""


def read_curve(
    path: str | Path, *, what: What = "transmittance", outside: grid.Outside = "error"
) -> NDArray[np.float64]:
    """Read a transmittance or a spectrum from a file and bring it onto the grid.

    A CSV file has the columns `wavelength_nm` and `transmittance` (0 to 1), or `wavelength_nm` and `relative_power`
    (any scale) or `spectral_flux_W_per_nm`; lines that start with # are comments. A file ending in .spdx or .xml
    is read as IES TM-27-14.

    Parameters
    ----------
    path : str or Path
        The file.
    what : {'transmittance', 'spectrum', 'responsivity'}
        What the file holds.
    outside : {'error', 'zero', 'hold'}
        What to do on the part of 360 nm to 830 nm that the file does not cover.

    Returns
    -------
    ndarray, shape (471,) [1]
        The curve on the grid, in the unit of its column.

    Raises
    ------
    InputError
        The file is missing, too large, not text or empty; a column is missing or double; a row is short, empty,
        not a number, negative, out of order or repeated; a transmittance is above one; the grid is not covered.

    Examples
    --------
    >>> import lampkit as lk
    >>> path = lk.tables.folder() / "library_van" / "cie_led_b3.csv"
    >>> spectrum = lk.light.read_curve(path, what="spectrum", outside="zero")
    >>> spectrum.shape
    (471,)
    """
    if what not in COLUMNS:
        raise InputError(f"a curve of '{what}' is unknown", key="what", expected=nearest(what, COLUMNS))
    file = Path(path)
    raw = written_files.raw_of(
        file,
        largest=LARGEST_FILE,
        for_one="curve",
        expected="the path of a CSV or TM-27 file",
        remedy="keep one spectrum, at steps of 1 nm or wider",
    )
    if file.suffix.lower() in (".spdx", ".xml"):
        wavelength, values, lines = _read_tm27(file, raw, what)
    else:
        wavelength, values, lines = _read_csv(file, raw, what)
    _refuse_nonsense(file, wavelength, values, lines, what)
    if wavelength[-1] < grid.WAVELENGTHS[0] or wavelength[0] > grid.WAVELENGTHS[-1]:
        raise InputError(
            f"the curve runs from {wavelength[0]:g} nm to {wavelength[-1]:g} nm and never touches visible light",
            file=file,
            expected="nanometres, with rows between 360 and 830",
        )
    try:
        return grid.resample(wavelength, values, outside=outside)
    except InputError as error:
        raise InputError(error.what, file=file, expected=error.expected, remedy=error.remedy) from None


def _read_csv(file: Path, raw: bytes, what: What) -> tuple[NDArray[np.float64], NDArray[np.float64], list[int]]:
    text, _ = written_files.text_of(file, raw, remedy="save it again as 'CSV UTF-8'")
    try:
        reader = csv.reader(io.StringIO(text), strict=True)
        rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    except csv.Error as error:
        raise InputError(f"the file is not a table ({error})", file=file, expected="values between commas") from None
    rows = [(n, row) for n, row in rows if any(row) and not row[0].startswith("#")]
    if not rows:
        raise InputError("the file is empty", file=file, expected=f"the columns wavelength_nm and {COLUMNS[what][0]}")
    heading_line, heading = rows[0]
    place, value_place = _columns(file, heading_line, heading, what)
    if len(rows) < 3:
        raise InputError(f"{len(rows) - 1} rows of numbers make no curve", file=file, expected="two or more")
    wavelength, values, lines = [], [], []
    for n, row in rows[1:]:
        if len(row) != len(heading):
            raise InputError(
                f"the row has {len(row)} cells under {len(heading)} headings",
                file=file,
                line=n,
                remedy="write decimals with a point, one comma between the cells",
            )
        wavelength.append(_number(file, n, heading[place], row[place]))
        values.append(_number(file, n, heading[value_place], row[value_place]))
        lines.append(n)
    return np.array(wavelength), np.array(values), lines


def _columns(file: Path, line: int, heading: list[str], what: What) -> tuple[int, int]:
    wanted = ("wavelength_nm", *COLUMNS[what])
    if len(heading) == 1 and any(mark in heading[0] for mark in ";\t"):
        raise InputError(
            "the cells are parted by semicolons or tabs",
            file=file,
            line=line,
            expected="commas between cells and points in decimals",
        )
    double = [name for name in wanted if heading.count(name) > 1]
    if double:
        raise InputError("the column stands there twice", file=file, line=line, key=double[0])
    if "wavelength_nm" not in heading:
        raise InputError(
            f"there is no column 'wavelength_nm'{_among(heading, what)}",
            file=file,
            line=line,
            expected=f"a heading such as wavelength_nm,{COLUMNS[what][0]}",
        )
    there = [name for name in COLUMNS[what] if name in heading]
    if len(there) != 1:
        found = "both value columns are there" if there else f"there is no column of {what}{_among(heading, what)}"
        raise InputError(found, file=file, line=line, expected="the column " + " or ".join(COLUMNS[what]))
    return heading.index("wavelength_nm"), heading.index(there[0])


def _among(heading: list[str], what: What) -> str:
    # A file without any known heading is no curve, and what stands in it is nobody's business.
    known = [name for name in heading if name == "wavelength_nm" or name in COLUMNS[what]]
    return f" among {', '.join(heading)[:80]}" if known else ""


def _number(file: Path, line: int, column: str, cell: str) -> float:
    if not cell:
        raise InputError("the cell is empty", file=file, line=line, key=column, expected="a number")
    try:
        value = float(cell)
    except ValueError:
        raise InputError(
            f"'{cell[:40]}' is not a number", file=file, line=line, key=column, expected="digits with a decimal point"
        ) from None
    if not np.isfinite(value):
        raise InputError(f"'{cell[:40]}' is not a finite number", file=file, line=line, key=column)
    return value


def _read_tm27(file: Path, raw: bytes, what: What) -> tuple[NDArray[np.float64], NDArray[np.float64], list[int] | None]:
    if b"<!DOCTYPE" in raw.replace(b"\x00", b""):
        # What a declaration defines may unfold into any amount of text.
        raise InputError(
            "the file holds a document type declaration", file=file, remedy="delete it, or save two columns as CSV"
        )
    try:
        import colour
    except ModuleNotFoundError as error:
        raise missing_library(error) from None
    try:
        table = colour.SpectralDistribution_IESTM2714(str(file)).read()
        wavelength, values = np.asarray(table.wavelengths, dtype=float), np.asarray(table.values, dtype=float)
    except Exception as error:  # the reader of the library raises many kinds for a broken file
        raise InputError(
            f"the file is not a spectrum in the IES TM-27-14 form ({str(error).strip()[:120]})",
            file=file,
            remedy="export it again, or save two columns as CSV",
        ) from None
    quantity = table.spectral_quantity
    if (quantity == "transmittance") != (what == "transmittance") or quantity in ("reflectance", "absorptance"):
        raise InputError(f"the file holds '{quantity}'", file=file, key="SpectralQuantity", expected=f"a {what}")
    if wavelength.size < 2:
        raise InputError(f"{wavelength.size} values make no curve", file=file, expected="two or more")
    return wavelength, values, None


def _refuse_nonsense(
    file: Path, wavelength: NDArray[np.float64], values: NDArray[np.float64], lines: list[int] | None, what: What
) -> None:
    def line(i: int) -> int | None:
        return None if lines is None else lines[i]

    if not np.all(np.isfinite(wavelength)) or not np.all(np.isfinite(values)):
        raise InputError("a value is not a finite number", file=file)
    if wavelength.max() < 20.0:
        raise InputError(
            f"the wavelengths end at {wavelength.max():g}, which looks like micrometres",
            file=file,
            key="wavelength_nm",
            expected="nanometres",
        )
    step = np.diff(wavelength)
    if np.any(step <= 0):
        i = int(np.argmax(step <= 0)) + 1
        problem = "stands there twice" if step[i - 1] == 0 else f"comes after {wavelength[i - 1]:g} nm"
        raise InputError(
            f"{wavelength[i]:g} nm {problem}",
            file=file,
            line=line(i),
            key="wavelength_nm",
            expected="each wavelength above the one before",
            remedy="sort the rows and keep one row a wavelength",
        )
    inside = (wavelength[1:] > grid.WAVELENGTHS[0]) & (wavelength[:-1] < grid.WAVELENGTHS[-1])
    if np.any(inside & (step > WIDEST_GAP)):
        i = int(np.argmax(inside & (step > WIDEST_GAP))) + 1
        raise InputError(
            f"nothing stands between {wavelength[i - 1]:g} nm and {wavelength[i]:g} nm",
            file=file,
            line=line(i),
            expected=f"steps of at most {WIDEST_GAP:g} nm",
        )
    if np.any(values < 0):
        i = int(np.argmax(values < 0))
        raise InputError(
            f"{values[i]:g} at {wavelength[i]:g} nm is below zero",
            file=file,
            line=line(i),
            expected="zero or more",
            remedy="if it is noise about zero, write 0",
        )
    if what == "transmittance" and np.any(values > 1):
        i = int(np.argmax(values > 1))
        remedy = (
            "divide percent by 100"
            if values.max() > 1.5
            else "measure the reference again, or write 1 if it is noise about one"
        )
        raise InputError(
            f"{values[i]:g} at {wavelength[i]:g} nm is above one",
            file=file,
            line=line(i),
            expected="a transmittance from 0 to 1",
            remedy=remedy,
        )
    most = float(values.max())
    if most == 0:
        # The lens of such a curve would have no colour, and a source no light.
        raise InputError("every value is zero", file=file, expected=f"a {what} above zero somewhere")
    if not WEAKEST < most < STRONGEST:
        raise InputError(
            f"the largest value is {most:g}",
            file=file,
            expected=f"values between {WEAKEST:g} and {STRONGEST:g}",
            remedy="scale the curve so that its largest value is 1",
        )
