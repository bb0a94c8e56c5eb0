"""What is asked of a machine, and what the answers mean.

Who may sign, and what follows for the machine, belongs to `state` and `entries`.
"""
