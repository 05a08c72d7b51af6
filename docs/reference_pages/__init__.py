"""The pages of docs/reference, written from the program itself; ``docs/make_reference.py`` joins them."""
