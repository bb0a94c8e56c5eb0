"""What a register must survive, as programs that print their figures; the quick forms are run by the test suite.

Each takes a count: `python -m tests.ordeal.killed 200`. They build registers in folders of their own and leave nothing.
"""
