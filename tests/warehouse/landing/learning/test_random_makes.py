"""A shot table written in a random make, and learnt back: delimiter, marks, units, signs, language and layout vary."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.warehouse.landing.learning.learning_back import learn_back
from tests.warehouse.landing.learning.made_exports import Make, Number, lines, table
from tests.warehouse.landing.learning.made_shots import LOFTS, draw

LANGUAGES = {
    "en": ("Club speed|Ball speed|Launch angle|Launch direction|Spin rate|Spin axis|Carry|Lateral|Attack angle|"
           "Club path|Face angle|Dynamic loft", "Time", "Club", "Player", "Average"),
    "de": ("Schlägerkopftempo|Balltempo|Abflugwinkel|Abflugrichtung|Drehzahl|Drehachse|Flugweite|Seitenabweichung|"
           "Eintreffwinkel|Schwungbahn|Schlagfläche|Dynamischer Loft", "Zeit", "Schläger", "Spieler", "Mittel"),
    "fr": ("Vitesse tête|Vitesse balle|Angle d'envol|Direction d'envol|Rotation|Axe|Portée|Écart latéral|"
           "Angle d'attaque|Trajet club|Face|Loft dynamique", "Heure", "Club", "Joueur", "Moyenne"),
    "sv": ("Klubbhastighet|Bollhastighet|Utgångsvinkel|Utgångsriktning|Spinn|Spinnaxel|Carry|Sidled|Attackvinkel|"
           "Svingbana|Bladvinkel|Dynamisk loft", "Tid", "Klubba", "Spelare", "Medel"),
    "es": ("Velocidad del palo|Velocidad de bola|Ángulo de salida|Dirección de salida|Giro|Eje de giro|Vuelo|"
           "Desviación|Ángulo de ataque|Trayectoria|Cara del palo|Loft dinámico", "Hora", "Palo", "Jugador", "Media"),
}  # fmt: skip
IRONS = {"en": "iron", "de": "Eisen", "fr": "Fer", "sv": "Järn", "es": "Hierro"}
WOODS = {"en": "wood", "de": "Holz", "fr": "Bois", "sv": "Trä", "es": "Madera"}
METRICS = ("club_speed", "ball_speed", "launch_angle", "launch_direction", "spin_rate", "spin_axis", "carry", "lateral",
           "attack_angle", "club_path", "face_angle", "dynamic_loft")  # fmt: skip
SIDED = ("launch_direction", "spin_axis", "lateral", "club_path", "face_angle")
TIMES = ("%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%d/%m/%Y %H.%M.%S", "%Y/%m/%d %I:%M:%S %p", "%m/%d/%Y %H:%M:%S")


@st.composite
def makes(choose) -> Make:
    """Return a make: some of the numbers, in a language, units in the header, in a row under it, or nowhere."""
    language = choose(st.sampled_from(sorted(LANGUAGES)))
    headers, time, club, person, average = LANGUAGES[language]
    decimal, delimiter = choose(st.sampled_from([(".", ","), (",", ";"), (".", "\t"), (",", "|")]))
    speed, length = choose(st.sampled_from([("mph", "yd"), ("km/h", "m"), ("m/s", "m")]))
    said = choose(st.sampled_from(["header", "row", "nowhere"]))
    sign = choose(st.sampled_from([1, -1]))
    odd = choose(st.sampled_from([None, "lateral"]))
    left_out = choose(st.sets(st.sampled_from(["club_path", "spin_axis", "attack_angle", "dynamic_loft"]), max_size=2))
    unit = {"club_speed": speed, "ball_speed": speed, "carry": length, "lateral": length, "spin_rate": "rpm"}
    numbers = []
    for metric, header in zip(METRICS, headers.split("|"), strict=True):
        if metric in left_out:
            continue
        its_unit = unit.get(metric, "deg")
        shown = f"{header} ({its_unit})" if said == "header" else header
        its_sign = (sign if metric != odd else -sign) if metric in SIDED else 1
        numbers.append(Number(metric, shown, its_unit, 0 if metric == "spin_rate" else 2, its_sign))
    form = choose(st.sampled_from(TIMES))
    above = choose(st.integers(0, 3))
    footer = choose(st.booleans())
    names = {name: _club_name(name, language) for name in LOFTS}
    encoding = choose(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]))

    def lay(folder: Path, texts: list[dict[str, str]], shots) -> list[Path]:
        rows = table(texts, delimiter)
        if said == "row":
            units = {number.header: number.unit for number in numbers}
            rows.insert(1, delimiter.join(units.get(name, "") for name in texts[0]))
        if footer:
            rows.append(delimiter.join(["", average, *("3" for _ in list(texts[0])[2:])]))
        return [lines(folder / "shots.csv", [*("title" for _ in range(above)), *rows], encoding, "\r\n")]

    return Make("random", tuple(numbers), lambda t: {time: t.strftime(form)}, club, names, lay, person, str, decimal)


def _club_name(club: str, language: str) -> str:
    kind, _, number = club.partition("-")
    words = {"driver": "Driver", "wood": f"{WOODS[language]} {number}", "iron": f"{IRONS[language]} {number}",
             "hybrid": f"Hybrid {number}", "wedge": f"{number[:1].upper()}W"}  # fmt: skip
    return words[kind]


@settings(
    max_examples=8, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, phases=[Phase.generate]
)
@given(makes(), st.integers(0, 1000))
def test_a_shot_table_written_in_a_random_make_is_learnt_back(make: Make, seed: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        done = learn_back(make, draw(70, seed=seed), Path(folder), {"file.timestamp_format": "%m/%d/%Y %H:%M:%S"})
    assert (done.last, done.loaded, done.wrong) == (0, 70, {}), make
    assert done.equal == 70
    assert len(done.asked) <= 4
    assert np.all([key.endswith(("positive", "unit", "timestamp_format")) for key in done.asked])
