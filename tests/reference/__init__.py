"""Independent statements of what the engine computes: written from its description, slow and plain."""
