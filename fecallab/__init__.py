"""fecallab: fecal exams of reptiles, from a sample to a case that is clear by the rule."""

__version__ = "0.1.0"
