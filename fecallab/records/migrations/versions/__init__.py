"""One file per revision of the schema."""
