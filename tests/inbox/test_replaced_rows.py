"""A later file of the same name replaces the rows that it holds, in the order in which people number rounds."""

from __future__ import annotations

import json

import pytest
from inbox_sheets import FEET, HORSES, part

from hoofcohort.cli import main
from hoofcohort.inbox.coordinator_items import items
from hoofcohort.inbox.ledger import FATES
from hoofcohort.inbox.letters import csv_letter, html_letter
from hoofcohort.inbox.listing import list_inbox
from hoofcohort.inbox.names import round_order
from hoofcohort.inbox.part import Part
from hoofcohort.inbox.run import settle
from hoofcohort.mapping.mapping import Mapping, To

MARE = "H1 Y1 W1 2010 mare _ _"
TOES = {"LF": "50", "RF": "51", "LH": "52", "RH": "fifty"}
SPRING = [f"H1 {foot} 2026-03-01 A gauge {toe} 45" for foot, toe in TOES.items()]
AUTUMN = [f"H1 {foot} 2026-09-01 A gauge 53 45" for foot in ("LF", "RF", "LH", "RH")]
WHOLE = Mapping(table="feet", columns={name: To(to=name) for name in FEET.split()}, replaces="whole")


def two_rounds(*later, **other):
    return settle(
        [
            part("r1", "ash", HORSES, MARE, file="h.csv"),
            part("r1", "ash", FEET, *SPRING, ragged=("H1 LF",)),
            part("r2", "ash", FEET, *later, **other),
        ]
    )


def counted(inbox):
    return {fate: inbox.ledger["total"][fate] for fate in FATES if inbox.ledger["total"][fate]}


def readings(inbox):
    return inbox.accepted("feet")[["foot", "visit_date", "toe_angle_deg"]].to_numpy().tolist()


def test_the_corrected_row_alone_keeps_the_good_ones():
    inbox = two_rounds("H1 RH 2026-03-01 A gauge 55 45")
    assert counted(inbox) == {"accepted": 5, "rejected": 1, "superseded": 1}
    assert [toe for *_, toe in readings(inbox)] == ["50", "51", "52", "55"]
    assert [(one.line, one.reason) for one in inbox.pool.parts[1].findings] == [(6, "ragged_row")]
    page = html_letter(inbox.pool, inbox.ledger, "ash")
    assert "a.csv (r1): lines 2-4, not found in the file of r2<" in page and "replaces: whole" in page
    assert "a.csv (r1): line 6, not found in the file of r2, still to be put right" in page
    assert "rows are kept" in csv_letter(inbox.pool, "ash").decode()
    (told,) = [one[1:6] for one in items(inbox.pool, inbox.ledger) if one[0] == "kept"]
    assert told == ("3 rows, not in the file of r2", "r1", "ash", "a.csv", "2-4")


def test_another_seasons_visits_under_the_same_name_keep_the_first_seasons():
    inbox = two_rounds(*AUTUMN)
    assert counted(inbox) == {"accepted": 8, "rejected": 2}
    assert [one.line for one in inbox.pool.parts[1].findings if one.severity == "error"] == [5, 6]


def test_a_file_without_rows_replaces_nothing():
    assert counted(two_rounds()) == {"accepted": 4, "rejected": 2}


def test_a_file_that_holds_every_row_leaves_nothing_to_tell():
    lame = "H1 LF 2026-02-01 A gauge 50"
    parts = [part("r1", "ash", FEET, *SPRING, ragged=(lame,)), part("r2", "ash", FEET, *SPRING[:3], f"{lame} 45")]
    inbox = settle([part("r1", "ash", HORSES, MARE, file="h.csv"), *parts])
    assert counted(inbox) == {"accepted": 5, "rejected": 1, "superseded": 4}
    assert [one.line for one in inbox.pool.parts[1].findings] == [5]


def test_a_row_at_fault_in_its_key_goes_with_the_file_that_follows():
    inbox = settle(
        [
            part("r1", "ash", HORSES, MARE, file="h.csv"),
            part("r1", "ash", FEET, "H1 LF 2026-17-01 A gauge 50 45", "H1 RF 2026-03-01 A gauge 51 45"),
            part("r2", "ash", FEET, "H1 LF 2026-03-01 A gauge 50 45"),
        ]
    )
    assert counted(inbox) == {"accepted": 3, "superseded": 1}


def test_a_file_declared_to_replace_as_a_whole_does():
    inbox = two_rounds("H1 RH 2026-03-01 A gauge 55 45", mapping=WHOLE)
    assert counted(inbox) == {"accepted": 2, "superseded": 5}
    assert "later file" not in html_letter(inbox.pool, inbox.ledger, "ash")


