"""What a type checker sees of the package, and what a built package holds."""
