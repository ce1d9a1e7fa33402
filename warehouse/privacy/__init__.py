"""Whose name may stand where: names found in outside text, texts masked, what is declared personal, and file modes."""
