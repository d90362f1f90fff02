"""A measured board laid on the published form factors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from salvage.errors import Refused
from salvage.units import from_um

if TYPE_CHECKING:
    from salvage.knowledge.form_factors import FormFactor as Published
    from salvage.photo.measure.result import Measurement
    from salvage.photo.measure.snap import FormFactor, Snap

NEAR_SHARE = 0.03
"""Forms whose sides are within this of the board's are tried; a photo is never that far off."""


@dataclass(frozen=True, slots=True)
class FormMatch:
    """
    A published form factor with a measured board laid on it.

    Args:
        slug: Its name in commands.
        name: Its name for people.
        snap: How the board strays from it.
    """

    slug: str
    name: str
    snap: Snap

    @property
    def deviation(self) -> str:
        """How far the board strays from it, in words."""
        snap = self.snap
        apart = f"{snap.mean_mm:.2f} mm off on average, {snap.most_mm:.2f} mm at most"
        count = len(snap.form.holes)
        if not count:
            return f"{apart}, no mounting holes published here"
        return f"{apart}, {snap.holes_found} of {count} mounting holes found"


def nearest_form(measured: Measurement) -> FormMatch | None:
    """The form factor that a measured board agrees with best; None if it agrees with none."""
    from salvage.knowledge.form_factors import form_factors

    near = [form for form in form_factors() if _is_near(measured, form)]
    matches = [match for match in (_lay_on(measured, form) for form in near) if match.snap.agrees]
    return min(matches, key=lambda match: match.snap.mean_mm, default=None)


def snap_to(measured: Measurement, name: str, *, replace: bool) -> FormMatch:
    """
    A form factor as the board's outline.

    Args:
        measured: The measured board.
        name: The form factor, as people type it.
        replace: Take it although the board does not agree with it.

    Raises:
        NotFound: If there is no such form factor.
        Refused: If the board strays from it, with how far.
    """
    from salvage.knowledge.form_factors import find_form_factor

    match = _lay_on(measured, find_form_factor(name, field="--form"))
    if not match.snap.agrees and not replace:
        raise Refused(
            f"the board in the photo is no {match.name}: {match.deviation}",
            hint="leave out --form to record what the photo shows, or take the form with --replace",
        )
    return match


def _is_near(measured: Measurement, form: Published) -> bool:
    if form.kind == "paper":
        return False
    own, published = sorted(measured.outline.size_mm), sorted((form.width_mm, form.height_mm))
    return all(abs(a / b - 1) <= NEAR_SHARE for a, b in zip(own, published, strict=True))


def _lay_on(measured: Measurement, form: Published) -> FormMatch:
    from salvage.photo.measure.snap import snap_to_form

    return FormMatch(form.slug, form.name, snap_to_form(measured, _plain(form)))


def _plain(form: Published) -> FormFactor:
    """The form factor in plain numbers, as the photo craft wants it."""
    from salvage.geometry.outline import rectangle
    from salvage.photo.measure.snap import FormFactor

    region = rectangle(form.width_mm, form.height_mm, corner_mm=form.corner_radius_mm or 0.0)
    outline = tuple((from_um(x), from_um(y)) for x, y in region.outer)
    holes = tuple((hole.x_mm, hole.y_mm, hole.diameter_mm) for hole in form.holes)
    return FormFactor(form.name, outline, holes)
