"""The card for the bench: each step's tones, mix, drying and worst slip."""
