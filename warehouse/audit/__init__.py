"""Checks made from declarations and written ones, and their results."""
