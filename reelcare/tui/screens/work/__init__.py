"""Work on machines: due, bench, weeks, plan, and the forms for a service, a fault, a run.

Checks have a folder of their own.
"""
