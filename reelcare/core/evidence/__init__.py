"""What run logs and faults tell: signals with their charts, and failures of parts.

Nothing here holds a machine or says what is due.
"""
