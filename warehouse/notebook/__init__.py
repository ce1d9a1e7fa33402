"""What people enter: drills, marks, stops, observations, goals, holds; the one place that is written by hand."""
