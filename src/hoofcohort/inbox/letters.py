"""A letter to a member: thanks, what comes back and what to do, what to look at again; a page and a CSV file."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from html import escape
from typing import Any

from hoofcohort.files import guard_formula, without_steering
from hoofcohort.inbox.doubted_headers import COORDINATORS
from hoofcohort.inbox.page import lines_text, page
from hoofcohort.inbox.part import Finding, Part, sheet_name
from hoofcohort.inbox.pool import LIVE, Pool
from hoofcohort.inbox.replaced import alike_files, kept_lines
from hoofcohort.mapping.reasons import SENTENCES

CSV_COLUMNS = ("round", "file", "sheet", "line", "column", "header", "found", "severity", "reason", "remedy")
_HEADS = {
    "error": (
        "Please put right and send again",
        "These rows are not used yet. Correct them in your own file and send it again under the same name, whole or "
        "these rows alone: a row replaces the earlier one about the same thing, all others are kept.",
    ),
    "warning": (
        "Please look again",
        "Rows that are not named above are used as they stand. Leave what is right; correct the rest in your own file "
        "and send it again.",
    ),
    "note": ("For your information", "Nothing to do."),
}
_FATES = {
    "accepted": "accepted",
    "rejected": "to be put right",
    "aside": "no data (titles, blank rows, totals)",
    "superseded": "replaced by later ones, yours or another member's",
    "withdrawn": "taken out, as consent was withdrawn",
    "duplicate": "sent twice",
}
_OUT = (
    "to take rows out, ask the coordinator: with 'replaces: whole' in its mapping (hoofcohort draft-mapping makes "
    "one), a file replaces the earlier one as a whole"
)
_MOST = 500


def findings_of(parts: Sequence[Part], severity: str) -> Iterator[tuple[Part, Finding]]:
    """Yield the findings of one severity by file and line, those last that another row's correction puts right."""
    for follows in (False, True):
        for part in parts:
            for finding in part.findings:
                if finding.severity == severity and (finding.reason == "horse_rejected") is follows:
                    yield part, finding


def html_letter(pool: Pool, ledger: dict[str, Any], member: str) -> str:
    """Return a member's letter as one self-contained page; every text from a file is escaped."""
    parts = [part for part in pool.parts if part.member == member]
    counts = ledger["members"][member]
    body = [f"<h1>To {escape(member)}</h1>", *_thanks(counts, parts)]
    body += _refused(parts)
    for severity, (head, said) in _HEADS.items():
        found = list(findings_of(parts, severity))
        if found:
            rows = len({(id(part), one.line) for part, one in found})
            body += [f"<h2>{head} ({_many(rows, 'row')})</h2>", f"<p>{said}</p>", *_table(found)]
    body += _kept(pool, member)
    body += _files(ledger, member)
    body.append("<p>With kind regards,<br>the coordinator of the study</p>")
    body += _understood(parts, [f"{_name(part)}: {other} is another file; both were read"
                                for part, other in alike_files(pool) if part.member == member])  # fmt: skip
    return page(f"Letter to {member}", body)


def _thanks(counts: dict[str, int], parts: Sequence[Part]) -> list[str]:
    files = len({(part.round, part.file) for part in parts})
    rows = counts["rows_read"] - counts["aside"]
    accepted = counts["accepted"]
    said = f"Thank you for {_many(files, 'file')} with {_many(rows, 'row')} of data. "
    said += f"{accepted or 'None'} {'was' if accepted < 2 else 'were'} accepted."
    for fate in ("superseded", "duplicate", "withdrawn"):
        if counts[fate]:
            said += f" {counts[fate]} {'was' if counts[fate] == 1 else 'were'} {_FATES[fate]}."
    if counts["rejected"]:
        said += f" {_many(counts['rejected'], 'row')} could not be used yet; below you find where, and what to do."
    elif not any(part.asked for part in parts):
        said += " Nothing has to be put right."
    return [f"<p>{said}</p>"]


