"""Scales of fields: typed, from a ruler, from the lit circle, or from a fixed camera's profile; sizes follow."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from fecallab.domain.errors import BadInput
from fecallab.domain.measuring import Scale
from napari_fecallab.core import SessionCore
from napari_fecallab.measures import at_scale
from napari_fecallab.picture_facts import PictureFacts
from napari_fecallab.settings import ScaleProfile, read_profiles, write_profile
from napari_fecallab.state import Change
from napari_fecallab.views import Outcome

if TYPE_CHECKING:
    from fecallab.imaging.calibrate import Calibration


@dataclass(frozen=True)
class ScaleFound:
    """A scale that was worked out, before it is set.

    Attributes
    ----------
    um_per_px, half_width : float
        µm per pixel and half of its 95 % interval.
    how : str
        Where it comes from.
    remarks : tuple of str
        What the person should know.
    """

    um_per_px: float
    half_width: float
    how: str
    remarks: tuple[str, ...] = ()


class ScalePart(SessionCore):
    """What the session does with scales."""

    _picture_facts: dict[str, PictureFacts]

    def set_scale(
        self,
        um_per_px: float | None,
        half_width: float = 0.0,
        how: str = "what was typed",
        fields: Iterable[str] | None = None,
    ) -> Outcome:
        """Set the scale of fields (the current one when omitted), or take it away; sizes follow. One step.

        Parameters
        ----------
        um_per_px : float or None
        half_width : float
            Half of its 95 % interval; 0 when it is not known.
        how : str
            Where it comes from, in words that fit behind "from".
        fields : iterable of str, optional
            Uids.
        """
        scale = None if um_per_px is None else Scale(um_per_px, half_width)
        changes = []
        wanted = [self._uid(None)] if fields is None else list(dict.fromkeys(map(self._uid, fields)))
        for uid in wanted:
            before = self._place(uid)
            after = replace(
                before,
                um_per_px=scale.um_per_px if scale else None,
                scale_half_width=scale.half_width if scale else 0.0,
                scale_from=how if scale else "",
            )
            blur = self._blur_of(before.picture)
            changes.append(Change("field", uid, uid, before, after))
            for one, mark in self._content(uid).marks.items():
                new = at_scale(mark, before, after, blur)
                if new != mark:
                    changes.append(Change("mark", uid, one, mark, new))
        where = self._number(wanted[0]) if len(wanted) == 1 else f"{len(wanted)} fields"
        words = f"scale of {where}: {um_per_px:.4g} µm per pixel" if scale else f"no scale for {where}"
        self._do(words, changes)
        return Outcome(tuple(wanted), words)

    def _blur_of(self, sha256: str) -> float:
        facts = self._picture_facts.get(sha256)
        return facts.blur_px if facts is not None else 0.0

    def find_scale_from_lit_circle(
        self, field: str | None = None, field_number: float | None = None
    ) -> ScaleFound:
        """Work a scale out from the edge of the lit circle; takes a moment, best on a worker thread.

        Parameters
        ----------
        field : str, optional
        field_number : float, optional
            Number on the eyepiece (mm); that of the field, or the one remembered, when omitted.

        Raises
        ------
        BadInput
            Without a picture, an objective, a field number, or a lit circle.
        """
        from fecallab.cli.tally_draft import remembered_eyepiece
        from fecallab.domain.field_diameter import field_from_numbers
        from fecallab.imaging.calibrate import by_lit_circle
        from fecallab.imaging.read import open_picture

        place = self._place(self._uid(field))
        picture = self.facts.pictures.get(place.picture)
        if picture is None:
            raise BadInput("This field has no picture, so it has no scale.", code="no-picture")
        if not place.objective:
            raise BadInput(
                "The scale from the lit circle needs the objective.",
                next="Set it first: 10, 40 …",
                code="no-objective",
            )
        number = field_number or place.field_number or remembered_eyepiece(self.folder)
        if number is None:
            raise BadInput(
                "The scale from the lit circle needs the number on the eyepiece.",
                next="It stands there as in 10x/20: type 20.",
                code="field-number-missing",
            )
        diameter = field_from_numbers(number, place.objective)
        pixels = open_picture(self.facts.place.path(picture))
        found = _found(by_lit_circle(pixels, diameter))
        return replace(found, how=f"the lit circle ({diameter.from_words})")

    def scale_from_lit_circle(self, field: str | None = None, field_number: float | None = None) -> Outcome:
        """Set the scale of a field from the edge of its lit circle: field number (mm) and objective. One step."""
        found = self.find_scale_from_lit_circle(field, field_number)
        return self.use_scale(found, [self._uid(field)])

    def find_scale_from_ruler(self, ruler: Path, division_um: float) -> ScaleFound:
        """Work a scale out from a picture of a stage micrometer, taken with the same camera and objective."""
        from fecallab.imaging.calibrate import by_ruler
        from fecallab.imaging.read import open_picture

        found = _found(by_ruler(open_picture(ruler), division_um))
        return replace(found, how=f"the ruler {ruler.name}")

    def use_scale(self, found: ScaleFound, fields: Iterable[str] | None = None) -> Outcome:
        """Set a scale that was worked out; one step."""
        outcome = self.set_scale(found.um_per_px, found.half_width, found.how, fields)
        return replace(outcome, told=found.remarks)

    # --- profiles of fixed cameras

    def profiles(self) -> tuple[ScaleProfile, ...]:
        """Return the scales that are kept for fixed cameras: microscope, objective, camera and picture size."""
        return read_profiles(self.folder)

    def keep_profile(self, name: str, field: str | None = None) -> ScaleProfile:
        """Keep the scale of a field under a name, for pictures of the same size and objective."""
        place = self._place(self._uid(field))
        if place.um_per_px is None or not place.width_px:
            raise BadInput(
                "This field has no scale that could be kept.", next="Set its scale first.", code="no-scale"
            )
        if "lit circle" in place.scale_from:
            raise BadInput(
                "A scale from the lit circle holds for its picture alone: a hand-held phone has no fixed scale.",
                next="Photograph a stage micrometer with the camera fixed.",
                code="scale-of-one-picture",
            )
        profile = ScaleProfile(
            name=name.strip(),
            um_per_px=place.um_per_px,
            half_width=place.scale_half_width,
            objective=place.objective,
            width_px=place.width_px,
            height_px=place.height_px,
            how=place.scale_from,
        )
        write_profile(self.folder, profile)
        return profile

    def scale_from_profile(self, name: str, fields: Iterable[str] | None = None) -> Outcome:
        """Set the scale of fields from a profile; refused where size or objective differ. One step."""
        profile = next((one for one in self.profiles() if one.name == name), None)
        if profile is None:
            raise BadInput(
                f"No scale is kept under {name!r}.", next="Choose one of the list.", code="no-profile"
            )
        wanted = [self._uid(None)] if fields is None else list(map(self._uid, fields))
        for uid in wanted:
            place = self._place(uid)
            other = profile.unlike(place.objective, place.width_px, place.height_px)
            if other:
                raise BadInput(
                    f"The scale {name!r} is not for {self._number(uid)}: {other}.",
                    next="A scale holds for one objective and one size of picture.",
                    code="profile-unlike",
                )
        return self.set_scale(profile.um_per_px, profile.half_width, f"the profile {name}", wanted)


def _found(calibration: Calibration) -> ScaleFound:
    scale = calibration.scale
    return ScaleFound(scale.um_per_px, scale.half_width, calibration.how, tuple(calibration.remarks))
