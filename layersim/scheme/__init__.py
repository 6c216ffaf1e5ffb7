"""The scheme document and what it predicts."""
