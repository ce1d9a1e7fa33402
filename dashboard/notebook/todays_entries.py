"""What is entered today for a student in a bay, with corrections that erase nothing."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import streamlit as st

from dashboard.notebook import actions, store
from dashboard.notebook.actions import Place
from dashboard.shell import components
from dashboard.shell.page_context import Reading
from dashboard.text import notebook as words
from dashboard.text import notebook_sentences
from dashboard.text.drill_sentences import Row, day

TABLES = ("drill_entry", "set_aside", "stop_entry", "observation")


def tell(table: str, row: Row, names: dict[str, str]) -> str:
    """Say an entry."""
    if table == "drill_entry":
        return notebook_sentences.drill_entry(row, names.get(row["drill_id"], row["drill_id"]))
    if table == "set_aside":
        return notebook_sentences.set_aside(row)
    if table == "stop_entry":
        return notebook_sentences.stop(row, names.get(row["drill_id"], row["drill_id"]))
    return notebook_sentences.observation(row)


def entries(place: Place, day: date) -> list[tuple[str, Row]]:
    """Return a day's entries for this student, and today this bay's marks, in order of time; those taken back too."""
    found = []
    for table in TABLES:
        of_bay = table == "set_aside" and day == place.now().date()
        whose = {"bay_id": place.bay_id} if of_bay else {"student_id": place.student_id}
        rows = store.on_day(place.store, table, day, taken_back=True, **whose)
        found += [(table, row) for row in rows.iter_rows(named=True)]
    return sorted(found, key=lambda one: one[1][store.WHEN[one[0]]])


def of_day(place: Place) -> date:
    """Let the coach choose the day whose entries are shown: today, or any on which something was entered."""
    today = place.now().date()
    days = {today: words.TODAY} | {one: day(one) for one in store.days(place.store, place.student_id) if one != today}
    if len(days) == 1:
        return today
    return st.selectbox(
        words.ENTRIES_OF, list(days), format_func=lambda one: days[one], key=f"entries-of-{place.student_id}"
    )


def show(read: Reading, place: Place) -> None:
    """List a day's entries, each with its correction."""
    components.section(words.SECTIONS["today"])
    names = dict(read.ask("drills").select("drill_id", "name").iter_rows())
    found = entries(place, of_day(place))
    if not found:
        st.markdown(words.NOTHING_TODAY)
        return
    for table, row in found:
        left, right = st.columns([3, 1], vertical_alignment="center")
        text = tell(table, row, names)
        if row["withdrawn"]:
            left.markdown(f"~~{text}~~ ({words.TAKEN_BACK})")
            right.button(
                words.STAND_AGAIN, key=f"again-{row['entry_id']}", on_click=actions.stand_again,
                args=(place, table, row["entry_id"]),
            )  # fmt: skip
        else:
            left.markdown(text)
            with right.popover(words.CORRECT, width="stretch", key=f"correct-{row['entry_id']}"):
                correction(place, table, row, names)
        if row["corrects"]:
            steps = store.chain(place.store, table, row["first_entry_id"]).to_dicts()
            with left.expander(words.HOW_IT_CAME):
                st.markdown(notebook_sentences.entered(steps, [tell(table, step, names) for step in steps]))
    st.caption(words.FROM_TO_HELP)


def correction(place: Place, table: str, row: Row, names: dict[str, str]) -> None:
    """Let an entry be corrected or taken back."""
    entry_id = row["entry_id"]
    changes = asked(table, row, names)
    st.button(
        words.SAVE, key=f"save-{entry_id}", disabled=not changes, type="primary", on_click=actions.mend,
        args=(place, table, entry_id, {**spans(table, row), **changes}, names),
    )  # fmt: skip
    st.button(words.TAKE_BACK, key=f"back-{entry_id}", on_click=actions.take_back, args=(place, table, entry_id))


def spans(table: str, row: Row) -> dict[str, Any]:
    """Return an entry's times, so that a correction of one is held against the other."""
    if table not in ("drill_entry", "set_aside"):
        return {}
    return {"starts_at": row["starts_at"], "ends_at": row["ends_at"]}


def asked(table: str, row: Row, names: dict[str, str]) -> dict[str, Any]:
    """Ask for what an entry should say; return what differs from what it says."""
    key = row["entry_id"]
    wanted: dict[str, Any] = {}
    if table == "drill_entry":
        listed = list(dict.fromkeys([row["drill_id"], *names]))
        wanted["drill_id"] = st.selectbox(
            words.DRILL, listed, format_func=lambda one: names.get(one, one), key=f"mend-drill-{key}"
        )
    if table in ("drill_entry", "set_aside"):
        wanted["starts_at"] = clock(words.DOWN if table == "drill_entry" else words.FROM, row["starts_at"], key)
        if row["ends_at"] is not None:
            wanted["ends_at"] = clock(words.UP if table == "drill_entry" else words.TO, row["ends_at"], f"{key}-end")
    if table == "stop_entry":
        kinds = list(words.STOPS)
        wanted["kind"] = st.selectbox(
            words.WHY, kinds, kinds.index(row["kind"]), format_func=lambda one: words.STOPS[one], key=f"mend-kind-{key}"
        )
    if table == "observation":
        wanted["value"] = st.number_input(
            words.VALUE.format(unit=row["unit"]), value=row["value"], step=1.0, key=f"mend-value-{key}"
        )
    return {name: value for name, value in wanted.items() if value != row[name]}


def clock(label: str, moment: datetime, key: str) -> datetime:
    """Ask for a time of the same day; unchanged to the minute, the seconds stay."""
    given = st.time_input(label, moment.time().replace(second=0), step=60, key=f"mend-{label}-{key}")
    if (given.hour, given.minute) == (moment.hour, moment.minute):
        return moment
    return datetime.combine(moment.date(), given)
