"""Plausible wrong changes made one at a time, to see which of them the tests let pass."""
