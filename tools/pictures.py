"""Make the pictures of the README from the demo boat: `python tools/pictures.py build/demo docs/pictures`."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import sync_playwright

FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip
#: name: (address, width and height of the picture); the boat page as far as its body plan
PAGES = {
    "boat-page": ("/", 800, 1270),
    "frame-page": ("/frames/14", 1180, 820),
    "plank-page": ("/planks/topside%2011", 1180, 820),
}


def main(demo: Path, to: Path) -> None:
    """Serve the demo boat, take its pages, and turn the first bench sheet into a picture."""
    to.mkdir(parents=True, exist_ok=True)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    program = Path(sys.executable).parent / "scrieve"
    server = subprocess.Popen(
        [program, "serve", demo / "merganser.boat", "--port", str(port)], stdout=subprocess.DEVNULL
    )
    base = f"http://127.0.0.1:{port}"
    try:
        for _ in range(120):
            try:
                if urllib.request.urlopen(base).status == 200:
                    break
            except OSError:
                pass
            time.sleep(0.5)
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
            page = browser.new_page(device_scale_factor=1)
            for name, (address, width, height) in PAGES.items():
                page.set_viewport_size({"width": width, "height": height})
                page.goto(base + address)
                page.screenshot(path=to / f"{name}.png")
            browser.close()
    finally:
        server.terminate()
        server.wait()
    sheet = demo / "sheets" / "frame-14-bench.pdf"
    subprocess.run(
        ["pdftoppm", "-r", "72", "-f", "1", "-l", "1", "-singlefile", "-png", sheet, to / "frame-sheet"], check=True
    )


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
