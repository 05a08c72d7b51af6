"""The marking window: fields, marks and measures in napari; a thin skin over `MarkingSession`."""
