"""Files that people write: what is opened, how far it is read, and that a file is replaced whole or not at all."""

import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from lampkit import written_files
from lampkit.errors import Fault, InputError, refuse

ASKED = {"for_one": "curve", "expected": "a CSV file", "remedy": "keep one"}


def refused(file: Path, largest: int = 1000) -> str:
    with pytest.raises(InputError) as caught:
        written_files.raw_of(file, largest=largest, **ASKED)
    return str(caught.value)


def test_what_is_no_plain_file_is_refused_at_once(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    link, loop = tmp_path / "link.csv", tmp_path / "loop.csv"
    link.symlink_to("/dev/zero")
    loop.symlink_to(loop)
    for file in (pipe, link, Path("/dev/zero"), Path("/dev/stdin")):
        assert "this is not a file; expected a CSV file." in refused(file)
    assert "this is a folder" in refused(tmp_path)
    assert "no such file" in refused(loop) or "cannot be read" in refused(loop)
    assert "cannot be read (File name too long)" in refused(tmp_path / ("x" * 300))


def test_the_bound_holds_whatever_the_file_says_of_its_size(tmp_path: Path) -> None:
    file = tmp_path / "curve.csv"
    file.write_bytes(b"x" * 1000)
    assert written_files.raw_of(file, largest=1000, **ASKED) == b"x" * 1000
    file.write_bytes(b"x" * 1001)
    assert "too much for one curve; expected at most 0.001 MB; keep one." in refused(file)
    # The kernel's own files say that they are empty.
    assert "too much for one curve" in refused(Path("/proc/self/maps"), largest=10)


@pytest.mark.parametrize(
    ("raw", "foreign", "told"),
    [
        ("für".encode(), False, ("für", "UTF-8")),
        (b"\xef\xbb\xbff\xc3\xbcr", False, ("für", "UTF-8")),
        ("für".encode("utf-16"), True, ("für", "UTF-16")),
        ("für".encode("latin-1"), True, ("für", "Windows text")),
        ("a\nfür".encode("latin-1"), False, "line 2: the file is not plain text in UTF-8; save it as text."),
        ("für".encode("utf-16"), False, "line 1: the file is not plain text in UTF-8; save it as text."),
        (
            "a\nfür".encode("utf-16") + b"x",
            True,
            "line 2: the file begins as UTF-16 and is cut short or damaged; save it as text.",
        ),
        ("a\nb".encode("utf-16-le"), True, "the file holds binary data: this is not a text file; save it as text."),
        (b"PK\x03\x04 more", True, "the file holds binary data: this is not a text file; save it as text."),
    ],
)
def test_text_is_decoded_or_refused(raw: bytes, foreign: bool, told: tuple[str, str] | str) -> None:
    if isinstance(told, tuple):
        assert written_files.text_of(Path("f"), raw, remedy="save it as text", foreign=foreign) == told
        return
    with pytest.raises(InputError) as caught:
        written_files.text_of(Path("f"), raw, remedy="save it as text", foreign=foreign)
    assert str(caught.value).endswith(told)


def test_a_file_is_replaced_whole_with_its_mode_and_through_a_link(tmp_path: Path) -> None:
    file, link = tmp_path / "page.html", tmp_path / "link.html"
    file.write_bytes(b"old")
    file.chmod(0o640)
    link.symlink_to(file)
    written_files.replace(link, b"new", what="the page", remedy="choose another place")
    assert file.read_bytes() == b"new" and link.is_symlink()
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    with pytest.raises(InputError, match=r"the page cannot be written \(Is a directory\); choose another place"):
        written_files.replace(tmp_path, b"new", what="the page", remedy="choose another place")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link.html", "page.html"]


def test_what_a_killed_write_left_goes_with_the_next_one(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    left, fresh = tmp_path / ".page.html.ab12_cd9.part", tmp_path / ".page.html.zz12_cd9.part"
    others = tmp_path / ".other.html.ab12_cd9.part", tmp_path / ".page.html.mine.part", tmp_path / "page.html.part"
    for file in (left, fresh, *others):
        file.write_bytes(b"half")
        if file != fresh:
            os.utime(file, (0, 0))
    written_files.replace(page, b"new", what="the page", remedy="choose another place")
    # One that another process may be writing at this moment stays, and whatever is not ours.
    assert not left.exists() and fresh.exists() and all(file.exists() for file in others)


def test_a_write_that_is_killed_keeps_the_old_page(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_bytes(b"old")
    program = (
        "import os, signal, sys; from pathlib import Path; from lampkit import written_files\n"
        "os.replace = lambda *names: os.kill(os.getpid(), signal.SIGKILL)\n"
        "written_files.replace(Path(sys.argv[1]), b'new', what='the page', remedy='-')"
    )
    assert subprocess.run([sys.executable, "-c", program, str(page)]).returncode == -signal.SIGKILL
    assert page.read_bytes() == b"old"
    (left,) = tmp_path.glob(".page.html.*.part")
    os.utime(left, (0, 0))
    written_files.replace(page, b"newer", what="the page", remedy="-")
    assert [file.name for file in tmp_path.iterdir()] == ["page.html"] and page.read_bytes() == b"newer"


def test_faults_are_told_once_each_in_the_order_of_their_lines() -> None:
    faults = [Fault("b", "f", 7), Fault("a", "f", 3, expected="c"), Fault("b", "f", 7)]
    with pytest.raises(InputError) as caught:
        refuse(faults)
    assert str(caught.value) == "f, line 3: a; expected c.\nf, line 7: b."
    assert caught.value.faults == (faults[1], faults[0])
    with pytest.raises(InputError) as caught:
        refuse([Fault(f"fault {n}") for n in range(23)])
    assert str(caught.value).splitlines()[19:] == ["fault 19.", "and 3 more."]
    refuse([])


def test_a_message_is_one_line_and_steers_no_terminal() -> None:
    told = str(InputError("the key '\x1b[31m\n\u200b\u202e' is unknown", file="a\nb"))
    assert told == "a\\nb: the key '\\x1b[31m\\n\\u200b\\u202e' is unknown."
