"""Our classes of values do what the standard library's do, which are made beside them."""

from __future__ import annotations

import copy
import dataclasses
import pickle
import re
from collections.abc import Callable
from dataclasses import field
from pathlib import Path
from typing import Any, ClassVar

import pytest

import filmhand
from filmhand.values import make_dataclass_of as ours

Make = Callable[..., Any]
PARAMETERS = [
    {},
    {"slots": True},
    {"frozen": True, "slots": True},
    {"frozen": True},
    {"frozen": True, "slots": True, "eq": False},
    {"eq": False, "repr": False},
    {"frozen": True, "slots": True, "kw_only": True},
]


def classes(make: Make, **parameters: bool) -> tuple[Any, Any]:
    """A class of values and one derived from it."""

    @make(**parameters)
    class Size:
        kind: ClassVar[str] = "size"
        width: float
        height: float = 2.0
        places: list[int] = field(default_factory=list, compare=False)
        unit: str = field(default="mm", repr=False, kw_only=True)
        area: float = field(init=False, compare=False)
        left: int = field(default=7, init=False)

        def __post_init__(self) -> None:
            object.__setattr__(self, "area", self.width * self.height)

    @make(**parameters)
    class Box(Size):
        depth: float = 1.0

    return Size, Box


def outcome(do: Callable[[], Any]) -> Any:
    """What it gives, or the kind of its error."""
    try:
        return do()
    except Exception as error:
        return type(error)


@pytest.mark.parametrize("parameters", PARAMETERS, ids=str)
@pytest.mark.parametrize("which", [0, 1], ids=["first", "derived"])
def test_they_do_what_the_standard_library_does(parameters: dict[str, bool], which: int) -> None:
    told = []
    for make in (ours, dataclasses.dataclass):
        made = classes(make, **parameters)[which]
        one, same, other = (made(width=w, places=[1]) for w in (3.0, 3.0, 4.0))
        told.append(
            [
                [(each.name, each.kw_only) for each in dataclasses.fields(made)],
                made.__match_args__,
                hasattr(one, "__dict__"),
                repr(one) if parameters.get("repr", True) else None,
                one == same,
                one == other,
                one == made(width=3.0, places=[2]),
                one == (3.0, 2.0),
                dataclasses.asdict(one),
                dataclasses.asdict(dataclasses.replace(one, height=5.0, unit="in")),
                dataclasses.asdict(copy.deepcopy(one)),
                outcome(lambda one=one, same=same: hash(one) == hash(same)),
                outcome(lambda made=made: made(width=1.0).places is made(width=1.0).places),
                outcome(lambda made=made: made(1.0, 2.0, [3]).places),
                *map(
                    outcome,
                    [
                        made,
                        lambda made=made: made(1.0, 2.0, [], "in", 5.0, 6.0),
                        lambda made=made: made(1.0, width=2.0),
                        lambda made=made: made(1.0, weight=2.0),
                        lambda made=made: made(1.0, area=2.0),
                        lambda one=one: setattr(one, "width", 9.0),
                        lambda one=one: delattr(one, "width"),
                        lambda one=one: (one.width, one.left, one.kind, one.unit),
                    ],
                ),
            ]
        )
    assert told[0] == told[1]


@ours(frozen=True, slots=True)
class Kept:
    """Where pickle finds it."""

    name: str
    parts: tuple[int, ...] = ()


@ours(slots=True)
class Changed:
    """Where pickle finds it."""

    name: str


def test_they_are_kept_and_read_back() -> None:
    for one in (Kept("a", (1, 2)), Changed("b")):
        assert pickle.loads(pickle.dumps(one)) == one


def test_what_a_class_defines_itself_stays() -> None:
    for make in (ours, dataclasses.dataclass):

        @make(frozen=True)
        class Named:
            name: str

            def __repr__(self) -> str:
                return self.name

            def __eq__(self, other: object) -> bool:
                return isinstance(other, Named) and self.name.lower() == other.name.lower()

            def __hash__(self) -> int:
                return 5

        assert (repr(Named("a")), Named("a") == Named("A"), hash(Named("b"))) == ("a", True, 5)


def test_no_code_is_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr(dataclasses, "exec", never, raising=False)
    first, derived = classes(ours, frozen=True, slots=True)
    assert derived(1.0).depth == first(1.0).width
    with pytest.raises(AssertionError):
        classes(dataclasses.dataclass)


def test_all_modules_make_them_in_this_way() -> None:
    room = Path(filmhand.__file__).parent
    own = [
        str(path.relative_to(room))
        for path in room.rglob("*.py")
        if re.search(r"^\s*from dataclasses import .*\bdataclass\b", path.read_text(), re.MULTILINE)
    ]
    assert own == ["values.py"]
