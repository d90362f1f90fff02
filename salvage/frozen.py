"""
Dataclasses whose machinery is made when the first one of a class is.

The standard library writes and compiles several functions for each dataclass as soon as its module
is loaded, and loads the source reader ``inspect`` to do so: for the records that one look-up passes
by, that was more work than the look-up. Here a class gets its slots at once and everything else
when it is first asked for. The type checker sees the standard library's own decorator, and
``replace``, ``fields`` and ``asdict`` work as ever: they find the standard description of the
fields, which is made when they ask.
"""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import asdict as asdict
    from dataclasses import dataclass as dataclass
    from dataclasses import replace as replace
else:

    def asdict(one):
        """Give a record's fields by name, records in them likewise."""
        if "__values__" not in vars(one.__class__):
            from dataclasses import asdict as standard

            return standard(one)
        return {name: _opened(getattr(one, name)) for name in one.__match_args__}

    def replace(one, /, **changes):
        """Copy a record with some fields changed, as the standard library does."""
        cls = one.__class__
        if "__values__" not in vars(cls):
            from dataclasses import replace as standard

            return standard(one, **changes)
        return cls(**({name: getattr(one, name) for name in cls.__match_args__} | changes))

    def dataclass(cls=None, /, *, frozen=False, slots=False, eq=True):
        """Make a class a dataclass, with these of the standard decorator's options."""

        def make(cls):
            return _make(cls, frozen=frozen, slots=slots, eq=eq)

        return make if cls is None else make(cls)


_PLAIN = (str, int, float, bytes, type(None))


def _opened(value: Any) -> Any:
    """A value of :func:`asdict`."""
    if isinstance(value, _PLAIN):
        return value
    if "__dataclass_fields__" in vars(value.__class__):
        return asdict(value)
    if value.__class__ in (list, tuple):
        return value.__class__(_opened(each) for each in value)
    if value.__class__ is dict:
        return {_opened(key): _opened(each) for key, each in value.items()}
    from copy import deepcopy

    return deepcopy(value)


# Any below: these functions handle classes and instances of every kind.


def _make(cls: Any, **options: bool) -> Any:
    own = vars(cls).get("__annotations__", {})
    defaults = {name: cls.__dict__[name] for name in own if name in cls.__dict__}
    if not _is_simple(cls, own, defaults):
        import dataclasses

        return dataclasses.dataclass(**options)(cls)
    if options["slots"]:
        cls = _with_slots(cls, own)
    names = tuple(own)
    setattr(cls, "__match_args__", names)  # noqa: B010 - the checker knows it as fixed
    cls.__values__ = _reader(names)
    cls.__dataclass_fields__ = _Described("__dataclass_fields__", defaults, options)
    cls.__dataclass_params__ = _Described("__dataclass_params__", defaults, options)
    cls.__signature__ = _Signature(defaults)
    cls.__init__ = _first_start(cls, defaults, frozen=options["frozen"])
    _give(cls, "__repr__", _repr)
    if options["eq"]:
        _give(cls, "__eq__", _eq)
        _give(cls, "__hash__", _hash if options["frozen"] else None)
    if options["frozen"]:
        cls.__setattr__ = _refuse_to_set
        cls.__delattr__ = _refuse_to_delete
    return cls


def _is_simple(cls: Any, own: dict[str, Any], defaults: dict[str, Any]) -> bool:
    """Whether a class asks for nothing beyond plain fields with plain defaults."""
    return (
        cls.__bases__ == (object,)
        and "__init__" not in cls.__dict__
        and all(type(told) is str and "Var" not in told for told in own.values())
        and not any(type(default).__name__ == "Field" for default in defaults.values())
        and not any(default.__class__.__hash__ is None for default in defaults.values())
    )


def _with_slots(cls: Any, own: dict[str, Any]) -> Any:
    left = {name: value for name, value in cls.__dict__.items() if name not in own}
    for name in ("__dict__", "__weakref__"):
        left.pop(name, None)
    made = type(cls)(cls.__name__, cls.__bases__, left | {"__slots__": tuple(own)})
    made.__qualname__ = cls.__qualname__
    made.__getstate__ = _get_state
    made.__setstate__ = _set_state
    return made


