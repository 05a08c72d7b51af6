"""Moving: what swims in a clip, how fast and in what manner, what drifts, and what only trembles."""

from fecallab.imaging.motility.assess import assess_motility
from fecallab.imaging.motility.clips import Clip, open_clip
from fecallab.imaging.motility.result import KINDS, MotilityResult, MovingBody

__all__ = ["KINDS", "Clip", "MotilityResult", "MovingBody", "assess_motility", "open_clip"]
