"""The judge: radiative transfer whose stacks of films are treated as measurements."""
