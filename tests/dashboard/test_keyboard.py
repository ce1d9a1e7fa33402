"""By keyboard alone: every control of the notebook is reached by Tab, in the order read, and is seen to be reached."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import browsing
import pytest
from made_notebook import entries, in_the_morning, own_home
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from dashboard.text import notebook as words

CONTROLS = """
const main = document.querySelector('[data-testid="stMain"]');
const groups = new Set();
const found = [...main.querySelectorAll('button, input, textarea, select, summary')].filter(one => {
    if (!one.checkVisibility({visibilityProperty: true}) || one.disabled || one.closest('[aria-hidden="true"]'))
        return false;
    if (one.closest('[data-testid="stElementToolbar"]')) return false;
    if (one.tabIndex < 0 && one.parentElement.querySelector('input[role="combobox"]')) return false;
    const group = one.getAttribute('role') === 'radio' && one.closest('[role="radiogroup"]');
    if (group && groups.has(group)) return false;
    if (group) groups.add(group);
    return true;
});
found.forEach((one, place) => one.dataset.place = place);
return found.map(one => [one.tagName, (one.innerText || one.ariaLabel || '').trim(), one.outerHTML.slice(0, 160)]);
"""
# The arrow beside a list's field opens what the field opens by the keyboard itself: no stop of its own (W3C,
# ARIA Authoring Practices, combobox). A choice of one among several is one stop of Tab, its arrows go on inside
# (the same, radio group).
FOCUSED = """
const one = document.activeElement;
if (!one || one === document.body) return null;
const drawn = seen => {
    const style = getComputedStyle(seen);
    return [style.outlineStyle, style.outlineWidth, style.outlineColor, style.boxShadow, style.borderColor,
        style.backgroundColor, style.color].join();
};
const chain = [one, one.parentElement, one.parentElement.parentElement, one.parentElement.parentElement.parentElement];
return [one.dataset.place === undefined ? null : Number(one.dataset.place), chain.map(drawn).join('|')];
"""
# What has the focus is drawn so a frame later.
DRAWN_AGAIN = "requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(arguments[0], 30)))"
AT_REST = """
const one = document.querySelector(`[data-place="${arguments[0]}"]`);
const drawn = seen => {
    const style = getComputedStyle(seen);
    return [style.outlineStyle, style.outlineWidth, style.outlineColor, style.boxShadow, style.borderColor,
        style.backgroundColor, style.color].join();
};
const chain = [one, one.parentElement, one.parentElement.parentElement, one.parentElement.parentElement.parentElement];
return chain.map(drawn).join('|');
"""


@pytest.fixture(scope="module")
def own(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a made home to write into."""
    return in_the_morning(own_home(home, tmp_path_factory.mktemp("keyboard")))


@pytest.fixture(scope="module")
def tablet(own: Path) -> Iterator[webdriver.Chrome]:
    """Open the notebook in a bay on a tablet with a keyboard, nothing touched yet."""
    with browsing.serving(own) as address, browsing.headless(820) as driver:
        driver.get(f"{address}/notebook?bay=B06&student=S005")
        browsing.says(driver, words.SECTIONS["card"])
        yield driver


def walk(driver: webdriver.Chrome, most: int) -> list[tuple[int, str]]:
    """Press Tab until no new control is reached; return each control's place and how it is drawn while reached."""
    driver.execute_script("document.activeElement.blur(); window.scrollTo(0, 0)")
    reached: dict[int, str] = {}
    for _ in range(most):
        ActionChains(driver, duration=0).send_keys(Keys.TAB).perform()
        driver.execute_async_script(DRAWN_AGAIN)
        at = driver.execute_script(FOCUSED)
        if at is not None and at[0] is not None:
            if at[0] in reached:
                break
            reached[at[0]] = at[1]
    return list(reached.items())


def press(driver: webdriver.Chrome, key: str) -> str:
    """Press a key; return what the control says that then has the focus."""
    ActionChains(driver, duration=0).send_keys(key).perform()
    return driver.execute_script("return document.activeElement.innerText.trim()")


def test_a_drill_is_chosen_and_begins_by_keyboard_alone(tablet: webdriver.Chrome, own: Path) -> None:
    begins = words.BEGINS.format(drill="High tee")
    browsing.button(tablet, "High tee")
    tablet.execute_script("document.activeElement.blur(); window.scrollTo(0, 0)")
    assert any(press(tablet, Keys.TAB) == "Rod behind the ball" for _ in range(60))
    assert press(tablet, Keys.ARROW_RIGHT) == "High tee"
    press(tablet, Keys.SPACE)
    browsing.button(tablet, begins)
    browsing.says(tablet, begins)
    assert any(press(tablet, Keys.TAB) == begins for _ in range(60))
    press(tablet, Keys.SPACE)
    browsing.says(tablet, "High tee runs since")
    assert entries(own, "drill_entry")["drill_id"].to_list() == ["R2"]


def test_tab_reaches_every_control_of_the_notebook_in_the_order_read_and_shows_where_it_is(
    tablet: webdriver.Chrome,
) -> None:
    for title in ("afterwards", "observation", "goal", "holds"):
        browsing.unfold(tablet, words.SECTIONS[title])
    browsing.button(tablet, words.ENTER)
    controls = tablet.execute_script(CONTROLS)
    assert len(controls) > 20
    reached = walk(tablet, 3 * len(controls) + 40)
    missed = [controls[place] for place in range(len(controls)) if place not in dict(reached)]
    assert missed == []
    places = [place for place, _ in reached]
    first = places.index(0)  # Tab went on from what was touched last, and round
    assert places[first:] + places[:first] == sorted(places)
    tablet.execute_script("document.activeElement.blur()")
    unseen = [controls[place] for place, drawn in reached if tablet.execute_script(AT_REST, place) == drawn]
    assert unseen == []
