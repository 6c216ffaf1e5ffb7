"""The ranges that laws are tried over, and how often."""

from hypothesis import settings
from hypothesis import strategies as st

LAW = settings(max_examples=60, deadline=None, derandomize=True, database=None)
"""Repeatable, and nothing left behind in the tree."""

CONSTANT = st.floats(0.0, 10.0)
"""K or S, 1/µm, of anything that can be sprayed: a white's S is near 1 or 2."""

SOME_CONSTANT = st.floats(1e-3, 10.0)
THICKNESS = st.floats(0.0, 50.0)
SHARE = st.floats(0.0, 1.0)
