"""What comes into a register from elsewhere and goes out of it: run logs, carry files, copies.

What comes in is read and judged as a whole before anything is written. What must not be here: screens and printing.
"""
