"""Pages and charts for an exam and a case: dataclasses first, template second."""
