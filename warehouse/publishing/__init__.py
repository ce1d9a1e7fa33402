"""Publishing a night, and keeping a copy of what people entered."""
