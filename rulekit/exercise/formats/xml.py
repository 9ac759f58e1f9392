"""XML read with its places, within limits, and without anything that a document may ask for.

Entities are refused and nothing outside the document is looked at; a tree is bounded in size and depth.
"""

from collections.abc import Iterator
from xml.parsers import expat

from rulekit.exercise.limits import MAX_DEPTH, MAX_ELEMENTS
from rulekit.exercise.reading import Place, Unreadable

_LONGEST_TEXT = 1_000


class Node:
    """An element: its name without namespace, attributes, children, text, and where its tag begins."""

    __slots__ = ("attributes", "children", "name", "place", "text")

    def __init__(self, name: str, attributes: dict[str, str], place: Place) -> None:
        self.name, self.attributes, self.place = name, attributes, place
        self.children: list[Node] = []
        self.text = ""

    def all(self, name: str) -> Iterator["Node"]:
        """The children of a name."""
        return (child for child in self.children if child.name == name)

    def first(self, name: str) -> "Node | None":
        """The first child of a name."""
        return next(self.all(name), None)

    def has(self, name: str) -> bool:
        """Whether there is a child of a name."""
        return any(child.name == name for child in self.children)

    def words(self, *path: str) -> str:
        """The text at the end of a path of children, trimmed; empty if there is no such."""
        node: Node | None = self
        for name in path:
            node = node.first(name) if node is not None else None
        return node.text.strip() if node is not None else ""

    def get(self, name: str) -> str:
        """An attribute, empty if it is missing."""
        return self.attributes.get(name, "").strip()

    def below(self) -> Iterator["Node"]:
        """All elements below this one, in the order of the document."""
        stack = self.children[::-1]
        while stack:
            node = stack.pop()
            yield node
            stack += node.children[::-1]


def parse(data: bytes, format_: str, hint: str) -> Node:
    """The root of a document; raises Unreadable at its place for what is no XML or too much of it."""
    tree = _Tree()
    try:
        return tree.parse(data)
    except expat.ExpatError as error:
        place = Place(error.lineno, error.offset + 1)
        raise Unreadable(f"this cannot be read as {format_}", hint, place) from error
    except (LookupError, UnicodeError, ValueError) as error:
        raise Unreadable(f"this cannot be read as {format_}", "save it in UTF-8") from error


class _Tree:
    """Builds the tree while the parser goes through the document."""

    def __init__(self) -> None:
        self.parser = expat.ParserCreate()
        self.parser.buffer_text = True
        self.parser.StartElementHandler = self.start
        self.parser.EndElementHandler = self.end
        self.parser.CharacterDataHandler = self.characters
        self.parser.EntityDeclHandler = self.entity
        self.root: Node | None = None
        self.open: list[Node] = []
        self.count = 0

    def parse(self, data: bytes) -> Node:
        """Go through a document."""
        self.parser.Parse(data, True)
        assert self.root is not None  # a document without an element is none
        return self.root

    def place(self) -> Place:
        """Where the parser is."""
        parser = self.parser
        return Place(parser.CurrentLineNumber, parser.CurrentColumnNumber + 1, parser.CurrentByteIndex)

    def start(self, name: str, attributes: dict[str, str]) -> None:
        """An element begins."""
        self.count += 1
        if self.count > MAX_ELEMENTS:
            raise Unreadable(f"there are more than {MAX_ELEMENTS} elements in this score", place=self.place())
        if len(self.open) >= MAX_DEPTH:
            raise Unreadable(f"the elements are nested more than {MAX_DEPTH} deep", place=self.place())
        node = Node(name.rpartition(":")[2], attributes, self.place())
        if self.open:
            self.open[-1].children.append(node)
        else:
            self.root = node
        self.open.append(node)

    def end(self, _name: str) -> None:
        """An element ends."""
        self.open.pop()

    def characters(self, text: str) -> None:
        """Text inside an element; no number or name is longer than what is kept."""
        node = self.open[-1]
        if len(node.text) < _LONGEST_TEXT:
            node.text += text[:_LONGEST_TEXT]

    def entity(self, *_: object) -> None:
        """A document that defines its own entities is refused."""
        raise Unreadable("this document defines entities of its own", "export the score again", self.place())
