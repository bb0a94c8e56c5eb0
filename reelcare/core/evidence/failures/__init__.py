"""Failures of parts over machines of a kind: how many, whether it gets worse, how long a part lasts, when renewal pays.

Two models are not mixed here: a part that is repaired goes on with the age of its machine, one that is renewed begins
at nothing. Nothing here holds a machine or says what is due.
"""
