"""Files that people write: read as text within a bound, and replaced as a whole."""

import os
import re
import stat
import tempfile
import time
from pathlib import Path

from lampkit.errors import InputError, nearest

OTHER_PROGRAMS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"%PDF")
"""How the files of spreadsheets, word processors and printers begin. Source: common practice, no source."""


def raw_of(file: Path, *, largest: int, for_one: str, expected: str, remedy: str = "") -> bytes:
    """Read a plain file that people wrote, at most so many bytes of it; whatever else bears a name is refused."""
    try:
        if not file.exists():
            there = sorted(file.parent.iterdir()) if file.suffix and file.parent.is_dir() else []
            beside = [path.name for path in there if path.suffix == file.suffix]
            wanted = nearest(file.name, beside) if beside else expected
            raise InputError("there is no such file", file=file, expected=wanted)
        if not file.is_file():
            what = "this is a folder, not a file" if file.is_dir() else "this is not a file"
            raise InputError(what, file=file, expected=expected)
        with file.open("rb") as stream:
            # What a file says of its size need not be true.
            raw = stream.read(largest + 1)
        if len(raw) > largest:
            size = max(file.stat().st_size, len(raw)) / 1e6
            raise InputError(
                f"the file holds {size:.{1 if size < 10 else 0}f} MB, too much for one {for_one}",
                file=file,
                expected=f"at most {largest / 1e6:g} MB",
                remedy=remedy or None,
            )
    except OSError as error:
        raise InputError(f"the file cannot be read ({error.strerror})", file=file, expected=expected) from None
    return raw


def text_of(file: Path, raw: bytes, *, remedy: str, foreign: bool = False) -> tuple[str, str]:
    """Decode what people wrote, and name the encoding: UTF-8, or where `foreign` also UTF-16 and Windows text."""
    binary = InputError("the file holds binary data: this is not a text file", file=file, remedy=remedy)
    if raw.startswith(OTHER_PROGRAMS):
        raise binary
    if foreign and raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        try:
            text, encoding = raw.decode("utf-16"), "UTF-16"
        except UnicodeDecodeError as error:
            line = raw[: error.start].decode("utf-16", errors="replace").count("\n") + 1
            what = "the file begins as UTF-16 and is cut short or damaged"
            raise InputError(what, file=file, line=line, remedy=remedy) from None
    else:
        try:
            text, encoding = raw.decode("utf-8-sig"), "UTF-8"
        except UnicodeDecodeError as error:
            if not foreign:
                line = raw[: error.start].count(b"\n") + 1
                what = "the file is not plain text in UTF-8"
                raise InputError(what, file=file, line=line, remedy=remedy) from None
            text, encoding = raw.decode("cp1252", errors="replace"), "Windows text"
    if "\x00" in text:
        line = text[: text.index("\x00")].count("\n") + 1
        raise InputError(binary.what, file=file, line=line, remedy=remedy)
    return text, encoding


STALE = 600.0
"""Age at which a half-written file is one that was given up [s]; a page is written in less than one."""


def _prefix(target: Path) -> str:
    return f".{target.name[:60]}."


def _sweep(target: Path) -> None:
    """Take away what an earlier write of the same file left when it was killed."""
    pattern = re.compile(re.escape(_prefix(target)) + r"[a-z0-9_]{8}\.part")
    for left in target.parent.iterdir():
        if pattern.fullmatch(left.name) and not left.is_symlink() and time.time() - left.stat().st_mtime > STALE:
            left.unlink(missing_ok=True)


def replace(file: Path, raw: bytes, *, what: str, remedy: str) -> None:
    """Put new bytes in the place of a file, whole or not at all, through a link and with the mode that it had."""
    target = Path(os.path.realpath(file))
    beside = None
    try:
        _sweep(target)
        if target.exists():
            mode = stat.S_IMODE(target.stat().st_mode)
        else:
            # A temporary file is private; a new one is as open as any file that the user makes.
            mask = os.umask(0)
            os.umask(mask)
            mode = 0o666 & ~mask
        handle, beside = tempfile.mkstemp(dir=target.parent, prefix=_prefix(target), suffix=".part")
        with os.fdopen(handle, "wb") as stream:
            stream.write(raw)
        os.chmod(beside, mode)
        os.replace(beside, target)
    except OSError as error:
        raise InputError(f"{what} cannot be written ({error.strerror or error})", file=file, remedy=remedy) from None
    finally:
        # Also when the user stops it half-way.
        if beside is not None:
            Path(beside).unlink(missing_ok=True)
