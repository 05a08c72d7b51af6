"""Pure rules: no files, no database, no pixels, no clock (today is an argument)."""
