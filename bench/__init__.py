"""Benchmarks: ratios measured in one run on one machine. `python -m bench`; never part of the tests."""
