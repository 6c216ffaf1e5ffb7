"""Predictions made visible: strips to look at, tables for the terminal, JSON for other programs."""
