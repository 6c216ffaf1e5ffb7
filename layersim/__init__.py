"""See and decide what thin coats of paint do over a pre-shade, before spraying."""
