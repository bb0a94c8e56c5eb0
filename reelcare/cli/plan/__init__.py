"""Commands for the weeks ahead: machines, people, the plan, the workload, reports.

What is done to a machine today belongs to `work`.
"""
