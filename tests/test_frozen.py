"""Records behave as the standard library's dataclasses do, and cost nothing until one is made."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from typing import Any, ClassVar

import pytest

from salvage.frozen import asdict, dataclass, replace
from salvage.records.things import Board


def _twins(**options: bool) -> list[Any]:
    """The same class by our decorator and by the standard library's."""

    def make() -> type:
        class Offcut:
            """What is left of a board."""

            board: str
            width_mm: float = 4.5
            notes: tuple[str, ...] = ()

            def __post_init__(self) -> None:
                """Refuse what is no offcut."""
                if self.width_mm < 0:
                    raise ValueError("narrower than nothing")

            @property
            def is_wide(self) -> bool:
                """Whether a tern fits on it."""
                return self.width_mm > 20

        return Offcut

    standard: Any = dataclasses.dataclass
    ours: Any = dataclass
    return [decorate(**options)(make()) for decorate in (ours, standard)]


OPTIONS = [
    {"frozen": True, "slots": True},
    {"frozen": True},
    {"slots": True},
    {},
    {"frozen": True, "slots": True, "eq": False},
]


@pytest.mark.parametrize("options", OPTIONS, ids=str)
def test_a_record_is_what_the_standard_library_makes(options: dict[str, bool]) -> None:
    """Values, text, equality, hashing and the description of fields agree."""
    told = []
    for cls in _twins(**options):
        one, same, other = cls("BC0002J", 30.0), cls("BC0002J", width_mm=30.0), cls("BC0003F")
        told.append(
            (
                repr(one).replace(f"{cls.__qualname__}(", ""),
                one == same,
                one == other,
                one == "BC0002J",
                one.is_wide,
                None if cls.__hash__ is None else hash(one) == hash(same),
                cls.__match_args__,
                hasattr(one, "__dict__"),
                str(inspect.signature(cls)),
                [(f.name, f.type, f.default) for f in dataclasses.fields(cls)],
                dataclasses.asdict(one),
                asdict(cls("BC0002J", 1.0, (other, [one], {"k": same}))),
                dataclasses.replace(one, notes=("x",)).notes,
                replace(one, notes=("y",)).notes,
                copy.deepcopy(one).width_mm,
                dataclasses.is_dataclass(cls),
            )
        )

    assert told[0] == told[1]


@pytest.mark.parametrize("words", [((), {}), (("B", 1.0, (), 4), {}), (("B",), {"colour": "red"})])
def test_wrong_words_are_refused(words: tuple[tuple[Any, ...], dict[str, Any]]) -> None:
    """A record with a field too many or too few is never made."""
    ours, _standard = _twins(frozen=True, slots=True)

    with pytest.raises(TypeError):
        ours(*words[0], **words[1])


def test_the_check_after_making_runs() -> None:
    """What a class refuses is refused the first time and every time."""
    ours, _standard = _twins(frozen=True, slots=True)

    for _ in range(2):
        with pytest.raises(ValueError, match="narrower"):
            ours("BC0002J", -1.0)


def test_a_record_stays_as_it_is() -> None:
    """No field of a record can be changed or taken away."""
    ours, _standard = _twins(frozen=True, slots=True)
    one = ours("BC0002J")

    with pytest.raises(dataclasses.FrozenInstanceError):
        one.board = "BC0003F"
    with pytest.raises(dataclasses.FrozenInstanceError):
        del one.board


def test_a_record_survives_being_packed() -> None:
    """A record may be sent to another process."""
    board = Board(*(f.name for f in dataclasses.fields(Board)))  # type: ignore[arg-type]

    assert pickle.loads(pickle.dumps(board)) == board


def test_what_asks_for_more_goes_to_the_standard_library() -> None:
    """Fields made by a function, class variables and heirs are made the usual way."""

    @dataclass(slots=True)
    class Box:
        """A box of offcuts."""

        known: ClassVar[int] = 3
        offcuts: list[str] = dataclasses.field(default_factory=list)

    first, second = Box(), Box()
    first.offcuts.append("fern leaf")

    assert second.offcuts == []
    assert replace(first, offcuts=["kite"]) == Box(["kite"])
    assert "__values__" not in vars(Box)
