"""Every column that a chart's tooltip names has a word of its own."""

from __future__ import annotations

import re
from pathlib import Path

import dashboard
from dashboard.text.tooltips import TITLES

CHARTS = Path(dashboard.__file__).parent / "charts"


def test_every_tooltip_without_a_title_has_a_word() -> None:
    bare = {
        name
        for path in CHARTS.glob("*.py")
        for name in re.findall(r'alt\.Tooltip\("(\w+)(?::\w)?"(?!, title)', path.read_text(encoding="utf-8"))
    }
    assert len(bare) > 20
    assert bare - TITLES.keys() == set()
