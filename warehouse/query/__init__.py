"""A reader's SQL: guarded, run in a process of its own."""