def _give(cls: Any, name: str, value: object) -> None:
    """Give a class what it does not write itself; a class that writes ``__eq__`` has no hash."""
    written = cls.__dict__.get(name, _MISSING)
    if written is _MISSING or (name == "__hash__" and written is None):
        setattr(cls, name, value)


_MISSING = object()


def _first_start(cls: Any, defaults: dict[str, Any], *, frozen: bool) -> Any:
    """The ``__init__`` that a class has until it makes its first instance."""

    def __init__(self: Any, *values: Any, **named: Any) -> None:
        cls.__init__ = _start(cls, defaults, frozen=frozen)
        cls.__init__(self, *values, **named)

    return __init__


def _start(cls: Any, defaults: dict[str, Any], *, frozen: bool) -> Any:
    """The true ``__init__``, written out and compiled as the standard library does it."""
    names = cls.__match_args__
    taken = [f"{name}=_default_{name}" if name in defaults else name for name in names]
    put = "    _set(self, {0!r}, {0})" if frozen else "    self.{0} = {0}"
    lines = [f"def __init__({', '.join(['self', *taken])}):", *(put.format(n) for n in names)]
    if hasattr(cls, "__post_init__"):
        lines.append("    self.__post_init__()")
    space = {f"_default_{name}": value for name, value in defaults.items()}
    space["_set"] = object.__setattr__
    made: dict[str, Any] = {}
    exec("\n".join([*lines, "    return None"]), space, made)
    start = made["__init__"]
    start.__qualname__ = f"{cls.__qualname__}.__init__"
    start.__annotations__ = dict(cls.__annotations__) | {"return": None}
    return start


def _reader(names: tuple[str, ...]) -> Any:
    """What reads all fields of an instance, for comparing and hashing."""
    return attrgetter(*names) if names else _nothing


def _nothing(_one: object) -> tuple[()]:
    return ()


def _eq(self: Any, other: Any) -> Any:
    if other.__class__ is self.__class__:
        return self.__values__(self) == self.__values__(other)
    return NotImplemented


def _hash(self: Any) -> int:
    return hash(self.__values__(self))


def _repr(self: Any) -> str:
    from reprlib import recursive_repr

    return recursive_repr()(_plain_repr)(self)


def _plain_repr(self: Any) -> str:
    told = ", ".join(f"{name}={getattr(self, name)!r}" for name in self.__match_args__)
    return f"{self.__class__.__qualname__}({told})"


def _refuse_to_set(self: Any, name: str, value: object) -> None:
    from dataclasses import FrozenInstanceError

    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_to_delete(self: Any, name: str) -> None:
    from dataclasses import FrozenInstanceError

    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _get_state(self: Any) -> list[Any]:
    return [getattr(self, name) for name in self.__match_args__]


def _set_state(self: Any, state: list[Any]) -> None:
    for name, value in zip(self.__match_args__, state, strict=True):
        object.__setattr__(self, name, value)


class _Described:
    """The standard library's description of a class, made by its own decorator when asked for."""

    def __init__(self, name: str, defaults: dict[str, Any], options: dict[str, bool]) -> None:
        self.name = name
        self.defaults = defaults
        self.options = options

    def __get__(self, one: object, cls: Any) -> Any:
        from dataclasses import dataclass

        body = {"__annotations__": cls.__annotations__, "__module__": cls.__module__}
        twin: Any = dataclass(frozen=self.options["frozen"], eq=self.options["eq"])(
            type(cls.__name__, (), body | self.defaults)
        )
        for name in ("__dataclass_fields__", "__dataclass_params__"):
            setattr(cls, name, getattr(twin, name))
        return getattr(twin, self.name)


class _Signature:
    """What a class takes, read from its true ``__init__``."""

    def __init__(self, defaults: dict[str, Any]) -> None:
        self.defaults = defaults

    def __get__(self, one: object, cls: Any) -> Any:
        import inspect

        init = _start(cls, self.defaults, frozen=False)
        told = inspect.signature(init)
        return told.replace(parameters=list(told.parameters.values())[1:])
