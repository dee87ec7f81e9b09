"""The README's pictures, made by the program itself: ``make pictures``."""

import shutil
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from PIL import Image
from playwright.sync_api import Page, sync_playwright

from service.answers.museum import Museum
from service.answers.week_files import write_week
from service.intake.demo import build, sample_folder
from service.notices.after_arrival import after_arrival
from service.settings import Settings
from service.storage.stores import Stores
from service.web.app import create_app

FOLDER = Path(__file__).resolve().parents[2] / "dashboards" / "guides" / "pictures"
ROOM, WORK, PORT = "north", "2021-05", 8974
QUIET = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync")
INKS = 256  # colours kept of a picture
# Name of the picture → address, width and height of the window.
PAGES = {
    "this-week": ("/", 1200, 900),
    "round-phone": ("/round", 390, 844),
    "work": (f"/works/{WORK}", 1200, 900),
}


def main() -> None:
    """Build the invented museum, draw its week, and photograph three pages."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(data_dir=Path(folder), port=PORT)
        with Stores.open(settings) as stores:
            for _ in build(stores, sample_folder()):
                pass
            museum = Museum(stores, settings)
            after_arrival(museum)
            small(write_week(museum, ROOM, museum.this_week() or "", FOLDER / "week.png"))
        with served(settings):
            photograph(f"http://{settings.host}:{settings.port}")


@contextmanager
def served(settings: Settings) -> Iterator[None]:
    """Serve the pages from a thread."""
    config = uvicorn.Config(
        create_app(settings), host=settings.host, port=settings.port, log_level="warning"
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run)
    thread.start()
    while not server.started:
        time.sleep(0.05)
    try:
        yield
    finally:
        server.should_exit = True
        thread.join()


def photograph(address: str) -> None:
    """Write each page's picture."""
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=shutil.which("chromium"), args=list(QUIET))
        for name, (path, width, height) in PAGES.items():
            page: Page = browser.new_page(viewport={"width": width, "height": height})
            page.goto(address + path, timeout=120_000)
            page.evaluate("document.fonts.ready")
            page.screenshot(path=FOLDER / f"{name}.png")
        browser.close()


def small(path: Path) -> None:
    """Write a picture again with the colours that a drawing in few inks needs."""
    with Image.open(path) as picture:
        few = picture.convert("RGB").quantize(INKS)
    few.save(path, optimize=True)


if __name__ == "__main__":
    main()
