"""Drill trials: draw, size, looks, result."""
