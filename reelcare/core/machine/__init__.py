"""The card, its tag and particulars, and the model of parts, positions and activities.

Physics belongs to `hydraulics`, one set to `settings`.
"""
