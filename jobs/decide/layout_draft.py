"""What a starting layout is made of: plain records that name each other by key, and the sheet they are written on."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any, Final

from jobs.decide.graph_records import Edge, Flow, Node, tag_key
from jobs.kinds import registry
from jobs.kinds.dimensions import clean_dimensions


@dataclass(frozen=True)
class ComponentDraft:
    """A component to be made. `key` is its name within the draft; `sits_in` and `part_of` are keys, empty for none."""

    key: str
    kind: str
    tag: str
    dims: Mapping[str, Any]
    certainty: Mapping[str, str]
    sits_in: str = ""
    part_of: str = ""


@dataclass(frozen=True)
class ConnectionDraft:
    """Water goes from the component with key `source` to the one with key `target`."""

    source: str
    target: str
    flow: Flow = "normal"


@dataclass(frozen=True)
class AreaDraft:
    """A surface that drains to the component with key `component`."""

    component: str
    name: str
    surface: str
    area_ft2: float
    runoff_c: float
    certainty: str
    concentration_min: float = 5.0


@dataclass(frozen=True)
class StartingDraft:
    """A whole system, upstream first; basins stand before what sits in them."""

    components: tuple[ComponentDraft, ...]
    connections: tuple[ConnectionDraft, ...]
    areas: tuple[AreaDraft, ...]

    def graph(self) -> tuple[tuple[Node, ...], tuple[Edge, ...]]:
        """The records the graph checks take, with keys for ids."""
        nodes = tuple(
            Node(item.key, item.kind, item.tag, item.dims, item.certainty, item.sits_in, item.part_of)
            for item in self.components
        )
        return nodes, tuple(Edge(item.source, item.target, item.flow) for item in self.connections)


@dataclass(frozen=True)
class Numbers:
    """The numbers a layout was given. `measured` names those measured on site."""

    values: Mapping[str, float]
    measured: frozenset[str] = frozenset()

    def __getitem__(self, name: str) -> float:
        return self.values[name]


NOTHING_ASKED: Final = Numbers({})


@dataclass
class Draft:
    """The sheet a layout is written on: hands out the next free tag of each kind and checks every dimension."""

    taken_tags: Collection[str] = ()
    _components: list[ComponentDraft] = field(default_factory=list)
    _connections: list[ConnectionDraft] = field(default_factory=list)
    _areas: list[AreaDraft] = field(default_factory=list)
    _taken: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self._taken = {tag_key(tag) for tag in self.taken_tags}

    def add(
        self,
        kind_code: str,
        numbers: Numbers = NOTHING_ASKED,
        *,
        asked: Mapping[str, str] | None = None,
        sits_in: str = "",
        part_of: str = "",
        **assumed: Any,
    ) -> str:
        """Write a component and return its key. `asked` takes dimensions (name -> number asked) from `numbers`."""
        kind = registry.get(kind_code)
        dims: dict[str, Any] = dict(assumed)
        certainty = dict.fromkeys(assumed, "assumed")
        for name, source in (asked or {}).items():
            dims[name] = numbers[source]
            certainty[name] = "measured" if source in numbers.measured else "assumed"
        known = clean_dimensions(kind, dims, certainty)
        tag = "" if kind.is_part else self._next_tag(kind.tag_prefix)
        key = tag or f"{kind_code} of {part_of}"
        self._components.append(ComponentDraft(key, kind_code, tag, known.values, known.certainty, sits_in, part_of))
        return key

    def lead(self, *keys: str) -> None:
        """Connect these components in a row."""
        for source, target in pairwise(keys):
            self._connections.append(ConnectionDraft(source, target))

    def overflow(self, source: str, target: str) -> None:
        """Let the excess of one component go to another."""
        self._connections.append(ConnectionDraft(source, target, "overflow"))

    def area(
        self, component: str, numbers: Numbers, source: str, surface: str, runoff_c: float, share: int = 1
    ) -> None:
        """Let one part in `share` of the area asked as `source` drain to a component."""
        certainty = "measured" if source in numbers.measured and share == 1 else "assumed"
        name = f"{surface} to {component}"
        self._areas.append(AreaDraft(component, name, surface, numbers[source] / share, runoff_c, certainty))

    def finished(self) -> StartingDraft:
        """The draft as it stands."""
        return StartingDraft(tuple(self._components), tuple(self._connections), tuple(self._areas))

    def _next_tag(self, prefix: str) -> str:
        number = 1
        while tag_key(f"{prefix}-{number}") in self._taken:
            number += 1
        tag = f"{prefix}-{number}"
        self._taken.add(tag_key(tag))
        return tag
