"""Answers for the faces: the yard, a book, marks, evidence, earlier answers.

They read through the reader and ask the core; none judges or writes.
"""
