"""An invented inbox of any size: members who do not exist send five files each, in six dialects, with bad rows."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

FILES = 5
"""Files of a member: horses, management and three of feet over three rounds; or five flat ones."""
FEET = ("LF", "RF", "LH", "RH")
MEASURES = {
    "toe_angle_deg": (52.0, 1.0),
    "heel_angle_deg": (46.0, 1.0),
    "toe_length_mm": (84.0, 1.5),
    "medial_heel_length_mm": (38.0, 1.0),
    "lateral_heel_length_mm": (38.0, 1.0),
    "frog_width_mm": (55.0, 1.5),
}
"""Mean, and SD within a foot, of each measurement; between feet it is three times as large."""
FIRST_DAY = dt.date(2023, 1, 10)
DAYS_BETWEEN = 42
VISITS = (0, 8, 16, 25)
"""Which of a horse's visits each of the three files of feet begins and ends with."""
SPOILT = ("word for a number", "impossible angle", "unknown foot", "no such day", "unregistered horse")


@dataclass(frozen=True)
class Dialect:
    """How a member writes: separator, decimal comma, encoding, order of dates, German headers, one flat sheet."""

    separator: str = ","
    comma: bool = False
    encoding: str = "utf-8"
    date: str = "%Y-%m-%d"
    german: bool = False
    flat: bool = False


DIALECTS = (
    Dialect(),
    Dialect(";", True, "cp1252", "%d.%m.%Y", german=True),
    Dialect(flat=True),
    Dialect("\t", encoding="utf-16"),
    Dialect(";", True, "utf-8-sig", "%d.%m.%Y", flat=True, german=True),
    Dialect("|"),
)
GERMAN = {"horse_id": "Pferd", "foot": "Huf", "visit_date": "Tag", "toe_angle_deg": "Zehenwinkel (°)"}


@dataclass
class Made:
    """What was written: file to dialect, rows of data, readings, and how many rows were spoilt in which way."""

    files: dict[Path, Dialect] = field(default_factory=dict)
    rows: int = 0
    readings: int = 0
    spoilt: Counter[str] = field(default_factory=Counter)


