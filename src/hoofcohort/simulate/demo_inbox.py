"""Write an invented inbox: fifteen members who do not exist, each with a habit of their own.

``python -m hoofcohort.simulate.demo_inbox FOLDER``
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import random
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

Row = dict[str, str]
Tables = dict[str, list[Row]]
FIRST, SECOND = "2026-1-spring", "2026-2-summer"
_FEET = ("LF", "RF", "LH", "RH")
_LENGTHS = ("toe_length_mm", "medial_heel_length_mm", "lateral_heel_length_mm")
NOTICE = """# A demo inbox

Invented: no member, horse or reading in it exists. `python -m hoofcohort.simulate.demo_inbox FOLDER` writes it again,
and `hoofcohort inbox synthetic_data/inbox --out OUT` takes it in.
"""


@dataclass(frozen=True)
class Habit:
    """How a member writes text files."""

    separator: str = ","
    comma: bool = False
    encoding: str = "utf-8"
    date: str = "%Y-%m-%d"
    line_end: str = "\n"
    titles: tuple[str, ...] = ()
    total: bool = False
    headers: dict[str, str] = field(default_factory=dict)


def tables_of(member: str) -> Tables:
    """Return a member's three tables, drawn from the member's name alone; two horses, two visits."""
    draw = random.Random(member)
    made: Tables = {"horses": [], "management": [], "feet": []}
    for number in (1, 2):
        code = f"{member[:3].upper()}-{number}"
        made["horses"].append(
            {
                "horse_id": code,
                "yard_id": f"Y-{member[:3].upper()}",
                "owner_id": f"W-{member[:3].upper()}{number}",
                "birth_year": str(draw.randint(2004, 2019)),
                "sex": draw.choice(("mare", "gelding")),
                "breed_group": draw.choice(("cob", "warmblood", "thoroughbred")),
                "body_mass_kg": str(draw.randint(460, 600)),
                "height_cm": str(draw.randint(150, 168)),
            }
        )
        made["management"].append(
            {
                "horse_id": code,
                "from_date": "2025-03-20",
                "to_date": "",
                "diet": draw.choice(("hay", "pasture")),
                "terrain": draw.choice(("soft", "mixed", "hard")),
                "trim_interval_days": str(draw.choice((42, 49, 56))),
            }
        )
        made["feet"] += _readings(code, member, draw)
    return made


def _readings(code: str, member: str, draw: random.Random) -> Iterator[Row]:
    toe = draw.uniform(49, 55)
    for day in ("2026-03-17", "2026-05-21"):
        for foot in _FEET:
            angle = toe + (2 if foot[1] == "H" else 0) + draw.gauss(0, 0.8)
            heels = draw.uniform(34, 42)
            yield {
                "horse_id": code,
                "foot": foot,
                "visit_date": day,
                "observer_id": f"OBS-{member[:3].upper()}",
                "method": "gauge",
                "toe_angle_deg": f"{angle:.1f}",
                "heel_angle_deg": f"{angle - draw.uniform(3, 8):.1f}",
                "toe_length_mm": f"{draw.uniform(76, 92):.1f}",
                "medial_heel_length_mm": f"{heels:.1f}",
                "lateral_heel_length_mm": f"{heels + draw.gauss(0, 1):.1f}",
            }


def text_file(rows: list[Row], habit: Habit) -> bytes:
    """Return rows as a member with a habit writes them."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=habit.separator, lineterminator=habit.line_end)
    for title in habit.titles:
        writer.writerow([title])
    names = list(rows[0])
    writer.writerow([habit.headers.get(name, name) for name in names])
    for row in rows:
        writer.writerow([_cell(name, row[name], habit) for name in names])
    if habit.total:
        writer.writerow(["Total", str(len(rows)), *[""] * (len(names) - 2)])
    return text.getvalue().encode(habit.encoding)


