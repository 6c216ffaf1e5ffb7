"""Other ways to the numbers the package gives: literal, short, and with no part of the package in them."""
