"""Every reader: what the words and marks mean."""

from __future__ import annotations

import streamlit as st

from dashboard.shell import access, components
from dashboard.shell.page_context import current
from dashboard.text import access as words_access
from dashboard.text import words


def forgetting() -> None:
    """Say to an administrator how a person is taken out, and what that does."""
    components.section(words_access.FORGET_TITLE)
    st.markdown(words_access.FORGET_HOW)
    st.code(words_access.FORGET_COMMANDS.format(home=current().home.folder), language="bash", wrap_lines=True)
    st.markdown("\n".join(f"- {line}" for line in words_access.FORGET_WHAT))


def page() -> None:
    """Show the words and the marks."""
    components.question("help")
    for paragraph in words.HOW_TO_READ:
        st.markdown(paragraph)
    components.section(words.WORDS_USED)
    for term, sentence in sorted(components.TERMS.items()):
        st.markdown(f"**{term[:1].upper()}{term[1:]}.** {sentence}")
    components.section(words.VERDICTS_TITLE)
    for verdict, sentence in words.VERDICT_HELP.items():
        st.markdown(f"**{verdict[:1].upper()}{verdict[1:]}.** {sentence}")
    if access.current().role == "administrator":
        forgetting()
    st.caption(words.NO_COACHES)


if __name__ == "__main__":
    page()
