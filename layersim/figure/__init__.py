"""A photograph of the preshaded model, and the same photograph in the colours that a scheme will have."""
