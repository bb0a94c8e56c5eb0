"""What a machine has done, and what it needs."""
