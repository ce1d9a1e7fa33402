"""Looking after an installation: doctor, alerts."""
