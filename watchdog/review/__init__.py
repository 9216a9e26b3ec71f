"""The term review: what worked, what failed and why, from the record."""
