"""Write a drafted mapping as YAML, with comments for the person who checks it."""

from __future__ import annotations

from hoofcohort.mapping.draft import Draft
from hoofcohort.mapping.guess import Guess
from hoofcohort.mapping.mapping import To


def draft_yaml(drafted: Draft, source: str, sheet: str = "") -> str:
    """Return a draft as YAML with comments for the person who checks it.

    Parameters
    ----------
    drafted : Draft
    source : str
        The file that it was made from.
    sheet : str
        The sheet of it that the mapping is for alone; empty for all.
    """
    lines = [
        f"# Drafted from {_comment(source)}. Every line is a guess: check it, then delete the comments if you like.",
        "# high: the header is known; medium: likely; low: hardly more than a suggestion.",
        *(f"# {_comment(hint, 400)}." for hint in drafted.hints),
        f"table: {drafted.mapping.table}",
        *([f"sheet: {_quoted(sheet)}"] if sheet else []),
        "columns:" if drafted.mapping.columns else "columns: {}",
    ]
    for guess in drafted.guesses:
        if guess.to is not None:
            lines += [*_comments(guess, "  "), f"  {_quoted(guess.header)}:", *_settings_lines(guess.to)]
    lines += ["# Columns of ours that hold the same in every row:", "constants: {}"]
    if drafted.missing:
        lines.append(f"# still needed, from a column or as a constant: {', '.join(drafted.missing)}")
    lines.append("ignore:" if drafted.mapping.ignore else "ignore: []")
    for guess in drafted.guesses:
        if guess.to is None:
            lines += [*_comments(guess, "  "), f"  - {_quoted(guess.header)}"]
    return "\n".join(lines) + "\n"


def _settings_lines(to: To) -> list[str]:
    lines = [f"    to: {to.to}"]
    for key in ("unit", "decimal", "thousands", "date_order"):
        if value := getattr(to, key):
            lines.append(f"    {key}: {_quoted(value)}")
    if to.words:
        lines += ["    words:", *(f"      {_quoted(theirs)}: {ours}" for theirs, ours in to.words.items())]
    return lines


def _comments(guess: Guess, indent: str) -> list[str]:
    cells = ", ".join(f"'{_comment(cell)}'" for cell in guess.sample) or "none filled"
    return [f"{indent}# {guess.confidence}: {_comment('; '.join(guess.why), 300)}. Cells: {cells}"]


def _comment(text: str, width: int = 40) -> str:
    text = "".join(sign if sign.isprintable() else " " for sign in text)
    return text if len(text) <= width else text[: width - 3] + "..."


def _quoted(text: str) -> str:
    """Return text as a YAML double-quoted scalar: what cannot be printed is written as its number."""
    signs = (sign if sign.isprintable() and sign not in '"\\' else f"\\U{ord(sign):08x}" for sign in text)
    return f'"{"".join(signs)}"'
