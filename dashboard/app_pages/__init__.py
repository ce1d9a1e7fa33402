"""One page for each reader's question: a reading order, no computation."""
