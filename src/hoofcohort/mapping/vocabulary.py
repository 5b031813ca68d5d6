"""What members call our columns, in English, German, French and Dutch: from memory of the trade's talk."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

from hoofcohort.mapping.mapping import FLAT_COLUMNS
from hoofcohort.mapping.units import UNIT_OF

ALIASES: Mapping[str, tuple[str, ...]] = {
    "horse_id": (
        "horse",
        "horse id",
        "horse code",
        "horse name",
        "name of horse",
        "pferd",
        "pferdename",
        "cheval",
        "paard",
    ),
    "yard_id": ("yard", "premises", "stable", "barn", "livery", "stall", "hof", "écurie", "stal"),
    "owner_id": ("owner", "client", "customer", "besitzer", "halter", "propriétaire", "eigenaar"),
    "birth_year": (
        *("year of birth", "born", "yob", "foaled", "date of birth", "dob", "birth date", "geburtsjahr", "jahrgang"),
        *("geburtsdatum", "année de naissance", "né en", "date de naissance", "geboortejaar", "geboortedatum"),
    ),
    "sex": ("gender", "geschlecht", "sexe", "geslacht"),
    "breed_group": ("breed", "type", "rasse", "race", "ras"),
    "body_mass_kg": ("weight", "body weight", "bodyweight", "bwt", "mass", "gewicht", "körpergewicht", "poids"),
    "body_mass_method": ("weight method", "weighed how", "how weighed"),
    "height_cm": (
        "height",
        "withers height",
        "stockmaß",
        "stockmass",
        "widerristhöhe",
        "taille",
        "stokmaat",
        "schofthoogte",
    ),
    "ueln": ("life number", "passport number", "lebensnummer", "levensnummer"),
    "microchip": ("chip", "chip number", "chip no", "microchip number", "transponder", "chipnummer", "puce"),
    "from_date": ("from", "start", "since", "start date", "von", "seit", "ab", "du", "depuis", "van", "vanaf"),
    "to_date": ("to", "until", "end", "end date", "bis", "au", "jusqu'au", "tot"),
    "diet": ("feed", "feeding", "food", "forage", "fütterung", "futter", "alimentation", "régime", "voer", "voeding"),
    "terrain": ("ground", "going", "surface", "boden", "untergrund", "sol", "bodem", "ondergrond"),
    "trim_interval_days": (
        *("trim interval", "trim cycle", "cycle", "interval", "intervall", "trimmintervall", "beschlagsintervall"),
        *("intervalle de parage", "bekapinterval"),
    ),
    "shoeing": ("shod", "shoes", "shoe", "beschlag", "ferrure", "ferré", "beslag"),
    "turnout_hours": ("turnout", "turn out", "hours out", "weidegang", "auslauf", "sortie", "weidegang uren"),
    "farrier_id": (
        "farrier",
        "trimmer",
        "hufschmied",
        "schmied",
        "hufpfleger",
        "maréchal",
        "pareur",
        "hoefsmid",
        "bekapper",
    ),
    "foot": ("hoof", "leg", "limb", "which foot", "huf", "bein", "pied", "membre", "sabot", "hoef", "been"),
    "visit_date": (
        "date",
        "visit",
        "date of visit",
        "measured on",
        "day",
        "datum",
        "besuch",
        "visite",
        "date de visite",
    ),
    "observer_id": (
        "observer",
        "measured by",
        "who",
        "by",
        "initials",
        "messer",
        "gemessen von",
        "mesuré par",
        "meter",
    ),
    "method": ("tool", "instrument", "how measured", "methode", "méthode", "gerät"),
    "replicate": ("repeat", "rep", "repetition", "wiederholung", "répétition", "herhaling"),
    "days_since_trim": ("since trim", "time since trim", "last trim", "tage seit bearbeitung", "jours depuis parage"),
    "toe_angle_deg": (
        *("toe angle", "dorsal angle", "dorsal wall angle", "hoof angle", "zehenwinkel", "hufwinkel"),
        *("angle de pince", "teenhoek", "toonhoek"),
    ),
    "heel_angle_deg": ("heel angle", "trachtenwinkel", "angle des talons", "hielhoek", "verzenhoek"),
    "pastern_angle_deg": ("pastern angle", "fesselwinkel", "angle du paturon", "kootas"),
    "toe_length_mm": (
        *("toe", "toe length", "dorsal length", "dorsal wall length", "zehenlänge", "longueur de pince", "toonlengte"),
        *("teenlengte",),
    ),
    "medial_heel_length_mm": (
        "medial heel",
        "inside heel",
        "inner heel length",
        "heel length medial",
        "trachtenlänge medial",
    ),
    "lateral_heel_length_mm": (
        *("lateral heel", "outside heel", "outer heel length", "heel length lateral", "trachtenlänge lateral"),
    ),
    "medial_heel_height_mm": ("inside heel height", "heel height medial", "trachtenhöhe medial"),
    "lateral_heel_height_mm": ("outside heel height", "heel height lateral", "trachtenhöhe lateral"),
    "hoof_length_mm": ("foot length", "sole length", "huflänge", "longueur du pied", "hoeflengte"),
    "hoof_width_mm": ("foot width", "sole width", "width", "hufbreite", "largeur du pied", "hoefbreedte"),
    "heel_buttress_width_mm": ("heel width", "buttress width", "trachtenbreite", "largeur des talons"),
    "heel_setback_mm": ("setback", "heel setback"),
    "frog_length_mm": ("frog length", "strahllänge", "longueur de fourchette", "straallengte"),
    "frog_width_mm": ("frog width", "strahlbreite", "largeur de fourchette", "straalbreedte"),
    "coronet_circumference_mm": (
        *("circumference", "coronet circumference", "coronary circumference", "kronumfang", "kronenumfang"),
        *("circonférence de la couronne", "kroonomtrek"),
    ),
    "thrush": ("strahlfäule", "fourchette pourrie", "rotstraal"),
    "wall_cracks": ("cracks", "risse", "hornspalt", "seimes", "scheuren"),
    "horn_new": ("new horn",),
    "horn_old": ("old horn",),
}
HORSE_NAMES = frozenset(("name", "nom", "naam", "horse name", "name of horse", "pferdename"))
"""Plain headers of a horse's name: it can serve as its code where the file has no other."""
_UNIT_IN_HEADER = re.compile(r"[\[(]\s*(?:in\s+)?([^\])]+?)\s*[\])]")


def plain_header(header: str) -> str:
    """Return a header in small letters without accents, signs and blanks that only part words."""
    text = unicodedata.normalize("NFKD", header.casefold().replace("ß", "ss"))
    text = "".join(sign for sign in text if not unicodedata.combining(sign))
    return " ".join(re.sub(r"[^a-z0-9]+", " ", text).split())


def unit_of_header(header: str) -> tuple[str, str]:
    """Return a header without its unit, and the unit; empty when it names none."""
    for match in _UNIT_IN_HEADER.finditer(header):
        if unit := UNIT_OF.get(match.group(1).casefold()):
            return header[: match.start()] + header[match.end() :], unit
    words = re.split(r"[\s_,/]+", header.strip())
    if len(words) > 1 and (unit := UNIT_OF.get(words[-1].casefold())) and words[-1].casefold() not in ("to", "m", "d"):
        return header.strip()[: -len(words[-1])].rstrip(" _,/"), unit
    return header, ""


def _known() -> dict[str, str]:
    known: dict[str, str] = {}
    for name, column in FLAT_COLUMNS.items():
        for text in (name, column.title, *ALIASES.get(name, ())):
            known.setdefault(plain_header(text), name)
    return known


KNOWN_HEADERS = _known()
"""Plain header to our column."""
