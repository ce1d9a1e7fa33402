"""Tests, in the same tree as the code; a package so that `python -m tests.simulation.drill_effect` finds this one."""