def _cell(name: str, text: str, habit: Habit) -> str:
    if name.endswith("_date") and text and habit.date != Habit.date:
        return dt.date.fromisoformat(text).strftime(habit.date)
    return text.replace(".", ",") if habit.comma and name.endswith(("_deg", "_mm", "_cm", "_kg")) else text


HABITS: dict[str, Habit] = {
    "ash": Habit(),
    "beech": Habit(separator=";", comma=True, line_end="\r\n"),
    "cedar": Habit(separator=";", comma=True, encoding="cp1252", line_end="\r\n"),
    "dogwood": Habit(separator="\t", encoding="utf-16"),
    "fir": Habit(titles=("Yard book of the member fir", "all feet measured on level ground"), total=True),
    "gorse": Habit(headers={name: name.replace("_mm", "") + " (cm)" for name in _LENGTHS}),
    "hazel": Habit(headers={"height_cm": "height (hands)"}),
    "juniper": Habit(separator=";", date="%d.%m.%Y", line_end="\r"),
    "larch": Habit(separator="|"),
    "maple": Habit(encoding="utf-8-sig"),
    "oak": Habit(),
    "pine": Habit(),
    "rowan": Habit(),
}
"""The members who send three text files; elm sends a workbook and ivy one flat sheet."""


def _one_to_one(table: str, rows: list[Row], changed: dict[str, str]) -> str:
    lines = [f"table: {table}", "columns:"]
    for name in rows[0]:
        lines.append(changed.get(name, f"  {name}: {{to: {name}}}"))
    return "\n".join(lines) + "\n"


def _cedar(tables: Tables) -> dict[str, bytes]:
    """German headers and words; the mapping of the horses' file says what they mean."""
    theirs = {"mare": "Stute", "gelding": "Wallach"}
    rows = [row | {"sex": theirs[row["sex"]]} for row in tables["horses"]]
    headers = {"height_cm": "Widerristhöhe", "sex": "Geschlecht"}
    habit = Habit(";", True, "cp1252", line_end="\r\n", headers=headers)
    changed = {
        "sex": "  Geschlecht: {to: sex, words: {Stute: mare, Wallach: gelding}}",
        "height_cm": "  Widerristhöhe: {to: height_cm, unit: cm}",
    }
    mapping = _one_to_one("horses", rows, changed)
    return {"horses.csv": text_file(rows, habit), "horses.csv.mapping.yaml": mapping.encode()}


def _gorse(tables: Tables) -> dict[str, bytes]:
    """Lengths in centimetres."""
    rows = [row | {name: f"{float(row[name]) / 10:.2f}" for name in _LENGTHS} for row in tables["feet"]]
    changed = {name: f"  {HABITS['gorse'].headers[name]}: {{to: {name}, unit: cm}}" for name in _LENGTHS}
    mapping = _one_to_one("feet", rows, changed)
    return {"feet.csv": text_file(rows, HABITS["gorse"]), "feet.csv.mapping.yaml": mapping.encode()}


def _hazel(tables: Tables) -> dict[str, bytes]:
    """Heights in hands and inches; one of them as a decimal fraction of a hand."""
    rows = [row | {"height_cm": hands} for row, hands in zip(tables["horses"], ("15.2", "15.75"), strict=True)]
    mapping = _one_to_one("horses", rows, {"height_cm": "  height (hands): {to: height_cm, unit: hands}"})
    return {"horses.csv": text_file(rows, HABITS["hazel"]), "horses.csv.mapping.yaml": mapping.encode()}


def _larch(tables: Tables) -> dict[str, bytes]:
    """Notes in cells for numbers."""
    rows = [dict(row) for row in tables["feet"]]
    for row, note in zip(rows, ("52 approx", "~50", "n/a", "-", "?", "50-52"), strict=False):
        row["toe_angle_deg"] = note
    return {"feet.csv": text_file(rows, HABITS["larch"])}


