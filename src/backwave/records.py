"""The standard library's `dataclass`, made in a third of the time.

A command makes some 300 frozen dataclasses before it does anything, and the library compiles six methods for each.
Here `__init__` alone is compiled; comparing, hashing, showing and refusing changes are written once, for all of them.
Type checkers see the library's own.  Ground floor: imports nothing of backwave."""

from __future__ import annotations

import dataclasses
from dataclasses import KW_ONLY as KW_ONLY
from dataclasses import MISSING as MISSING
from dataclasses import asdict as asdict
from dataclasses import field as field
from dataclasses import fields as fields
from dataclasses import is_dataclass as is_dataclass
from dataclasses import replace as replace
from operator import attrgetter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(cls=None, /, *, frozen=False, eq=True, slots=False, kw_only=False):
        """As the library's, by the arguments that are used here."""

        def made(cls):
            if not frozen or slots:
                return dataclasses.dataclass(cls, frozen=frozen, eq=eq, slots=slots, kw_only=kw_only)
            return _frozen(dataclasses.dataclass(cls, init=False, repr=False, eq=False, kw_only=kw_only), eq)

        return made if cls is None else made(cls)


_UNSET = object()  # where a factory is to make the value


def _frozen(cls: type, eq: bool) -> type:
    own, known = vars(cls), fields(cls)
    methods = {"__init__": _init_of(cls), "__repr__": _repr, "__setattr__": _refuse, "__delattr__": _refuse}
    if eq:
        methods |= {"__eq__": _eq, "__hash__": _hash}
        cls._compared = staticmethod(_getter([f.name for f in known if f.compare]))  # type: ignore[attr-defined]
    for name, method in methods.items():
        if own.get(name) is None:  # None: the language's, where `__eq__` is written by hand
            setattr(cls, name, method)
    return cls


def _init_of(cls: type) -> Any:
    head, named, body = list[str](), list[str](), list[str]()
    space: dict[str, Any] = {"_set": object.__setattr__, "_unset": _UNSET}
    for number, one in enumerate(fields(cls)):
        value, default = one.name, ""
        if one.default_factory is not MISSING:
            space[f"_{number}"], default = one.default_factory, "=_unset"
            value = f"_{number}() if {value} is _unset else {value}" if one.init else f"_{number}()"
        elif one.default is not MISSING:
            space[f"_{number}"], default = one.default, f"=_{number}"
        if one.init:
            (named if one.kw_only else head).append(one.name + default)
        if one.init or one.default_factory is not MISSING:
            body.append(f" _set(self, {one.name!r}, {value})")
    if hasattr(cls, "__post_init__"):
        body.append(" self.__post_init__()")
    arguments = ", ".join(["self", *head, *(["*", *named] if named else [])])
    exec(f"def __init__({arguments}):\n" + ("\n".join(body) or " pass"), space)  # noqa: S102 - names of fields alone
    made = space["__init__"]
    made.__qualname__ = f"{cls.__qualname__}.__init__"
    made.__annotations__ = {one.name: one.type for one in fields(cls) if one.init} | {"return": None}
    return made


def _getter(names: list[str]) -> Any:
    return attrgetter(*names) if len(names) > 1 else lambda one: tuple(getattr(one, name) for name in names)


def _eq(self: Any, other: Any) -> Any:
    if other.__class__ is not self.__class__:
        return NotImplemented
    return self._compared(self) == self._compared(other)


def _hash(self: Any) -> int:
    return hash(self._compared(self))


def _repr(self: Any) -> str:
    shown = ", ".join(f"{f.name}={getattr(self, f.name)!r}" for f in fields(self) if f.repr)
    return f"{type(self).__qualname__}({shown})"


def _refuse(self: Any, name: str, *value: object) -> None:
    raise dataclasses.FrozenInstanceError(f"cannot {'assign to' if value else 'delete'} field {name!r}")
