"""What a machine has done and what stands open on it, and the standing that follows.

The one judge stands here; no other folder says clear or held.
"""
