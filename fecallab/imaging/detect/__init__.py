"""Proposals: what in a picture could be an egg, oocyst, cyst, trophozoite or larva; the person decides."""

from fecallab.imaging.detect.propose import Detection, Proposal, propose

__all__ = ["Detection", "Proposal", "propose"]
