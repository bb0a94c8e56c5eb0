"""What a machine has done and what stands open on it, and the standing that follows."""
