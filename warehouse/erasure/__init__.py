"""Taking a person out of everything a home holds."""
