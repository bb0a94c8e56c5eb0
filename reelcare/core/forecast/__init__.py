"""When a machine's own work will bring it to a threshold, with its spread.

It knows usage and thresholds, and no plan.
"""
