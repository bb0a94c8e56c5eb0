"""Proofs that a register is whole, and what could be wrong with it, its clock and its computer.

Nothing here writes into a register or repairs one.
"""
