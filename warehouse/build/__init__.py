"""Which models run, in which order, for which nights."""
