"""Benchmarks and the checks behind the validation note; each prints what it measured."""
