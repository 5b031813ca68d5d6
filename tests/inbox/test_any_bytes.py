"""Whatever bytes a file holds, it is accounted for row by row or refused: never lost, never a traceback."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st
from inbox_sheets import FEET, HORSES, part

from examples import examples
from hoofcohort.inbox.ledger import FATES
from hoofcohort.inbox.member import read_parts
from hoofcohort.inbox.run import settle, write_inbox

HEADER = FEET.replace(" ", ",").encode()
PIECES = st.sampled_from(
    [
        *(b"H1", b"LF", b"2026-01-01", b"03/04/2026", b"A", b"gauge", b"50", b"52,5", b"1.234", b"=1+1"),
        *(b",", b";", b"\t", b"\n", b"\r\n", b"\r", b'"', b"\xe9", b"\xff\xfe", b"\0", b"Total", b" ", HEADER),
    ]
)
FILES = st.one_of(
    st.binary(max_size=60),
    st.lists(PIECES, max_size=40).map(b"".join),
    st.lists(PIECES, max_size=40).map(lambda pieces: HEADER + b"\n" + b"".join(pieces)),
)


@settings(max_examples=examples(40), deadline=None)
@given(FILES, st.sampled_from(["a.csv", "a.xlsx", "a.txt"]))
def test_bytes_are_accounted_for_or_refused(content, name):
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(content)
        parts = read_parts(path, round_name="r1", member="ash")
        assert parts
        inbox = settle(parts, {})
        write_inbox(inbox, Path(folder) / "out")
    total = inbox.ledger["total"]
    assert total["rows_read"] == sum(total[fate] for fate in FATES)
    for one in parts:
        lines = {finding.line for finding in one.findings if finding.severity == "error"}
        back = {row.line for row in one.ragged}
        assert back <= lines


CELLS = {
    "horse": st.sampled_from(["H1", "H2", "", "Total", "Max", "-", "=H1"]),
    "foot": st.sampled_from(["LF", "RF", "LH", "RH", "left", ""]),
    "day": st.sampled_from(["2026-03-14", "14.03.2026", "03/04/2026", "46095", "soon", ""]),
    "toe": st.sampled_from(["50", "52.5", "~50", "n/a", "fifty", "1.234", "505", ""]),
}


@settings(max_examples=examples(40), deadline=None)
@given(
    st.lists(st.tuples(*CELLS.values()), min_size=1, max_size=8),
    st.sampled_from([",", ";", "\t", "|"]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.booleans(),
)
def test_each_line_of_a_table_is_used_or_told_of(rows, separator, end, last):
    """Counted by the lines that were written, not by what the reader says that it read."""
    text = end.join(
        [HEADER.decode().replace(",", separator)]
        + [separator.join((horse, foot, day, "A", "gauge", toe, "45")) for horse, foot, day, toe in rows]
    )
    with TemporaryDirectory() as folder:
        path = Path(folder) / "a.csv"
        path.write_bytes((text + (end if last else "")).encode())
        parts = read_parts(path, round_name="r1", member="ash")
    inbox = settle([*parts, part("r1", "ash", HORSES, "H1 Y W 2010 mare _ _", "H2 Y W 2010 mare _ _", file="h.csv")])
    (one,) = (own for own in inbox.pool.parts if own.file == "a.csv")
    if one.refused:
        assert one.rows_read == len(rows)
        return
    used = inbox.pool.live("feet")["line"].tolist()
    told = {finding.line for finding in one.findings if finding.severity == "error" or finding.reason == "said_twice"}
    aside = {row.line for row in one.aside}
    for line in range(2, len(rows) + 2):
        assert [line in used, line in told, line in aside].count(True) == 1, line
    assert one.rows_read == len(rows)
