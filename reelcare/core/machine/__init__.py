"""The machine: its card, its physics, and the settings of one set."""
