"""Files read cell by cell, by a profile's layout, into one row of text a shot."""
