"""The pictures in README, taken from the invented academy: `python -m tests.dashboard.pictures --home DIR`.

DIR is a home of `academy demo --no-dashboard`. Writes dashboard/pictures/<page>.png.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from browsing import ROOT, headless, serving, stands_still

PAGES = ("week", "drills")
FOLDER = ROOT / "dashboard" / "pictures"


def main() -> None:
    """Serve the home, open each page, and keep what its first screen shows."""
    parser = argparse.ArgumentParser(prog="python -m tests.dashboard.pictures", description=__doc__)
    parser.add_argument("--home", type=Path, required=True, help="a home that has published")
    home = parser.parse_args().home
    FOLDER.mkdir(exist_ok=True)
    with serving(home) as address, headless(1180, 900) as driver:
        for page in PAGES:
            driver.get(f"{address}/{page}")
            stands_still(driver)
            driver.save_screenshot(str(FOLDER / f"{page}.png"))
            print(FOLDER / f"{page}.png")


if __name__ == "__main__":
    main()
