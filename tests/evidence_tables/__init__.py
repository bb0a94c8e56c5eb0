"""Tables of what evidence claims, held against simulated truth; `tests/bench_evidence.py` prints them."""