def test_a_corrected_row_that_comes_back_takes_the_disowned_one_with_it():
    inbox = two_rounds("H1 LF 2026-03-01 A gauge fifty 45")
    assert counted(inbox) == {"accepted": 3, "rejected": 3, "superseded": 1}
    (fault,) = inbox.pool.parts[2].findings
    assert fault.remedy.endswith("; until then the row of r1 is not used either")
    assert not any("not used either" in one.remedy for one in inbox.pool.parts[1].findings)


FAULTY = ["H1 left_front 2026-03-01 A gauge 50 45", "H1 RF 2026-03-01 A gauge 51 46", "H1 LH _ A gauge 52 47"]


@pytest.mark.parametrize(
    ("later", "asked"),
    [
        ([FAULTY[1]], [2, 4]),
        ([FAULTY[1], "H1 LF 2026-03-01 A gauge 50 45"], [4]),
        (["H1 LF 2026-09-01 A gauge 53 44", "H1 LH 2026-09-01 A gauge 54 44"], [2, 4]),
        (["H1 LH 2026-03-01 A gauge 52 47"], [2]),
        (FAULTY, []),
        ([*FAULTY, "H1 LF 2026-03-01 A gauge 50 45", "H1 LH 2026-03-01 A gauge 52 47"], []),
    ],
)
def test_a_row_of_which_it_is_not_known_what_it_is_about_is_asked_for_until_a_row_corrects_it(later, asked):
    parts = [part("r1", "ash", FEET, *FAULTY), part("r2", "ash", FEET, *later)]
    inbox = settle([part("r1", "ash", HORSES, MARE, file="h.csv"), *parts])
    assert sorted({one.line for one in inbox.pool.parts[1].findings}) == asked
    page = html_letter(inbox.pool, inbox.ledger, "ash")
    assert ("Nothing has to be put right" in page) is (not asked and later is not FAULTY and len(later) < 5)


@pytest.mark.parametrize(
    ("first", "second", "over"),
    [
        (("feet.txt", "", "unreadable", 0), ("feet.txt", "", "", 2), "r2"),
        (("feet.txt", "", "unreadable", 0), ("feet.txt", "", "", 0), ""),
        (("feet.ods", "", "no workbook", 0), ("feet.xlsx", "feet", "", 2), "r2"),
        (("feet.xlsx", "b", "no mapping", 3), ("feet.xlsx", "b", "no mapping", 3), "r2"),
        (("feet.xlsx", "b", "no mapping", 3), ("feet.xlsx", "a", "", 5), ""),
        (("feet.csv", "", "words not known", 4), ("feet.csv", "", "", 3), ""),
        (("feet.csv", "", "words not known", 4), ("feet.csv", "", "", 4), "r2"),
        (("feet.csv", "", "no mapping", 3), ("other.csv", "", "", 3), ""),
    ],
)
def test_a_file_that_could_not_be_used_is_asked_for_until_another_with_as_many_rows_takes_its_place(
    first, second, over
):
    parts = [
        Part(name, "ash", file, sheet, refused=why, unused=rows)
        for name, (file, sheet, why, rows) in zip(("r1", "r2"), (first, second), strict=True)
    ]
    inbox = settle([part("r1", "ash", HORSES, MARE, file="h.csv"), *parts])
    (taken,) = [one for one in inbox.pool.parts if (one.round, one.file) == ("r1", first[0])]
    assert taken.taken_over == over
    page = html_letter(inbox.pool, inbox.ledger, "ash")
    assert (f"{first[0]}{', sheet b' if first[1] else ''} (r1): {first[2]}" in page) is not over
    assert inbox.ledger["total"]["superseded"] == (first[3] if over else 0)
    told = [one[1:5] for one in items(inbox.pool, inbox.ledger) if one[0] == "answered"]
    place = ("r1", "ash", taken.name)
    assert told == ([(f"{first[2]}; the file of r2 takes its place", *place)] if over else [])


STRETCH = "horse_id from_date to_date diet terrain trim_interval_days turnout_hours"
NAG = "horse_id yard_id owner_id birth_year sex breed_group body_mass_kg height_cm"


