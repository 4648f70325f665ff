"""Reading measured curves: what is read, and how broken files are refused."""

from pathlib import Path

import numpy as np
import pytest

from lampkit import grid
from lampkit.errors import InputError
from lampkit.light import measured_curves

HEAD = "wavelength_nm,transmittance\n"
GOOD = HEAD + "".join(f"{nm},{0.5 + 0.001 * (nm - 360) / 2:.4f}\n" for nm in range(360, 831, 10))
ROWS = "".join(f"{nm},0.5\n" for nm in range(360, 831, 10))


def write(folder: Path, content: str | bytes, name: str = "lens.csv") -> Path:
    path = folder / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


def test_a_curve_comes_back_on_the_grid(tmp_path: Path) -> None:
    curve = measured_curves.read_curve(write(tmp_path, "# a comment\n" + GOOD))
    assert curve.shape == (471,)
    assert curve[[0, 5, 470]] == pytest.approx([0.5, 0.5025, 0.735])


def test_byte_order_mark_blank_lines_and_other_columns_do_no_harm(tmp_path: Path) -> None:
    text = "\ufeffnote,wavelength_nm,transmittance\n\n" + "".join(f"x,{n},0.25\n\n" for n in range(360, 831, 10))
    assert np.all(measured_curves.read_curve(write(tmp_path, text)) == 0.25)


def test_the_rule_outside_the_table(tmp_path: Path) -> None:
    path = write(tmp_path, HEAD + "".join(f"{n},0.4\n" for n in range(400, 701, 10)))
    with pytest.raises(InputError, match=r"400 nm to 700 nm only.*outside = .zero"):
        measured_curves.read_curve(path)
    assert measured_curves.read_curve(path, outside="zero")[[0, 470]] == pytest.approx([0, 0])
    assert measured_curves.read_curve(path, outside="hold")[[0, 470]] == pytest.approx([0.4, 0.4])


@pytest.mark.parametrize("column", ["relative_power", "spectral_flux_W_per_nm"])
def test_a_spectrum_may_have_any_scale(tmp_path: Path, column: str) -> None:
    path = write(tmp_path, f"wavelength_nm,{column}\n" + "".join(f"{n},{n}\n" for n in range(360, 831, 5)))
    assert measured_curves.read_curve(path, what="spectrum") == pytest.approx(grid.WAVELENGTHS)


# Each file is broken in one way: its content, what the message says, the line it names.
BROKEN: dict[str, tuple[str | bytes, str, int | None]] = {
    "nothing": ("", "empty", None),
    "comments only": ("# nothing here\n", "empty", None),
    "heading only": (HEAD, "0 rows of numbers", None),
    "one row": (HEAD + "500,0.5\n", "1 rows of numbers", None),
    "no heading": (ROWS, "no column 'wavelength_nm'", 1),
    "other heading": ("nm,transmittance\n" + ROWS, "no column 'wavelength_nm'", 1),
    "percent column": ("wavelength_nm,transmittance_percent\n" + ROWS, "no column of transmittance", 1),
    "column twice": ("wavelength_nm,transmittance,transmittance\n500,0.1,0.2\n510,0.1,0.2\n", "twice", 1),
    "semicolons": ("wavelength_nm;transmittance\n" + ROWS.replace(",", ";"), "semicolons or tabs", 1),
    "decimal commas": (HEAD + "500,0,5\n510,0,5\n", "3 cells under 2", 2),
    "short row": (HEAD + "500,0.5\n510\n520,0.5\n", "1 cells under 2", 3),
    "empty cell": (HEAD + "500,0.5\n510,\n520,0.5\n", "empty", 3),
    "word": (HEAD + "500,0.5\n510,dark\n520,0.5\n", "'dark' is not a number", 3),
    "nan": (HEAD + "500,0.5\n510,nan\n520,0.5\n", "not a finite number", 3),
    "infinite": (HEAD + "500,0.5\n510,1e999\n520,0.5\n", "not a finite number", 3),
    "out of order": (HEAD + "500,0.5\n520,0.5\n510,0.5\n", "510 nm comes after 520 nm", 4),
    "twice": (HEAD + "500,0.5\n510,0.5\n510,0.6\n", "510 nm stands there twice", 4),
    "negative": (HEAD + "500,0.5\n510,-0.01\n520,0.5\n", "below zero", 3),
    "percent": (HEAD + "500,5\n510,50\n520,90\n", "above one.*divide percent by 100", 2),
    "a little above one": (HEAD + "500,0.9\n510,1.01\n520,0.9\n", "above one", 3),
    "gap": (HEAD + "500,0.5\n510,0.5\n600,0.5\n", "nothing stands between 510 nm and 600 nm", 4),
    "micrometres": (HEAD + "0.36,0.5\n0.5,0.5\n0.83,0.5\n", "micrometres", None),
    "infrared": (HEAD + "1000,0.5\n1010,0.5\n", "never touches visible light", None),
    "other encoding": ((HEAD + "# Gl\u00fchlampe\n" + ROWS).encode("latin-1"), "not plain text in UTF-8", 2),
    "two-byte encoding": (GOOD.encode("utf-16"), "not plain text in UTF-8", 1),
    "binary": (HEAD.encode() + b"500,\x000.5\n510,0.5\n", "binary data", 2),
    "open quote": (HEAD + '500,"0.5\n510,0.5\n', "not a table", None),
}


