"""Words and sentences of the pages, built from the same rows as the pictures."""
