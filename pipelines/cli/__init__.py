"""The `academy` command's groups and what they print."""
