"""Whatever bytes a file holds, it is accounted for row by row or refused: never lost, never a traceback."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st
from inbox_sheets import FEET

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
    for part in parts:
        lines = {finding.line for finding in part.findings if finding.severity == "error"}
        back = {row.line for row in part.ragged}
        assert back <= lines
