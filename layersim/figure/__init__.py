"""A photograph of the preshaded model, or its mesh, in the colours that a scheme will have."""
