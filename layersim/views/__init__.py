"""What results say: titles, sentences and rows of tables, as plain text; no drawing and no computing."""
