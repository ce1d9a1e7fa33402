"""How students and cohorts changed."""
