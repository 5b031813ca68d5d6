"""What a page is made of: paragraphs, lists, tables, figures, and parts that hold them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import ClassVar

from hoofcohort.report.figures.canvas import Figure
from hoofcohort.report.sheet import Sheet


@dataclass(frozen=True)
class Paragraph:
    """One paragraph; ``style`` is one of the style sheet's classes."""

    kind: ClassVar[str] = "paragraph"
    text: str
    style: str = ""


@dataclass(frozen=True)
class Code:
    """Commands to be copied."""

    kind: ClassVar[str] = "code"
    text: str


@dataclass(frozen=True)
class Items:
    """A list of sentences."""

    kind: ClassVar[str] = "items"
    texts: Sequence[str]
    style: str = ""


@dataclass(frozen=True)
class TableBlock:
    """A table."""

    kind: ClassVar[str] = "sheet"
    sheet: Sheet


@dataclass(frozen=True)
class FigureBlock:
    """A figure."""

    kind: ClassVar[str] = "figure"
    figure: Figure


@dataclass(frozen=True)
class Part:
    """A section with a heading; in the contents when it is on the first level or directly below it."""

    kind: ClassVar[str] = "part"
    anchor: str
    title: str
    blocks: Sequence[Block]
    listed: bool = True

    @property
    def parts(self) -> list[Part]:
        """The parts inside that the contents list."""
        return [block for block in self.blocks if isinstance(block, Part) and block.listed]


Block = Paragraph | Code | Items | TableBlock | FigureBlock | Part


def walk(blocks: Sequence[Block]) -> Iterator[Block]:
    """Yield all blocks in the page's order, those inside parts too."""
    for block in blocks:
        yield block
        if isinstance(block, Part):
            yield from walk(block.blocks)


def shown(*things: Sheet | Figure | None) -> list[Block]:
    """Return tables and figures as blocks, leaving out None and tables without rows."""
    blocks: list[Block] = []
    for thing in things:
        if isinstance(thing, Figure):
            blocks.append(FigureBlock(thing))
        elif thing is not None and thing.records:
            blocks.append(TableBlock(thing))
    return blocks
