"""A register as a file tells it: things by key, with what each cell said, before anything is stored."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from service.domain.cells import Sign
from service.domain.fields import Value
from service.domain.register import Noun

#: codes and tags from the client down: ("MW", "WEN", "WEN-MCC1")
Key = tuple[str, ...]


@dataclass(slots=True)
class FiledThing:
    """One thing of a file.

    ``parent`` is the key of what it stands in, None where the file does not say. ``given`` holds
    the fields with a cell that is not empty and sound, ``places`` where each was read, sound or
    not. A thing without places is only spoken of.
    """

    noun: Noun
    key: Key
    where: str
    parent: Key | None = None
    parent_where: str = ""
    given: dict[str, Value] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class RegisterFile:
    """All things of a file by noun, parents first, in the order of the file."""

    things: Mapping[Noun, Mapping[Key, FiledThing]]
    sheets: tuple[str, ...]
    rows: int
    decimal: Sign
    #: how the decimal sign was found: "given", "seen" or "not needed"
    decimal_by: str

    def of(self, noun: Noun) -> Iterable[FiledThing]:
        return self.things[noun].values()


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One field that a file changes."""

    noun: Noun
    key: Key
    field: str
    was: Value
    becomes: Value


@dataclass(frozen=True, slots=True)
class NounCount:
    new: int = 0
    changed: int = 0
    unchanged: int = 0
