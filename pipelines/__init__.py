"""The nightly graph: the only layer that imports dagster."""