def _maple(tables: Tables) -> dict[str, bytes]:
    """Formulas that were left as text, and markup."""
    rows = [dict(row) for row in tables["feet"]]
    rows[0]["toe_angle_deg"] = "=AVERAGE(H2:H5)"
    rows[1]["observer_id"] = "@SUM(1+1)"
    rows[2]["heel_angle_deg"] = "<b>45</b>"
    rows[3]["visit_date"] = "2026-17-03"
    return {"feet.csv": text_file(rows, HABITS["maple"])}


def _oak(tables: Tables) -> dict[str, bytes]:
    """A first round with slips, which a second round corrects."""
    horses = [dict(row) for row in tables["horses"]]
    horses[0]["birth_year"] = "1066"
    return {"horses.csv": text_file(horses, HABITS["oak"])}


def _ivy(tables: Tables) -> dict[str, bytes]:
    """One flat sheet with the horse's details repeated; one horse has two birth years."""
    horses, stretches = ({row["horse_id"]: row for row in tables[name]} for name in ("horses", "management"))
    rows = []
    for foot in tables["feet"]:
        kept = {name: stretches[foot["horse_id"]][name] for name in ("diet", "terrain")}
        rows.append(foot | horses[foot["horse_id"]] | kept)
    rows[-1]["birth_year"] = str(int(rows[-1]["birth_year"]) - 1)
    mapping = _one_to_one("flat", rows, {}) + "management_days_before: 365\n"
    return {"visits.csv": text_file(rows, Habit()), "mapping.yaml": mapping.encode()}


def _elm(tables: Tables) -> dict[str, bytes]:
    """A workbook of three sheets with numbers as numbers and dates as dates."""
    from openpyxl import Workbook

    from hoofcohort.templates.workbook import without_clock

    book = Workbook()
    for place, (table, rows) in enumerate(tables.items()):
        sheet = book.active if place == 0 else book.create_sheet()
        assert sheet is not None
        sheet.title = table
        sheet.append(list(rows[0]))
        for row in rows:
            sheet.append([_typed(name, text) for name, text in row.items()])
    buffer = io.BytesIO()
    book.save(buffer)
    return {"our horses.xlsx": without_clock(buffer.getvalue())}


def _typed(name: str, text: str) -> object:
    if not text:
        return None
    if name.endswith("_date"):
        return dt.date.fromisoformat(text)
    return float(text) if name.endswith(("_deg", "_mm", "_cm", "_kg", "_days", "_year")) else text


_SPECIAL: dict[str, Callable[[Tables], dict[str, bytes]]] = {
    "cedar": _cedar,
    "elm": _elm,
    "gorse": _gorse,
    "hazel": _hazel,
    "ivy": _ivy,
    "larch": _larch,
    "maple": _maple,
    "oak": _oak,
}


def inbox_files() -> dict[str, bytes]:
    """Return every file of the inbox: path in it to content."""
    made: dict[str, bytes] = {}
    for member in sorted({*HABITS, *_SPECIAL}):
        tables = tables_of(member)
        if member in HABITS:
            for table, rows in tables.items():
                made[f"{FIRST}/{member}/{table}.csv"] = text_file(rows, HABITS[member])
        if member in _SPECIAL:
            made |= {f"{FIRST}/{member}/{name}": content for name, content in _SPECIAL[member](tables).items()}
    made[f"{FIRST}/rowan/photo of the yard.csv"] = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"
    made[f"{SECOND}/oak/horses.csv"] = text_file(tables_of("oak")["horses"], HABITS["oak"])
    made["consent.csv"] = b"owner_id,withdrawn\nW-PIN2,2026-06-30\n"
    made["README.md"] = NOTICE.encode()
    return made


def write_inbox(folder: Path) -> None:
    """Write the inbox into a folder."""
    for name, content in inbox_files().items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


if __name__ == "__main__":
    write_inbox(Path(sys.argv[1]))