@pytest.mark.parametrize("case", BROKEN)
def test_a_broken_file_is_refused_with_its_name_and_line(tmp_path: Path, case: str) -> None:
    content, message, line = BROKEN[case]
    path = write(tmp_path, content)
    with pytest.raises(InputError, match=message) as caught:
        measured_curves.read_curve(path, outside="hold")
    assert str(path) in str(caught.value)
    assert caught.value.line == line


def test_a_missing_file_names_its_neighbours(tmp_path: Path) -> None:
    write(tmp_path, GOOD, "red_lens.csv")
    with pytest.raises(InputError, match=r"no such file.*'red_lens.csv'"):
        measured_curves.read_curve(tmp_path / "red_lense.csv")


def test_a_folder_is_not_a_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a folder"):
        measured_curves.read_curve(tmp_path)


def test_a_huge_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "huge.csv"
    with path.open("wb") as stream:
        stream.truncate(2_000_000_000)
    with pytest.raises(InputError, match="2000 MB"):
        measured_curves.read_curve(path)


def test_both_value_columns_are_ambiguous(tmp_path: Path) -> None:
    path = write(tmp_path, "wavelength_nm,relative_power,spectral_flux_W_per_nm\n500,1,1\n510,1,1\n")
    with pytest.raises(InputError, match="both value columns"):
        measured_curves.read_curve(path, what="spectrum", outside="zero")


def test_a_dark_spectrum_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path, "wavelength_nm,relative_power\n500,0\n510,0\n")
    with pytest.raises(InputError, match="every value is zero"):
        measured_curves.read_curve(path, what="spectrum", outside="zero")


def test_an_unknown_kind_of_curve_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="'reflectance' is unknown"):
        measured_curves.read_curve(write(tmp_path, GOOD), what="reflectance")  # type: ignore[arg-type]


# --- IES TM-27-14, written by the reference library -----------------------------------------------------------------


def tm27(folder: Path, values: dict[int, float], quantity: str = "flux") -> Path:
    import colour

    path = folder / "lamp.spdx"
    header = colour.io.Header_IESTM2714(description="invented", document_creator="test")
    colour.SpectralDistribution_IESTM2714(
        str(path), header=header, spectral_quantity=quantity, data=values, name="x"
    ).write()
    return path


def test_a_tm27_file_as_the_reference_library_writes_it(tmp_path: Path) -> None:
    path = tm27(tmp_path, {n: float(n) for n in range(360, 831, 5)})
    assert measured_curves.read_curve(path, what="spectrum") == pytest.approx(grid.WAVELENGTHS)


def test_a_tm27_file_of_the_wrong_quantity(tmp_path: Path) -> None:
    path = tm27(tmp_path, dict.fromkeys(range(360, 831, 5), 0.5), "transmittance")
    assert np.all(measured_curves.read_curve(path) == 0.5)
    with pytest.raises(InputError, match=r"holds 'transmittance'.*a spectrum"):
        measured_curves.read_curve(path, what="spectrum")


@pytest.mark.parametrize("content", ["", "<a>", "<IESTM2714 xmlns='iestm2714'/>", "<a xmlns='b'>text</a>", "no xml"])
def test_a_broken_tm27_file(tmp_path: Path, content: str) -> None:
    path = write(tmp_path, content, "lamp.xml")
    with pytest.raises(InputError, match=r"lamp\.xml"):
        measured_curves.read_curve(path, what="spectrum")
