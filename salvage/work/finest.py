"""The finest areas of boards for the shapes that deserve them, by the richness of the photos."""

from __future__ import annotations

from typing import TYPE_CHECKING

from salvage.frozen import dataclass
from salvage.work.richness import rich_preference, richness_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from salvage.geometry.ground import Ground
    from salvage.geometry.preference import Rich
    from salvage.geometry.spot import Outfit, Spot
    from salvage.ids import Code
    from salvage.photo.richness import RichnessMap
    from salvage.work.workshop import Workshop


@dataclass(frozen=True, slots=True)
class Faces:
    """
    How rich both faces of a board are; a face without a usable photo is None.

    Args:
        front, back: Their maps, in the board's frame.
    """

    front: RichnessMap | None
    back: RichnessMap | None

    @property
    def is_known(self) -> bool:
        """Whether anything is known of either face."""
        return self.front is not None or self.back is not None

    def richness(self, spots: Sequence[Spot]) -> tuple[float | None, ...]:
        """Length of traces in mm for each mm2 under each spot, on the face that it shows."""
        from salvage.geometry.placing import place

        found: list[float | None] = []
        for spot in spots:
            face = self.back if spot.placement.mirrored else self.front
            region = place(spot.shape, spot.placement)
            found.append(round(face.mean_over(region), 3) if face else None)
        return tuple(found)

    @property
    def preference(self) -> TwoFaced:
        """Both maps as the fit search takes them."""
        maps = (self.front, self.back)
        front, back = (rich_preference(each) if each else None for each in maps)
        return TwoFaced(front, back)


@dataclass(frozen=True, slots=True)
class TwoFaced:
    """
    Rates a pose by the face that the piece will show; a face that nobody knows counts nothing.

    Args:
        front: For a piece as drawn.
        back: For a piece that is turned over.
    """

    front: Rich | None
    back: Rich | None

    def rate(
        self, ground: Ground, outfit: Outfit, poses: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Mean richness under the shape."""
        import numpy as np

        score = np.zeros(len(poses))
        for face, chosen in ((self.front, poses[:, 3] > 0), (self.back, poses[:, 3] < 0)):
            if face is not None and chosen.any():
                score[chosen] = face.rate(ground, outfit, poses[chosen])
        return score


def faces_of(shop: Workshop, board: Code, *, either_face: bool) -> Faces:
    """
    What is known of a board's faces.

    Args:
        shop: The open workshop.
        board: The board's code.
        either_face: Look at the back as well.
    """
    front = richness_of(shop, board)
    return Faces(front, richness_of(shop, board, side="back") if either_face else None)
