"""Drill trials on pages: planning, running, result."""
