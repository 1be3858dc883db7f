"""Finds the parts that rows name, in any order of rows, and the register's own part of each row."""

import difflib
from collections import defaultdict
from datetime import date
from typing import Any
from uuid import UUID

from core import normalise
from jobs.exchange import present
from jobs.exchange.cells import Ref
from jobs.exchange.check_drains import check_drains, refuse_foreign_drains
from jobs.exchange.check_parts import PartRow, refuse_misplaced, settle_dimensions
from jobs.exchange.checking import Checking
from jobs.exchange.drafts import Holder, LinkDraft, PartDraft, PropertyDraft
from jobs.exchange.present import AtProperty
from jobs.kinds import registry
from jobs.models import Component, Connection, Property, System

KIND_OF_LINK = {"goes_to": Connection.Kind.NORMAL.value, "overflows_to": Connection.Kind.OVERFLOW.value}


def check_parts(checking: Checking, rows: list[PartRow], there: dict[int, AtProperty]) -> None:
    """Match, resolve and check the parts of every property, their connections and drainage areas."""
    taken = present.taken(Component, {row.draft.uid for row in rows if row.draft.uid is not None})
    drains: dict[int, list[PartRow]] = defaultdict(list)
    for row in rows:
        drains[id(row.draft.at)].append(row)
    for home in checking.draft.properties:
        mine = there[home.existing.pk] if home.existing else AtProperty()
        yard = _Yard(checking, home, mine, taken)
        yard.match()
        yard.refuse_taken_tags()
        yard.settle()
        yard.link()
        check_drains(checking, drains[id(home)], mine)
    refuse_foreign_drains(checking)


