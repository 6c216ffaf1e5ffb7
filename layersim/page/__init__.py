"""The page: see and decide by hand, in a browser on this machine.

It serves the same answers and the same words as the command line. Nothing of the physics runs in the
browser, and nothing leaves the machine.
"""
