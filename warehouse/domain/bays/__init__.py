"""How bays read: offsets, drift."""
