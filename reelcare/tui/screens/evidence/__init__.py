"""What drifts, what fails, and how checks are answered.

What is computed belongs to `core/evidence`.
"""
