"""TOML files that people edit: what keys they have, how they are read, written and explained.

A record says its keys beside its fields (:mod:`keys`); one reader (:mod:`table`, :mod:`document`) and one
generated reference (docs/keys.md) serve all of them.
"""
