"""What light does in films of paint: pure functions on arrays, wavelengths on the last axis."""
