"""Hashed chains, the witness beside the register, PINs and ids.

It knows rows and digests, and never what an entry means.
"""
