"""From the bench to numbers: spectra out of instruments' files, and the swatches they belong to."""
