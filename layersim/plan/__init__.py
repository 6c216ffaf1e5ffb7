"""To the bench: how much of everything to mix, what it rests on, and what to be careful with."""
