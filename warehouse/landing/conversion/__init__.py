"""What a file says into canonical units, signs, clubs and moments, in SQL."""
