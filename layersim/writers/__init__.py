"""How what is said is written: to a terminal, as a picture, a web page or JSON. They know no answer by name."""