@pytest.mark.parametrize(
    ("header", "earlier", "later"),
    [
        (STRETCH, "H1 _ 2026-05-31 hay soft 42 12", "H1 2026-06-01 _ pasture mixed 42 12"),
        (NAG, "_ YC OC 2010 mare cob 450 150", "C9 YD OD 2018 gelding pony 450 150"),
        (FEET.removesuffix(" heel_angle_deg"), "H1 front_right 2026-03-01 A gauge 50", "H1 LH 2026-03-01 A gauge 50"),
    ],
)
def test_another_things_row_is_not_taken_for_a_correction(header, earlier, later):
    inbox = settle(
        [
            part("r1", "ash", HORSES, MARE, file="h.csv"),
            part("r1", "ash", header, earlier),
            part("r2", "ash", header, later),
        ]
    )
    assert [one.line for one in inbox.pool.parts[1].findings if one.severity == "error"] == [2]
    assert not inbox.pool.answered


def test_a_ragged_row_is_not_corrected_by_the_next_visits():
    rows = ["H1 LF 14.03.2026 A gauge 50", "H1 LF 2026-04-14 A gauge 50 45"]
    parts = [part("r1", "ash", FEET, ragged=(rows[0],)), part("r2", "ash", FEET, rows[1])]
    inbox = settle([part("r1", "ash", HORSES, MARE, file="h.csv"), *parts])
    assert counted(inbox) == {"accepted": 2, "rejected": 1}
    parts[1] = part("r2", "ash", FEET, rows[1].replace("04-14", "03-14"))
    inbox = settle([part("r1", "ash", HORSES, MARE, file="h.csv"), *parts])
    assert counted(inbox) == {"accepted": 2, "superseded": 1}
    (told,) = inbox.pool.parts[2].findings
    assert (told.reason, told.remedy.split(",")[0]) == ("replaces_row", "line 2 of a.csv (r1)")


def test_a_corrected_code_or_date_is_taken_although_its_row_came_back_for_what_others_say():
    wrong = ["7 LF 2026-03-01 A gauge 50 45", "H1 RF 2006-03-01 A gauge 51 46"]
    right = ["H1 LF 2026-03-01 A gauge 50 45", "H1 RF 2026-03-01 A gauge 51 46"]
    parts = [part("r1", "ash", HORSES, MARE, file="h.csv"), part("r1", "ash", FEET, *wrong)]
    assert counted(settle(parts)) == {"accepted": 1, "rejected": 2}
    for later, asked in ((right, []), (right[:1], [3]), (right[1:], [2])):
        inbox = settle([*parts, part("r2", "ash", FEET, *later)])
        assert [one.line for one in inbox.pool.parts[1].findings] == asked
        assert [one.split()[1] for one in later] == [foot for foot, *_ in readings(inbox)]


def test_another_code_for_a_horse_frees_the_other_members_rows():
    ash = [part("r1", "ash", HORSES, "Bella Y1 W1 2010 mare _ _", file="h.csv"),
           part("r1", "ash", FEET, "Bella LF 2026-03-01 A gauge 50 45")]  # fmt: skip
    foot = "Bella LF 2026-04-01 B gauge 52 47"
    elm = [part("r1", "elm", HORSES, "Bella Y2 W2 2015 gelding _ _", file="h.csv"), part("r1", "elm", FEET, foot)]
    assert counted(settle([*ash, *elm])) == {"rejected": 4}
    again = [part("r2", "elm", HORSES, "Bella2 Y2 W2 2015 gelding _ _", file="h.csv"),
             part("r2", "elm", FEET, foot.replace("Bella", "Bella2"))]  # fmt: skip
    inbox = settle([*ash, *elm, *again])
    assert counted(inbox) == {"accepted": 4, "superseded": 2}
    assert sorted(inbox.accepted("feet")["horse_id"]) == ["Bella", "Bella2"]


@pytest.mark.parametrize("whole", [True, False])
def test_a_corrected_overlap_is_taken_and_the_faulty_stretch_is_not(whole):
    first, faulty = "H1 2026-01-01 2026-06-30 hay soft 42 12", "H1 2026-06-01 2026-12-31 pasture mixed 35 20"
    right = faulty.replace("06-01", "07-01")
    parts = [part("r1", "ash", HORSES, MARE, file="h.csv"), part("r1", "ash", STRETCH, first, faulty)]
    later = part("r2", "ash", STRETCH, *([first, right] if whole else [right]))
    inbox = settle([*parts, later])
    assert sorted(inbox.accepted("management")["from_date"]) == ["2026-01-01", "2026-07-01"]
    assert counted(inbox) == {"accepted": 3, "superseded": 2 if whole else 1}


