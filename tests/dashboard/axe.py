"""axe-core, the accessibility checker, run inside a page that stands; its script comes with a package."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from selenium import webdriver

TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
"""The rules of WCAG 2.2 at levels A and AA, and axe-core's own good practice."""
GRAVE = ("serious", "critical")
ALSO = ("heading-order",)
"""Rules that hold here though axe-core rates them lower: who listens goes through a page by its headings."""
RUN = """
const [tags, done] = arguments;
axe.run(document, {resultTypes: ["violations"], runOnly: {type: "tag", values: tags}})
    .then(found => done(found.violations))
    .catch(fault => done(String(fault)));
"""


def faults(driver: webdriver.Chrome) -> list[tuple[str, str, str, str]]:
    """Return what is wrong with the page that is open: (rule, impact, HTML of the element, what to do)."""
    if not driver.execute_script("return window.axe !== undefined"):
        driver.execute_script((files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8"))
    found: list[dict[str, Any]] | str = driver.execute_async_script(RUN, list(TAGS))
    assert not isinstance(found, str), found
    return [
        (rule["id"], rule["impact"], node["html"][:300], node.get("failureSummary", ""))
        for rule in found
        for node in rule["nodes"]
    ]


def grave(driver: webdriver.Chrome) -> list[tuple[str, str, str, str]]:
    """Return the faults of impact serious or critical, and those of the rules that hold besides."""
    return [fault for fault in faults(driver) if fault[1] in GRAVE or fault[0] in ALSO]