def _many(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _refused(parts: Sequence[Part]) -> list[str]:
    refused = [part for part in parts if part.asked]
    if not refused:
        return []
    items = "".join(f"<li>{escape(_name(part))}: {escape(part.asked)}</li>" for part in refused)
    said = "If all its rows have come in another file since, there is nothing to do."
    if not all(part.asked.startswith(COORDINATORS) for part in refused):
        said = f"Put it right and send it again under the same name. {said}"
    return ["<h2>Could not be used at all</h2>", f"<p>{said}</p>", f"<ul>{items}</ul>"]


def _kept(pool: Pool, member: str) -> list[str]:
    told = list(_kept_of(pool, member))
    if not told:
        return []
    items = "".join(f"<li>{escape(f'{_name(part)}: {said}')}</li>" for part, said in told)
    said = f"They stand as before. {_OUT[0].upper()}{_OUT[1:]}."
    return [
        "<h2>Kept, though your later file of the same name does not hold them</h2>",
        f"<p>{said}</p><ul>{items}</ul>",
    ]


def _kept_of(pool: Pool, member: str) -> Iterator[tuple[Part, str]]:
    """Yield each part of which rows are kept that a later file of its name does not hold, and which."""
    for number, round_name in sorted(pool.followed.items()):
        part = pool.parts[number]
        if part.member != member:
            continue
        for status, still in (
            (LIVE, ""),
            ("rejected", ", still to be put right; nothing to do if you have sent it since"),
        ):
            lines = kept_lines(pool, number, status)
            if lines:
                yield part, f"{lines_said(lines)}, not found in the file of {round_name}{still}"


def _name(part: Part) -> str:
    return f"{part.name} ({part.round})"


def _table(found: Sequence[tuple[Part, Finding]]) -> list[str]:
    alike: dict[tuple[str, ...], list[int]] = {}
    for part, one in found:
        column = f"{one.position}: {one.header}" if one.position else one.header
        told = (_name(part), column, one.value, SENTENCES[one.reason], one.remedy)
        alike.setdefault(told, []).append(one.line)
    heads = "".join(f"<th>{name}</th>" for name in ("File", "Line", "Column", "Found", "What it is", "What to do"))
    rows = [_row(told, lines) for told, lines in list(alike.items())[:_MOST]]
    more = [f"<p>{len(alike) - _MOST} more stand in the CSV file.</p>"] if len(alike) > _MOST else []
    return [f"<table><thead><tr>{heads}</tr></thead><tbody>", *rows, "</tbody></table>", *more]


def _row(told: tuple[str, ...], lines: Sequence[int]) -> str:
    cells = (told[0], lines_text(lines), *told[1:])
    return "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>"


def lines_said(lines: Sequence[int]) -> str:
    """Return line numbers with their word: ``lines 2, 5-9``."""
    return f"line{'' if len(lines) == 1 else 's'} {lines_text(lines)}"


def _files(ledger: dict[str, Any], member: str) -> list[str]:
    own = [one for one in ledger["files"] if one["member"] == member]
    fates = [fate for fate in _FATES if any(one[fate] for one in own)]
    heads = "".join(f"<th>{escape(name)}</th>" for name in ("File", "Rows", *(_FATES[fate] for fate in fates)))
    lines = []
    for one in own:
        name = f"{sheet_name(one['file'], one['sheet'])} ({one['round']})"
        numbers = "".join(f'<td class="n">{one[key]}</td>' for key in ("rows_read", *fates))
        lines.append(f"<tr><td>{escape(name)}</td>{numbers}</tr>")
    return [
        "<h2>Every row, file by file</h2>",
        f"<table><thead><tr>{heads}</tr></thead><tbody>",
        *lines,
        "</tbody></table>",
    ]


def _understood(parts: Sequence[Part], alike: Sequence[str]) -> list[str]:
    told = [(_name(part), part.understood) for part in parts if part.understood]
    if not told:
        return []
    items = "".join(
        f"<li>{escape(name)}<ul>{''.join(f'<li>{escape(one)}</li>' for one in said)}</ul></li>" for name, said in told
    )
    items += "".join(f"<li>{escape(said)}</li>" for said in alike)
    return [f"<details><summary>How your files were read</summary><ul>{items}</ul></details>"]


def csv_letter(pool: Pool, member: str) -> bytes:
    """Return a member's findings as CSV that spreadsheets open rightly; no cell is a formula."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(CSV_COLUMNS)
    parts = [part for part in pool.parts if part.member == member]
    for part in parts:
        if part.asked:
            cells: tuple[object, ...] = ("", "", "", "", "error", "the file cannot be used", part.asked)
            writer.writerow(_guarded(part.round, part.file, part.sheet, *cells))
    for part, said in _kept_of(pool, member):
        cells = ("", "", "", "", "note", "rows are kept that your later file of the same name does not hold")
        writer.writerow(_guarded(part.round, part.file, part.sheet, *cells, f"{said}; {_OUT}"))
    for severity in _HEADS:
        for part, one in findings_of(parts, severity):
            place = (part.round, part.file, part.sheet, one.line, one.position or "", one.header, one.value)
            writer.writerow(_guarded(*place, one.severity, SENTENCES[one.reason], one.remedy))
    return text.getvalue().encode("utf-8-sig")


def _guarded(*cells: object) -> list[object]:
    return [guard_formula(without_steering(cell)) if isinstance(cell, str) else cell for cell in cells]
