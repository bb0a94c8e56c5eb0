"""What people do with a machine, each written as entries through the writer.

What belongs here: walk-rounds, sets, people, faults. What must not: judging, which is the core's, and any SQL.
"""
