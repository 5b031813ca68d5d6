"""The letters of the corpus. ``python tests/inbox/corpus_letters.py`` writes them again, to be read before a commit."""

from __future__ import annotations

import datetime as dt
from html.parser import HTMLParser
from pathlib import Path

from hoofcohort.inbox.letters import csv_letter, html_letter
from hoofcohort.inbox.run import take_inbox

CORPUS = Path(__file__).parent / "corpus"
AS_OF = dt.date(2026, 11, 25)


class _Text(HTMLParser):
    """A page as lines of text; cells are parted by bars."""

    def __init__(self) -> None:
        super().__init__()
        self.text, self._skipped = "", False

    def handle_starttag(self, tag, attrs):
        self._skipped = tag in ("style", "title")
        ends = {"td": " | ", "th": " | ", "li": "\n- "}
        self.text += ends.get(tag, "\n" if tag in ("h1", "h2", "p", "tr", "summary") else "")

    def handle_data(self, data):
        self.text += "" if self._skipped else data.replace("\n", " ")


def page_text(page: str) -> str:
    """Return a letter's page as text, one line a paragraph, list entry or row of a table."""
    parser = _Text()
    parser.feed(page)
    lines = [line.strip() for line in parser.text.splitlines()]
    return "\n".join(line.removeprefix("| ") for line in lines if line) + "\n"


def letters_of(case: Path) -> dict[str, bytes]:
    """Return the letters of one case: file name to content, the page as text."""
    inbox = take_inbox(case / "inbox", AS_OF)
    letters: dict[str, bytes] = {}
    for member in inbox.ledger["members"]:
        letters[f"{member}.csv"] = csv_letter(inbox.pool, member)
        letters[f"{member}.txt"] = page_text(html_letter(inbox.pool, inbox.ledger, member)).encode()
    return letters


def cases() -> list[Path]:
    """Return the folders of the corpus, one a case."""
    return sorted(path for path in CORPUS.iterdir() if path.is_dir())


if __name__ == "__main__":
    for folder in cases():
        for name, content in letters_of(folder).items():
            (folder / name).write_bytes(content)