def make_inbox(folder: Path, readings: int, files: int, bad: float, seed: int = 20261125) -> Made:
    """Write an inbox of about so many readings in so many files, of which a share is bad."""
    made, members = Made(), max(1, files // FILES)
    horses = max(1, round(readings / members / 100))
    for number in range(members):
        dialect = DIALECTS[number % len(DIALECTS)]
        _member(folder, f"member-{number:04}", horses, dialect, bad, np.random.default_rng([seed, number]), made)
    return made


def _member(
    folder: Path, name: str, horses: int, dialect: Dialect, bad: float, draw: np.random.Generator, made: Made
) -> None:
    code = name.removeprefix("member-")
    registered = [_horse(code, number, draw) for number in range(horses)]
    feet = [_feet(horse["horse_id"], code, draw) for horse in registered]
    if dialect.flat:
        for part, some in enumerate(np.array_split(np.arange(horses), FILES)):
            rows = [row | registered[one] | _keeping(one) for one in some.tolist() for row in feet[one]]
            _write(
                folder / f"{1 + part % 3}-round" / name / f"visits {part + 1}.csv",
                "flat",
                rows,
                dialect,
                bad,
                draw,
                made,
            )
        return
    first = folder / "1-round" / name
    _write(first / "horses.csv", "horses", registered, dialect, 0.0, draw, made)
    kept = [
        {"horse_id": horse["horse_id"], "from_date": "2022-06-01", "to_date": "", **_keeping(place)}
        for place, horse in enumerate(registered)
    ]
    _write(first / "management.csv", "management", kept, dialect, 0.0, draw, made)
    for part in range(3):
        rows = [row for own in feet for row in own[VISITS[part] * 4 : VISITS[part + 1] * 4]]
        _write(folder / f"{1 + part}-round" / name / f"feet {part + 1}.csv", "feet", rows, dialect, bad, draw, made)


def _horse(code: str, number: int, draw: np.random.Generator) -> dict[str, str]:
    return {
        "horse_id": f"{code}-{number:03}",
        "yard_id": f"Y{code}",
        "owner_id": f"W{code}-{number // 3}",
        "birth_year": str(draw.integers(2004, 2019)),
        "sex": str(draw.choice(("mare", "gelding"))),
        "body_mass_kg": str(draw.integers(440, 600)),
    }


def _keeping(number: int) -> dict[str, str]:
    return {"diet": ("hay", "pasture", "concentrate")[number % 3], "terrain": ("soft", "mixed", "hard")[number % 2]}


def _feet(horse: str, code: str, draw: np.random.Generator) -> list[dict[str, str]]:
    """Return a horse's readings: every visit's four feet."""
    days = [(FIRST_DAY + dt.timedelta(days=DAYS_BETWEEN * visit)).isoformat() for visit in range(VISITS[-1])]
    means = {name: mean + 3 * sd * draw.standard_normal(4) * 0.6 for name, (mean, sd) in MEASURES.items()}
    values = {
        name: means[name] + MEASURES[name][1] * draw.standard_normal((VISITS[-1], 4)).clip(-2.5, 2.5)
        for name in MEASURES
    }
    return [
        {"horse_id": horse, "foot": foot, "visit_date": day, "observer_id": f"O{code}", "method": "gauge"}
        | {name: f"{values[name][visit, place]:.1f}" for name in MEASURES}
        for visit, day in enumerate(days)
        for place, foot in enumerate(FEET)
    ]


def _write(
    path: Path,
    table: str,
    rows: list[dict[str, str]],
    dialect: Dialect,
    bad: float,
    draw: np.random.Generator,
    made: Made,
) -> None:
    if not rows:
        return
    path.parent.mkdir(parents=True, exist_ok=True)
    made.files[path] = dialect
    made.rows += len(rows)
    made.readings += len(rows) if table in ("feet", "flat") else 0
    for place in draw.choice(len(rows), round(bad * len(rows)), replace=False).tolist():
        _spoil(rows[place], SPOILT[int(draw.integers(len(SPOILT) - dialect.flat))], dialect, made)
    names = list(rows[0])
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=dialect.separator, lineterminator="\r\n")
    writer.writerow([GERMAN.get(name, name) if dialect.german else name for name in names])
    writer.writerows([_cell(name, row[name], dialect) for name in names] for row in rows)
    path.write_bytes(text.getvalue().encode(dialect.encoding))
    if dialect.german:
        order = {name: ", date_order: DMY" for name in names if name.endswith("_date")}
        lines = [f"  {GERMAN.get(name, name)}: {{to: {name}{order.get(name, '')}}}" for name in names]
        mapping = "\n".join([f"table: {table}", "columns:", *lines, ""])
        path.with_name(f"{path.name}.mapping.yaml").write_text(mapping, encoding="utf-8")


def _spoil(row: dict[str, str], how: str, dialect: Dialect, made: Made) -> None:
    made.spoilt[how] += 1
    column, text = {
        "word for a number": ("toe_angle_deg", "steep"),
        "impossible angle": ("heel_angle_deg", "150.5"),
        "unknown foot": ("foot", "XX"),
        "no such day": ("visit_date", "31.02.2025" if dialect.comma else "2025-02-31"),
        "unregistered horse": ("horse_id", f"GHOST-{made.spoilt[how]:05}"),
    }[how]
    row[column] = text


def _cell(name: str, text: str, dialect: Dialect) -> str:
    if name.endswith("_date") and text[:2] == "20" and dialect.comma:
        return f"{text[8:]}.{text[5:7]}.{text[:4]}"
    return text.replace(".", ",") if dialect.comma and name in MEASURES else text
