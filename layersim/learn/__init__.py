"""From what was really sprayed to better predictions."""
