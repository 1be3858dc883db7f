"""An independent reading of content lines (RFC 5545 3.1, 3.2): nothing is shared with the code that writes them."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

_NAME = r"[A-Za-z0-9-]+"
_PARAM_VALUE = r'(?:"[^"\x00-\x08\x0a-\x1f\x7f]*"|[^";:,\x00-\x08\x0a-\x1f\x7f]*)'
_PARAM = rf";({_NAME})=({_PARAM_VALUE}(?:,{_PARAM_VALUE})*)"
_LINE = re.compile(rf"({_NAME})((?:{_PARAM})*):(.*)", re.DOTALL)
_ONE_PARAM = re.compile(_PARAM)


@dataclass(frozen=True)
class Line:
    """One unfolded content line; ``params`` by upper-case name, quotes taken off."""

    name: str
    params: dict[str, str]
    value: str


@dataclass
class Component:
    """BEGIN to END: its own lines and the components inside it, in order."""

    name: str
    lines: list[Line] = field(default_factory=list)
    children: list["Component"] = field(default_factory=list)

    def all(self, name: str) -> list[Line]:
        return [line for line in self.lines if line.name == name]

    def one(self, name: str) -> Line | None:
        """The first line of that name."""
        return next(iter(self.all(name)), None)

    def value(self, name: str) -> str:
        line = self.one(name)
        return line.value if line else ""

    def kind(self, name: str) -> list["Component"]:
        return [child for child in self.children if child.name == name]

    def walk(self) -> Iterator["Component"]:
        yield self
        for child in self.children:
            yield from child.walk()


def physical_lines(body: bytes) -> list[bytes]:
    """The lines as sent, split at CRLF or bare LF, without their ends."""
    return body.replace(b"\r\n", b"\n").split(b"\n")


def unfold(body: bytes) -> list[str]:
    """Content lines with folds taken out (as octets, before decoding) and undecodable octets replaced."""
    joined = body.replace(b"\r\n", b"\n").replace(b"\n ", b"").replace(b"\n\t", b"")
    return joined.decode("utf-8", "replace").removesuffix("\n").split("\n")


def refold(lines: list[str]) -> bytes:
    """Content lines as octets again: at most 75 a line, whole characters, CRLF. The inverse of ``unfold``."""
    out = bytearray()
    for line in lines:
        width = 0
        for character in line:
            octets = character.encode()
            if width + len(octets) > 75:
                out += b"\r\n "
                width = 1
            out += octets
            width += len(octets)
        out += b"\r\n"
    return bytes(out)


def parse_line(text: str) -> Line | None:
    """The parts of a content line, None if it is not one."""
    match = _LINE.fullmatch(text)
    if match is None:
        return None
    params = {name.upper(): value.strip('"') for name, value in _ONE_PARAM.findall(match[2])}
    return Line(match[1].upper(), params, match[match.re.groups])


def build_tree(lines: list[str]) -> tuple[Component, list[str]]:
    """The components under a nameless root, and what is wrong with BEGIN and END; unparsed lines are left out."""
    root = Component("")
    stack = [root]
    wrong: list[str] = []
    for text in lines:
        line = parse_line(text)
        if line is None:
            continue
        if line.name == "BEGIN":
            child = Component(line.value.upper())
            stack[-1].children.append(child)
            stack.append(child)
        elif line.name == "END":
            if len(stack) > 1 and stack[-1].name == line.value.upper():
                stack.pop()
            else:
                wrong.append(f"END:{line.value} closes nothing open")
        else:
            stack[-1].lines.append(line)
    wrong += [f"{component.name} is never closed" for component in stack[1:]]
    return root, wrong


def unescape(value: str) -> str:
    """A TEXT value as people read it (RFC 5545 3.3.11)."""
    return re.sub(r"\\(.)", lambda m: "\n" if m[1] in "nN" else m[1], value, flags=re.DOTALL)


def split_list(value: str) -> list[str]:
    """The values of a comma list of TEXT, unescaped."""
    parts, escaped = [""], False
    for character in value:
        if character == "," and not escaped:
            parts.append("")
            continue
        escaped = character == "\\" and not escaped
        parts[-1] += character
    return [unescape(part) for part in parts]
