"""A system as frozen records: its components, where their water goes, and what the checks found. No ORM, no clock."""

import unicodedata
from collections import defaultdict, deque
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

from jobs.kinds import registry
from jobs.kinds.base import Kind

Flow = Literal["normal", "overflow"]
Severity = Literal["error", "warning"]

NAMED_AT_MOST = 8


@dataclass(frozen=True, slots=True)
class Node:
    """One component that is not retired. `id` is any unique text (its uid); `sits_in` and `part_of` are ids.

    `dims` holds known dimensions only, `certainty` measured or assumed for each. `slope_reason`: why a slope below the
    least was accepted; empty if nobody said.
    """

    id: str
    kind: str
    tag: str = ""
    dims: Mapping[str, Any] = field(default_factory=dict)
    certainty: Mapping[str, str] = field(default_factory=dict)
    sits_in: str = ""
    part_of: str = ""
    slope_reason: str = ""


@dataclass(frozen=True, slots=True)
class Edge:
    """Water goes from `source` to `target` (ids); `overflow` carries only the excess and never counts in the rating."""

    source: str
    target: str
    flow: Flow = "normal"


@dataclass(frozen=True, slots=True)
class Problem:
    """What a check found. `message` says what to do; `tags` and `ids` name the components, tags for people.

    An error stops only the hand-over of an install of our own; nothing stops recording what is in the ground.
    """

    code: str
    severity: Severity
    tags: tuple[str, ...]
    message: str
    ids: tuple[str, ...] = ()


class Graph:
    """Nodes and edges looked up by id, built once for all checks.

    Edges to or from unknown ids, and edges of nodes of unknown kind, are left out of the walks. A sump basin leads to
    each pump that sits in it, drawn or not. Where two nodes share an id the first is kept.
    """

    def __init__(self, nodes: Iterable[Node], edges: Iterable[Edge]) -> None:
        self.nodes: tuple[Node, ...] = tuple(nodes)
        self.edges: tuple[Edge, ...] = tuple(edges)
        self.by_id: dict[str, Node] = {}
        for node in self.nodes:
            self.by_id.setdefault(node.id, node)
        self.known = {node.id: registry.BY_CODE[node.kind] for node in self.nodes if node.kind in registry.BY_CODE}
        self.pumps_in: dict[str, list[str]] = defaultdict(list)
        for node in self.by_id.values():
            if node.kind == "pump" and node.sits_in in self.known:
                self.pumps_in[node.sits_in].append(node.id)
        self.out: dict[str, list[str]] = defaultdict(list)
        self.into: dict[str, list[str]] = defaultdict(list)
        self.overflow: dict[str, list[str]] = defaultdict(list)
        self._link()

    def _link(self) -> None:
        linked = set()
        for edge in self.edges:
            if edge.source not in self.known or edge.target not in self.known:
                continue
            if edge.flow == "overflow":
                self.overflow[edge.source].append(edge.target)
            elif (edge.source, edge.target) not in linked:
                linked.add((edge.source, edge.target))
                self.out[edge.source].append(edge.target)
                self.into[edge.target].append(edge.source)
        for basin, pumps in self.pumps_in.items():
            for pump in pumps:
                if (basin, pump) not in linked:
                    self.out[basin].append(pump)
                    self.into[pump].append(basin)

    def kind(self, node_id: str) -> Kind:
        """The kind of a node whose kind is known."""
        return self.known[node_id]

    def name(self, node_id: str) -> str:
        """What to call a node: its tag, else its kind and its parent's tag."""
        node = self.by_id.get(node_id)
        if node is None:
            return "a component that is not in this system"
        if node.tag:
            return node.tag
        name = self.known[node_id].name if node_id in self.known else node.kind
        parent = self.by_id.get(node.part_of)
        return f"the {name} of {parent.tag}" if parent is not None and parent.tag else f"the {name} without a tag"

    def names(self, ids: Sequence[str]) -> str:
        """Several names as one phrase; a long list is cut and counted."""
        shown = [self.name(item) for item in ids[:NAMED_AT_MOST]]
        if len(ids) > NAMED_AT_MOST:
            return ", ".join(shown) + f" and {len(ids) - NAMED_AT_MOST} more"
        return shown[0] if len(shown) == 1 else ", ".join(shown[:-1]) + " and " + shown[-1]

    def problem(self, code: str, severity: Severity, ids: Sequence[str], message: str) -> Problem:
        """A problem about these nodes."""
        return Problem(code, severity, tuple(self.name(item) for item in ids), message, tuple(ids))

    @cached_property
    def order(self) -> tuple[str, ...]:
        """Ids along the normal flow, upstream first; nodes on a cycle or below one are left out."""
        waiting = {item: len(self.into[item]) for item in self.known}
        ready = deque(item for item, count in waiting.items() if count == 0)
        done = []
        while ready:
            item = ready.popleft()
            done.append(item)
            for target in self.out[item]:
                waiting[target] -= 1
                if waiting[target] == 0:
                    ready.append(target)
        return tuple(done)


def tag_key(tag: str) -> str:
    """The form in which two tags are the same: NFC, case folded, outer blanks off, inner blanks single."""
    return " ".join(unicodedata.normalize("NFC", tag).casefold().split())
