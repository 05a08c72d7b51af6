"""The command line: one thin module per noun, no rules here."""
