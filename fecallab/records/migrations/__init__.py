"""Migrations of the schema, oldest first in ``versions``; a released one is never changed."""
