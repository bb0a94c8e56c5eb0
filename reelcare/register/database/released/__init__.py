"""Schema steps as they were released, and the triggers.

What belongs here: frozen texts in the SQL of each engine, the same steps in each, and no code. What runs them stands in
`reelcare/register/database/steps.py`, and what the schema is today in the models.
"""
