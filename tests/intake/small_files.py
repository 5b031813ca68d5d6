"""Three small files that are right."""

from __future__ import annotations

HORSES = "horse_id,yard_id,owner_id,birth_year,sex,height_cm\nH1,Y1,W1,2012,mare,155\nH2,Y1,W2,2015,gelding,\n"
MANAGEMENT = "horse_id,from_date,to_date,diet,terrain\nH1,2025-01-01,2025-06-30,hay,soft\nH1,2025-07-01,,pasture,\n"
FEET = (
    "horse_id,foot,visit_date,observer_id,method,toe_angle_deg,heel_angle_deg,toe_length_mm,frog_length_mm,"
    "frog_width_mm,horn_new\n"
    "H1,LF,2026-03-14,A,gauge,51.5,46,88,105,60,3\n"
    "H1,RF,2026-03-14,A,gauge,50,,90,,,\n"
)
