"""Reads sample exports nobody has described yet and proposes the profile that reads them; asks what it cannot tell."""
