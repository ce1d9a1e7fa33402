"""What a page says when something under it is broken: in words, with what to do, and nothing of the program in it."""

from __future__ import annotations

PAGE_BROKE = (
    "This page could not be shown. Reload it; if that does not help, tell whoever looks after this machine the number "
    "{number}: the server's log says more under it."
)
DAMAGED = (
    "The file published last is damaged and is not read. These are the numbers of the last good one; whoever looks "
    "after this machine: run `academy doctor`, then `academy nightly`."
)
ALL_DAMAGED = (
    "What is published is damaged, and no older file is good, so nothing is shown. Whoever looks after this machine: "
    "run `academy doctor`, then `academy nightly --rebuild --home {home}`."
)
UNREADABLE = "The published file could not be read just now. Reload this page."
NOTEBOOK = (
    "The notebook cannot be read or written: it is damaged, held by another program, or its disk is full. Nothing was "
    "entered; the paper card goes on. Whoever looks after this machine: run academy doctor, and academy restore if "
    "it is damaged."
)
