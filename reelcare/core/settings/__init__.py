"""The settings and limits of one set, computed from the card and what is wanted.

Physics belongs to `hydraulics`, the card and the model of the machine to `machine`.
"""
