"""Tests of fitting a paint to swatches."""