def test_every_one_of_many_rows_finds_its_own_correction():
    horses = [f"H{number} Y1 W1 2010 mare _ _" for number in range(200)]
    cells = [(f"H{number} {foot}", f"A gauge {45 + number % 11} 45 {70 + number % 23}")
             for number in range(200) for foot in ("LF", "RF", "LH", "RH")]  # fmt: skip
    header = FEET + " toe_length_mm"
    parts = [
        part("r1", "ash", HORSES, *horses, file="h.csv"),
        part("r1", "ash", header, *(f"{who} 03/04/2026 {what}" for who, what in cells)),
        part("r2", "ash", header, *(f"{who} 2026-04-03 {what}" for who, what in cells)),
    ]
    assert counted(settle(parts[:2])) == {"accepted": 200, "rejected": 800}
    inbox = settle(parts)
    assert counted(inbox) == {"accepted": 1000, "superseded": 800}
    assert all(line == at for (_, line), (_, at) in inbox.pool.answered.items())


def test_a_flat_sheet_of_later_visits_keeps_the_earlier_ones():
    header = f"{FEET} yard_id owner_id diet terrain"
    mapping = Mapping(table="flat", columns={name: To(to=name) for name in header.split()})
    rows = [f"{row} Y1 W1 hay soft" for row in (SPRING[0], AUTUMN[0])]
    inbox = settle([part(f"r{number}", "ash", header, row, mapping=mapping) for number, row in enumerate(rows)])
    assert [len(inbox.accepted(table)) for table in ("horses", "management", "feet")] == [1, 2, 2]
    corrected = rows[0].replace("gauge 50", "gauge 54").replace("H1", "H2")
    inbox = settle([part(f"r{number}", "ash", header, row, mapping=mapping) for number, row in
                    enumerate((rows[0], corrected))])  # fmt: skip
    assert sorted(inbox.accepted("horses")["horse_id"]) == ["H1", "H2"]


@pytest.mark.parametrize(
    "names",
    [
        ["Runde 9", "Runde 10"],
        ["2026-9-spring", "2026-10-autumn", "2027-1-spring"],
        ["r1", "R2", "r10"],
        ["1", "2", "11"],
    ],
)
def test_rounds_are_ordered_as_people_number_them(names):
    assert sorted(reversed(names), key=round_order) == names


def test_the_tenth_round_corrects_the_ninth(tmp_path):
    header, row = ",".join(FEET.split()), ",".join(SPRING[0].split())
    horses = ",".join(HORSES.split()) + "\n" + ",".join(MARE.split()).replace("_", "")
    for round_name, files in {
        "Runde 9": {"feet.csv": f"{header}\n{row.replace('50', '55')}\n", "horses.csv": horses + "\n"},
        "Runde 10": {"feet.csv": f"{header}\n{row}\n", "moved.csv": horses.replace("Y1", "Y2") + "\n"},
    }.items():
        for name, text in files.items():
            path = tmp_path / "in" / round_name / "ash" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text)
    assert [source.round for source in list_inbox(tmp_path / "in")] == ["Runde 9"] * 2 + ["Runde 10"] * 2
    assert main(["inbox", str(tmp_path / "in"), "--out", str(tmp_path / "out")]) == 0
    assert ",50,45" in (tmp_path / "out/feet.csv").read_text() and ",55," not in (tmp_path / "out/feet.csv").read_text()
    assert "H1,Y2" in (tmp_path / "out/horses.csv").read_text()
    fates = {(one["round"], one["file"]): one["superseded"] for one in
             json.loads((tmp_path / "out/ledger.json").read_text())["files"]}  # fmt: skip
    assert fates == {
        ("Runde 9", "feet.csv"): 1,
        ("Runde 9", "horses.csv"): 1,
        ("Runde 10", "feet.csv"): 0,
        ("Runde 10", "moved.csv"): 0,
    }
    page = (tmp_path / "out/coordinator.html").read_text()
    assert "yard_id Y1, now Y2" in page and "sent nothing" not in page


def test_very_many_contradictions_name_a_dozen_places():
    rows = [f"H1 LF 2026-03-01 A gauge {40 + number / 10} 45" for number in range(100)]
    inbox = settle([part("r1", "ash", HORSES, MARE, file="h.csv"), part("r1", "ash", FEET, *rows)])
    assert counted(inbox) == {"accepted": 1, "rejected": 100}
    told = {one.remedy for one in inbox.pool.parts[1].findings}
    assert all("and 87 more is about the same thing but differs in toe_angle_deg" in remedy for remedy in told)
    assert max(map(len, told)) < 400
