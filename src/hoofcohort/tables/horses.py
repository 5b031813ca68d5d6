"""The table of horses: one row a horse."""

from __future__ import annotations

from hoofcohort.tables.declare import BROAD, COMMON, Column, Table

HORSES = Table(
    name="horses",
    meaning="One row a horse.",
    key=("horse_id",),
    columns=(
        Column(
            "horse_id",
            "id",
            "The study's own code for the horse; not a name.",
            role="key",
            required=True,
            nullable=False,
            how="Give every horse one code and use it, letter for letter, in all three tables.",
        ),
        Column(
            "yard_id",
            "id",
            "Code of the premises where the horse is kept.",
            required=True,
            nullable=False,
            how="One code for each set of premises, whoever owns the horses there.",
        ),
        Column(
            "owner_id",
            "id",
            "Code of the owner.",
            required=True,
            nullable=False,
            how="A code, not a name; the list that links the two stays with the study.",
        ),
        Column(
            "birth_year",
            "integer",
            "Year of birth.",
            possible=(1980, 2100),
            how="From the passport; leave empty when it is only guessed.",
            source=BROAD,
        ),
        Column(
            "sex", "word", "Sex.", words=("mare", "gelding", "stallion"), how="As on the day of entry to the study."
        ),
        Column(
            "breed_group",
            "word",
            "Broad group of breeds.",
            words=("pony", "cob", "warmblood", "thoroughbred", "draught", "other"),
            how="The group that comes nearest; crosses that fit none are other.",
        ),
        Column(
            "body_mass_kg",
            "number",
            "Body mass.",
            unit="kg",
            possible=(30, 1500),
            plausible=(60, 1200),
            how="Weighed where there is a scale; otherwise by tape or estimated. Say which in body_mass_method.",
            source=f"plausible limits: {COMMON}; possible limits: {BROAD}",
        ),
        Column("body_mass_method", "word", "How body mass was found.", words=("weighed", "tape", "estimated")),
        Column(
            "height_cm",
            "number",
            "Height at the withers.",
            unit="cm",
            possible=(40, 230),
            plausible=(60, 200),
            how="At the highest point of the withers, on level ground, without shoes; in centimetres, not in hands.",
            source=BROAD,
        ),
        Column(
            "ueln",
            "text",
            "Universal Equine Life Number.",
            pattern="[0-9]{6}[0-9A-Z]{9}",
            pattern_text="15 characters: 6 digits for country and database, then 9 digits or capital letters",
            how="Copy it from the passport, leading zeros included; keep it as text.",
            source="UELN: 3-digit country code of ISO 3166-1, 3-digit database, 9 characters",
        ),
        Column(
            "microchip",
            "text",
            "Number of the microchip.",
            pattern="[0-9]{15}",
            pattern_text="15 digits",
            how="As the reader shows it; keep it as text, so that no digit is lost.",
            source="ISO 11784 and ISO 11785: 15 digits",
        ),
    ),
)
