"""What run logs and faults tell: signals with their charts, and failures of parts."""
