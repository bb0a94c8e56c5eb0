"""Core values made into files that people and other programs read."""
