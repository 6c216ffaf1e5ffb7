"""How far predictions are from what they should be: ``python -m tests.validation``.

Each section returns tables by name; they are written into docs/validation.md between the markers of
the same name, and everything else there is left as it is. A further section is a module with
``tables()`` and a line in ``__main__.SECTIONS``.
"""
