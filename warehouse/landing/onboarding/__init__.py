"""From an academy's own lists to a home."""
