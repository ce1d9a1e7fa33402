"""Statistics that more than one question uses."""