class _Yard:
    """The parts of one property: those of the file and those of the register that the file does not speak of."""

    def __init__(self, checking: Checking, home: PropertyDraft, there: AtProperty, taken: set[UUID]) -> None:
        self._checking, self._home, self._there, self._taken = checking, home, there, taken
        self._free = {part.uid: part for part in there.parts}
        self._by_pk: dict[int, PartDraft] = {}
        self._other_kind: set[int] = set()
        self._uids: dict[UUID, Holder] = dict(self._free)
        self._tags: dict[str, Holder] = {}
        self._retired_tags: dict[str, list[Holder]] = defaultdict(list)
        self._place = home.existing or Property(address=str(home.values.get("address", "")))

    def match(self) -> None:
        """Find the register's part of each row: by uid, by tag, then parts without a tag by what they belong to."""
        self._match_uids()
        tagged = [draft for draft in self._home.parts if draft.uid is None]
        for draft in tagged:
            if draft.retired_on is None and draft.tag:
                self._take(draft, lambda part, draft=draft: part.retired_on is None and _same_tag(part, draft))
            elif draft.retired_on is not None:
                self._take(draft, lambda part, draft=draft: _same_past(part, draft))
        self._index()
        for draft in tagged:
            if draft.retired_on is None and not draft.tag:
                self._match_by_holder(draft)
        for draft in self._home.parts:
            self._refuse_other_kind(draft)
            if draft.existing is not None and draft.uid is None:
                draft.values.pop("tag", None)  # the tag it was found by stays as it is spelled

    def _match_uids(self) -> None:
        seen: dict[UUID, int] = {}
        for draft in self._home.parts:
            if draft.uid is None:
                continue
            if draft.uid in seen:
                words = f"uid {draft.uid} stands in row {seen[draft.uid]} too: a part has one row; empty this cell."
                self._checking.refuse(draft.row, "uid", words, str(draft.uid))
            seen.setdefault(draft.uid, draft.row)
            self._take(draft, lambda part, draft=draft: part.uid == draft.uid)
            if draft.existing is None and draft.uid in self._taken:
                words = f"uid {draft.uid} belongs to a part of another property: empty the cell."
                self._checking.refuse(draft.row, "uid", words, str(draft.uid))

    def _take(self, draft: PartDraft, fits: Any) -> None:
        found = next((part for part in self._free.values() if fits(part)), None)
        if found is not None:
            draft.existing = self._free.pop(found.uid)
            self._by_pk[found.pk] = draft

    def _index(self) -> None:
        """Tags and uids as other rows name them; the file's parts come before the register's."""
        for part in self._free.values():
            self._name(part, part.tag_key, part.retired_on)
        for draft in self._home.parts:
            retired = draft.retired_on or (draft.existing.retired_on if draft.existing else None)
            self._name(draft, normalise.tag_key(draft.tag), retired)
            for uid in (draft.uid, draft.existing.uid if draft.existing else None):
                if uid is not None:
                    self._uids[uid] = draft

    def _name(self, part: Holder, key: str, retired_on: date | None) -> None:
        if key and retired_on is None:
            self._tags[key] = part
        elif key:
            self._retired_tags[key].append(part)

    def _match_by_holder(self, draft: PartDraft) -> None:
        """A grate or float without tag: the first free one of its kind at the same holder."""
        wanted = {name: self.find(draft, name, ref, quiet=True) for name, ref in draft.named.items()}
        for name in ("part_of", "sits_in"):
            holder = wanted.get(name)
            record = holder.existing if isinstance(holder, PartDraft) else holder
            if record is not None:
                key = f"{name}_id"
                self._take(
                    draft,
                    lambda part, key=key, pk=record.pk: (
                        getattr(part, key) == pk
                        and part.kind == draft.kind.code
                        and part.retired_on is None
                        and not part.tag_key
                    ),
                )
                break
        if not wanted and draft.kind.is_part:
            words = f"part_of is empty: give the tag of what the {draft.kind.name} is part of."
            self._checking.refuse(draft.row, "part_of", words)

    def _refuse_other_kind(self, draft: PartDraft) -> None:
        if draft.existing is not None and draft.existing.kind != draft.kind.code:
            there = registry.get(draft.existing.kind).a_name
            words = (
                f"kind is {draft.kind.code}, but {draft.label} is {there} in the register, and a part's kind never "
                "changes: give another tag, or take that part out first."
            )
            self._checking.refuse(draft.row, "kind", words, draft.kind.code)
            self._other_kind.add(id(draft))
            draft.existing = None

    def refuse_taken_tags(self) -> None:
        """Tags are unique among the parts in the ground: in the file, and against what it does not speak of."""
        first: dict[str, PartDraft] = {}
        held = {part.tag_key: part for part in self._there.parts if part.retired_on is None and part.tag_key}
        for draft in self._home.parts:
            key = normalise.tag_key(draft.tag)
            if not key or draft.is_retired:
                continue
            if key in first:
                words = (
                    f"tag {draft.tag} stands in row {first[key].row} too ({first[key].kind.name}): a tag is unique at "
                    f"its property; give another tag."
                )
                self._checking.refuse(draft.row, "tag", words, draft.tag)
            elif key in held and held[key] is not draft.existing and id(draft) not in self._other_kind:
                other = registry.get(held[key].kind).a_name
                moves = " (its own row gives it a new tag: import that first)" if held[key].pk in self._by_pk else ""
                words = f"tag {draft.tag} is taken by {other} in the register{moves}: give another."
                self._checking.refuse(draft.row, "tag", words, draft.tag)
            first.setdefault(key, draft)

    def settle(self) -> None:
        """Resolve what the rows name, then check each part as the services do."""
        for draft in self._home.parts:
            for name, ref in draft.named.items():
                draft.refs[name] = self.find(draft, name, ref)
            settle_dimensions(self._checking, draft)
            refuse_misplaced(self._checking, draft, self._stand_ins(draft), self._place)
            self._refuse_past(draft)

    def _stand_ins(self, draft: PartDraft) -> dict[str, Any]:
        """Records that look like those the row names, for a check that wants records; new ones are not saved yet."""
        made: dict[str, Any] = {}
        if draft.system is not None:
            made["system"] = draft.system.existing or System(property=self._place)
        for name in ("sits_in", "part_of"):
            holder = draft.refs.get(name)
            if holder is not None:
                kind = holder.kind.code if isinstance(holder, PartDraft) else holder.kind
                made[name] = Component(property=self._place, kind=kind, tag=holder.tag)
        return made

    def _refuse_past(self, draft: PartDraft) -> None:
        """What was taken out, when and for what is not changed by a file."""
        there, successor = draft.existing, draft.refs.get("successor")
        if successor is not None and not draft.is_retired:
            words = "replaced_by is given, but retired_on is empty: give the day and reason it was taken out."
            self._checking.refuse(draft.row, "replaced_by", words, draft.named["successor"].text)
        if there is None:
            return
        told = (draft.retired_on, draft.retired_reason)
        kept_end = draft.retired_because in ("", there.retired_because)
        if draft.retired_on is not None and there.retired_on is None:
            words = f"{draft.label} is in the ground in the register: take it out on its page, not by a file."
            self._checking.refuse(draft.row, "retired_on", words, draft.retired_on)
        elif draft.retired_on is not None and not (told == (there.retired_on, there.retired_reason) and kept_end):
            register = f"{there.retired_on}, {there.retired_reason!r}, {there.retired_because or 'no kind of end'}"
            words = f"The register says {register}: that is not changed by a file."
            self._checking.refuse(draft.row, "retired_on", words, draft.retired_on)
        new = _record(successor) if successor is not None else None
        if successor is not None and (new is None or there.successor_id != new.pk):
            words = f"replaced_by differs from the register's ({there.successor}): replace a part on its page."
            self._checking.refuse(draft.row, "replaced_by", words, draft.named["successor"].text)

    def find(self, draft: PartDraft, column: str, ref: Ref, *, quiet: bool = False) -> Holder | None:
        """The part a row names; None with the problem noted. A tag means the part in the ground."""
        name = {"successor": "replaced_by"}.get(column, column)
        found = self._uids.get(ref.uid) if ref.uid is not None else self._tags.get(normalise.tag_key(ref.text))
        if found is None and ref.uid is None and draft.is_retired:
            past = self._retired_tags.get(normalise.tag_key(ref.text), [])
            found = past[0] if len(past) == 1 else None
        if found is draft:
            words = f"{name} is {ref.text}, the part itself: give another part at {self._home.label}."
            found = None
        else:
            meant = self._meant(draft, ref)
            words = f"{name} is {ref.text}: no part in the ground at {self._home.label} has that tag{meant}"
        if found is None and not quiet:
            self._checking.refuse(draft.row, name, words, ref.text)
        return found

    def _meant(self, draft: PartDraft, ref: Ref) -> str:
        others = [key for key, part in self._tags.items() if part is not draft]
        close = difflib.get_close_matches(normalise.tag_key(ref.text), others, n=1)
        return f"; did you mean {self._tags[close[0]].tag}?" if close else "; give its row that tag, or mend this one."

    def link(self) -> None:
        """The connections of every part whose row says where its water goes; those it leaves out end."""
        there = {(link.from_component_id, link.to_component_id): link for link in self._there.links}
        for draft in self._home.parts:
            said: dict[int, LinkDraft] = {}
            for column, refs in draft.named_lists.items():
                for ref in refs:
                    self._link(draft, column, ref, said, there)
            if draft.existing is not None and draft.named_lists:
                kinds = {KIND_OF_LINK[column] for column in draft.named_lists}
                kept = {link.existing.pk for link in said.values() if link.existing is not None}
                for link in self._there.links:
                    if link.from_component_id == draft.existing.pk and link.kind in kinds and link.pk not in kept:
                        self._home.link_removals.append(link)

    def _link(
        self,
        draft: PartDraft,
        column: str,
        ref: Ref,
        said: dict[int, LinkDraft],
        there: dict[tuple[int, int], Connection],
    ) -> None:
        to_part = self.find(draft, column, ref)
        if to_part is None:
            return
        for part in (draft, to_part):
            if part.is_retired if isinstance(part, PartDraft) else part.retired_on is not None:
                words = f"{column} is {ref.text}: {part.tag or 'a part'} was taken out; name parts in the ground."
                self._checking.refuse(draft.row, column, words, ref.text)
                return
        if id(to_part) in said:
            words = f"{column} names {ref.text} again (after {said[id(to_part)].column}): name it once."
            self._checking.refuse(draft.row, column, words, ref.text)
            return
        certainty = "assumed" if ref.assumed else "measured"
        link = LinkDraft(draft.row, column, draft, to_part, KIND_OF_LINK[column], certainty)
        target = _record(to_part)
        if draft.existing is not None and target is not None:
            link.existing = there.get((draft.existing.pk, target.pk))
        said[id(to_part)] = link
        self._home.links.append(link)


def _record(part: Holder) -> Component | None:
    return part.existing if isinstance(part, PartDraft) else part


def _same_tag(part: Component, draft: PartDraft) -> bool:
    return bool(part.tag_key) and part.tag_key == normalise.tag_key(draft.tag)


def _same_past(part: Component, draft: PartDraft) -> bool:
    told = (normalise.tag_key(draft.values.get("tag")), draft.kind.code, draft.retired_on)
    return (part.tag_key, part.kind, part.retired_on) == told
