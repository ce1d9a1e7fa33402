"""Drill trials kept and read: the plan, the secret, the lots, what the published file says of those drawn."""
