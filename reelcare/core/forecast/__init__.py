"""When a machine's own work will bring it to a threshold, with its spread."""
