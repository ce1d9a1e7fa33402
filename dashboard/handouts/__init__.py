"""What goes home on paper: a student's sheet, the week's review."""
