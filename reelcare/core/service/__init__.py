"""What is done to a machine again and again: the plan, what is due, and the load of the weeks to come.

Which entries count as done belongs to `entries` and `state`.
"""
