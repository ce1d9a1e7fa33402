"""Reading shot exports: found, checked, loaded, accounted for."""
