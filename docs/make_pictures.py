"""Makes the pictures of README.md: the top of two built pages, seen in Chromium.

    python docs/make_pictures.py

Needs the packages of the tests, and Chromium (`SITEGEN_CHROMIUM` or the system's).
"""

import os
import re
import shutil
import subprocess
import sys
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image
from playwright.sync_api import sync_playwright

HERE = Path(__file__).resolve().parent
PROJECT = HERE.parent
CHROMIUM = os.environ.get("SITEGEN_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
FILES = re.compile(r"<!-- (first/[^ ]+) -->\n```[a-z]*\n(.*?)^```$", re.MULTILINE | re.DOTALL)
# name: (which site, pages to look for, width, height)
PICTURES = {
    "first-page": ("first", "en/reviews/[!i]*.html", 900, 900),
    "round": ("demo", "en/rounds/*trousers*.html", 1280, 1250),
}


def main() -> None:
    """Build both sites and photograph them."""
    with TemporaryDirectory() as folder:
        top = Path(folder)
        for name, text in FILES.findall((PROJECT / "README.md").read_text("utf-8")):
            (top / name).parent.mkdir(parents=True, exist_ok=True)
            (top / name).write_text(text, "utf-8")
        sites = {"first": top / "first_site", "demo": top / "demo_site"}
        for source, to in ((top / "first", sites["first"]), (PROJECT / "demo_site", sites["demo"])):
            subprocess.run(
                [sys.executable, "-m", "sitegen", "build", str(source), "--to", str(to), "--quiet"],
                cwd=PROJECT,
                check=True,
            )
        shoot(sites)


def shoot(sites: dict[str, Path]) -> None:
    """One picture of each page, as WebP beside this file."""
    with sync_playwright() as playwright:
        arguments = ["--no-sandbox"] if os.geteuid() == 0 else []
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=arguments)
        for name, (site, pattern, width, height) in PICTURES.items():
            page = browser.new_page(viewport={"width": width, "height": height}, color_scheme="light")
            page.goto(min(sites[site].glob(pattern)).as_uri(), wait_until="load")
            image = Image.open(BytesIO(page.screenshot())).convert("RGB")
            image.save(HERE / f"{name}.webp", quality=82, method=6)
            page.close()
        browser.close()


if __name__ == "__main__":
    main()
