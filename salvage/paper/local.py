"""Days and masses as people of a place read them, in the words of a wording."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from salvage.paper.wording import Words, fill

DATE_FORMATS = ("words", "iso", "dmy", "mdy")
"""How a day is printed: 4 May 2026, 2026-05-04, 04.05.2026, 05/04/2026."""

UNITS = ("metric", "inch")
"""What people measure with: grams and millimetres, or ounces and inches."""

# Exact by definition (international yard and pound agreement, 1959; from memory).
_MG_PER_OUNCE = 28_349.523125
_MG_PER_POUND = 453_592.37
_MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Local:
    """
    How figures are put.

    Args:
        words: The document's words, with months and decimal mark.
        date_format: One of :data:`DATE_FORMATS`.
        units: One of :data:`UNITS`.
    """

    words: Words
    date_format: str = "words"
    units: str = "metric"

    def day(self, iso: str | date) -> str:
        """
        A day.

        Args:
            iso: The day, or its text in ISO 8601; what follows the day is left out.
        """
        day = date.fromisoformat(iso[:10]) if isinstance(iso, str) else iso
        if self.date_format == "iso":
            return day.isoformat()
        if self.date_format == "dmy":
            return f"{day.day:02}.{day.month:02}.{day.year}"
        if self.date_format == "mdy":
            return f"{day.month:02}/{day.day:02}/{day.year}"
        month = self.words["months"].split(",")[day.month - 1].strip()
        return f"{day.day} {month} {day.year}"

    def mass(self, mg: int) -> str:
        """A mass, with a minus where it is below zero."""
        sign, size = ("−" if mg < 0 else ""), abs(mg)
        if self.units == "inch":
            if size >= 16 * _MG_PER_OUNCE:
                return f"{sign}{self._number(size / _MG_PER_POUND, 2)} lb"
            return f"{sign}{self._number(size / _MG_PER_OUNCE, 2)} oz"
        if size >= 1_000_000:
            return f"{sign}{self._number(size / 1_000_000, 2)} kg"
        return f"{sign}{self._number(size / 1000, 1)} g"

    def size(self, width_mm: float, height_mm: float) -> str:
        """Width and height."""
        if self.units == "inch":
            sides = [self._number(each / _MM_PER_INCH, 2) for each in (width_mm, height_mm)]
            return f"{sides[0]} × {sides[1]} in"
        return f"{self._number(width_mm, 0)} × {self._number(height_mm, 0)} mm"

    def estimate(self, mg: int, least_mg: int, most_mg: int) -> str:
        """A mass that nobody weighed, with its bounds."""
        bounds = {"least": self.mass(least_mg), "most": self.mass(most_mg)}
        return fill(self.words, "estimate", mass=self.mass(mg), **bounds)

    def _number(self, value: float, places: int) -> str:
        text = f"{value:.{places}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
        return text.replace(".", self.words["decimal_mark"])
