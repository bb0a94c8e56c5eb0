"""What is asked of a machine, and what the answers mean."""
