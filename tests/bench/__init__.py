"""Figures and ratios of speed, each measured in one run: ``python -m tests.bench``."""
