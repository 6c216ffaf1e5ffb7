"""How a page is written: to a terminal, as a picture, as HTML or JSON. Writers know no answer by name."""
