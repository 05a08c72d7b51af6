"""Reference facts as data files, each row with its source, and one loader."""
