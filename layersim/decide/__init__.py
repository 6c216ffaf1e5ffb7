"""What to decide with a prediction: compare choices, ask how forgiving a scheme is, match colours."""
