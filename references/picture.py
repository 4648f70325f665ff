"""Makes the picture of the README: the first page of the demo's job sheet, as a browser prints it.

    python references/picture.py references/job_sheet.png

It takes Debian's chromium and poppler-utils, and Pillow, which Matplotlib brings.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image


def picture(target: Path) -> None:
    """Write the report of the demo, print it, and keep the first page."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        subprocess.run(
            [sys.executable, "-m", "lampkit", "report", "--demo", "-o", str(place / "library_van.html")],
            check=True,
            stdout=subprocess.DEVNULL,
        )
        printed = place / "library_van.pdf"
        browser = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"]
        page = (place / "library_van.html").as_uri()
        subprocess.run([*browser, f"--print-to-pdf={printed}", page], check=True, capture_output=True)
        subprocess.run(["pdftoppm", "-r", "90", "-f", "1", "-l", "1", "-png", printed, place / "page"], check=True)
        (first,) = place.glob("page*.png")
        Image.open(first).convert("RGB").save(target, optimize=True)


if __name__ == "__main__":
    picture(Path(sys.argv[1]))
