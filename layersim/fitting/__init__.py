"""From swatches to a paint: K and S at every wavelength, how sure they are, and what to measure next."""
