"""Tests of schemes: records, reading and simulation."""
