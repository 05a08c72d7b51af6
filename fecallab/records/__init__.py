"""The record folder: schema, migrations, store, pictures, backup."""
