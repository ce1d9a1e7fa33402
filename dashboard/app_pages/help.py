"""Every reader: what the words and marks mean."""

from __future__ import annotations

import streamlit as st

from dashboard import page_parts, words


def page() -> None:
    """Show the words and the marks."""
    page_parts.question("help")
    for paragraph in words.HOW_TO_READ:
        st.markdown(paragraph)
    st.subheader(words.WORDS_USED)
    for term, sentence in sorted(words.TERMS.items()):
        st.markdown(f"**{term[:1].upper()}{term[1:]}.** {sentence}")
    st.subheader(words.VERDICTS_TITLE)
    for verdict, sentence in words.VERDICT_HELP.items():
        st.markdown(f"**{verdict[:1].upper()}{verdict[1:]}.** {sentence}")
    st.caption(words.NO_COACHES)


if __name__ == "__main__":
    page()
