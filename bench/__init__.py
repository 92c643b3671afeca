"""Benchmarks: printed side by side with peers and known truth; nothing here is asserted."""
