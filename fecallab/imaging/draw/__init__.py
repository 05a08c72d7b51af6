"""Drawn bright-field micrographs with their truth, for demonstration, teaching and tests.

Everything here is drawn by rule and by lot; nothing is a photograph or was made from one.
"""

from fecallab.imaging.draw.lots import random_spec
from fecallab.imaging.draw.render import Camera, Light, RoundView
from fecallab.imaging.draw.scene import FieldSpec, Truth, Wanted, draw_field, field_truth
from fecallab.imaging.draw.slides import SLIDES, Slide
from fecallab.imaging.draw.write import write_sample_slides

__all__ = [
    "SLIDES",
    "Camera",
    "FieldSpec",
    "Light",
    "RoundView",
    "Slide",
    "Truth",
    "Wanted",
    "draw_field",
    "field_truth",
    "random_spec",
    "write_sample_slides",
]
