"""Fourteen invented makes of export, in ten languages and six kinds of file."""

from __future__ import annotations

import datetime as dt
import json
from itertools import groupby
from pathlib import Path

import polars as pl

from tests.warehouse.landing.learning.made_exports import Make, Number, lines, table, workbook
from tests.warehouse.landing.learning.made_shots import LOFTS, PEOPLE

Rows = list[dict[str, str]]
N = Number


def _clubs(*names: str) -> dict[str, str]:
    return dict(zip(LOFTS, names, strict=True))


def _one_file(
    name: str,
    delimiter: str,
    encoding: str = "utf-8",
    above: tuple[str, ...] = (),
    below: tuple[str, ...] = (),
    ends: str = "\n",
):
    def lay(folder: Path, texts: Rows, shots: pl.DataFrame) -> list[Path]:
        return [lines(folder / name, [*above, *table(texts, delimiter), *below], encoding, ends)]

    return lay


def _averages(header: list[str], texts: Rows, word: str, delimiter: str) -> str:
    return delimiter.join([word, *("31.4" if n % 2 else "7" for n in range(len(header) - 2)), ""])


def larkspur_lay(folder: Path, texts: Rows, shots: pl.DataFrame) -> list[Path]:
    """Preamble, blank line, table, blank line, a line of averages and one of deviations."""
    rows = table(texts, ",")
    names = list(texts[0])
    tail = [",".join(["", "", word, *("12.3" for _ in names[3:])]) for word in ("Average", "Std. Dev.")]
    above = ["Larkspur practice report", "Units: as in the header", ""]
    return [lines(folder / "session 14 March.csv", [*above, *rows, "", *tail], ends="\r\n")]


LARKSPUR = Make(
    "larkspur",
    (
        N("club_speed", "Club Speed (mph)", "mph"),
        N("ball_speed", "Ball Speed (mph)", "mph"),
        N("launch_angle", "Launch Angle (deg)", "deg"),
        N("launch_direction", "Launch Direction (deg)", "deg", 1, 1, ("R", "L")),
        N("spin_rate", "Spin Rate (rpm)", "rpm", 0),
        N("spin_axis", "Spin Axis (deg)", "deg", 1, 1, ("R", "L")),
        N("carry", "Carry (yd)", "yd"),
        N("lateral", "Offline (yd)", "yd", 1, 1, ("R", "L")),
        N("attack_angle", "Attack Angle (deg)", "deg"),
        N("club_path", "Club Path (deg)", "deg", 1, 1, ("R", "L")),
        N("face_angle", "Face Angle (deg)", "deg", 1, 1, ("R", "L")),
        N("dynamic_loft", "Dynamic Loft (deg)", "deg"),
    ),
    lambda t: {"Shot Time": t.strftime("%m/%d/%Y %I:%M:%S %p")},
    "Club Type",
    _clubs(
        "Driver",
        "3 Wood",
        "5 Wood",
        "4 Hybrid",
        "5 Iron",
        "6 Iron",
        "7 Iron",
        "8 Iron",
        "9 Iron",
        "Pitching Wedge",
        "Gap Wedge",
        "Sand Wedge",
    ),
    larkspur_lay,
    "Player",
    PEOPLE.__getitem__,
    nothing="-",
    more={
        "Smash Factor": lambda n, row: f"{row['ball_speed'] / row['club_speed']:.2f}",
        "Total (yd)": lambda n, row: f"{row['carry'] / 0.9144 + 14 + n % 7:.1f}",
    },
)


def drossel_lay(folder: Path, texts: Rows, shots: pl.DataFrame) -> list[Path]:
    """A units row under the header, and a last line of means."""
    head, *rows = table(texts, ";")
    units = {
        "Uhrzeit": "",
        "Name": "",
        "Schläger": "",
        "Spinrate": "[U/min]",
        "Flugweite": "[m]",
        "Seitenabweichung": "[m]",
    }
    row = ";".join(units.get(name, "[km/h]" if "geschw" in name else "[Grad]") for name in texts[0])
    mean = "Ø;;;" + ";".join("1,0" for _ in list(texts[0])[3:])
    return [lines(folder / "Export.csv", [head, row, *rows, mean], "cp1252", "\r\n")]


DROSSEL = Make(
    "drossel",
    (
        N("club_speed", "Schlägerkopfgeschw.", "km/h"),
        N("ball_speed", "Ballgeschw.", "km/h"),
        N("launch_angle", "Startwinkel vertikal", "deg"),
        N("launch_direction", "Startwinkel horizontal", "deg", 1, -1),
        N("spin_rate", "Spinrate", "rpm", 0),
        N("spin_axis", "Spinachse", "deg", 1, -1),
        N("attack_angle", "Eintreffwinkel", "deg"),
        N("club_path", "Schwungbahn", "deg", 1, -1),
        N("face_angle", "Schlagflächenstellung", "deg", 1, -1),
        N("carry", "Flugweite", "m"),
        N("lateral", "Seitenabweichung", "m", 1, -1),
    ),
    lambda t: {"Uhrzeit": t.strftime("%d.%m.%Y %H:%M:%S")},
    "Schläger",
    _clubs(
        "Driver",
        "Holz 3",
        "Holz 5",
        "Hybrid 4",
        "Eisen 5",
        "Eisen 6",
        "Eisen 7",
        "Eisen 8",
        "Eisen 9",
        "PW",
        "GW",
        "SW",
    ),
    drossel_lay,
    "Name",
    lambda who: ", ".join(reversed(PEOPLE[who].split())),
    decimal=",",
    thousands=".",
    nothing="---",
)


def mesange_lay(folder: Path, texts: Rows, shots: pl.DataFrame) -> list[Path]:
    """Several players' tables in one file, each under a line with the name and the header again."""
    rows: list[str] = ["Relevé des coups", ""]
    for who, group in groupby(zip(texts, shots["student_id"], strict=True), key=lambda pair: pair[1]):
        head, *body = table([text for text, _ in group], "\t")
        rows += [f"Joueur : {PEOPLE[who]}", head, *body, ""]
    return [lines(folder / "releve.tsv", rows, "latin-1")]


MESANGE = Make(
    "mesange",
    (
        N("ball_speed", "Vitesse balle (km/h)", "km/h"),
        N("club_speed", "Vitesse tête (km/h)", "km/h"),
        N("launch_angle", "Angle d'envol (°)", "deg"),
        N("launch_direction", "Direction de départ (°)", "deg"),
        N("spin_rate", "Rotation (tr/min)", "rpm", 0),
        N("carry", "Portée (m)", "m"),
        N("lateral", "Écart latéral (m) (+ = gauche)", "m", 1, -1),
    ),
    lambda t: {"Date": t.strftime("%d/%m/%Y"), "Heure": t.strftime("%H:%M:%S")},
    "Club",
    _clubs("Driver", "Bois 3", "Bois 5", "Hybride 4", "Fer 5", "Fer 6", "Fer 7", "Fer 8", "Fer 9", "PW", "GW", "SW"),
    mesange_lay,
    decimal=",",
    thousands=" ",
)


def alondra_lay(folder: Path, texts: Rows, shots: pl.DataFrame) -> list[Path]:
    """A session a player with the shots inside, groups of values inside each shot."""
    sessions = []
    for who, group in groupby(zip(texts, shots["student_id"], strict=True), key=lambda pair: pair[1]):
        golpes = []
        for text, _ in group:
            golpe: dict = {}
            for key, value in text.items():
                *above, last = key.split(".")
                place = golpe
                for part in above:
                    place = place.setdefault(part, {})
                try:
                    place[last] = float(value) if last not in ("hora", "palo") else value
                except ValueError:
                    place[last] = None
            golpes.append(golpe)
        sessions.append({"jugador": {"codigo": who, "nombre": PEOPLE[who]}, "puesto": 3, "golpes": golpes})
    path = folder / "sesiones.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps({"version": 2, "sesiones": sessions}, ensure_ascii=False), encoding="utf-8")
    return [path]


ALONDRA = Make(
    "alondra",
    (
        N("ball_speed", "bola.velocidad_kmh", "km/h", 2),
        N("launch_angle", "bola.angulo_salida", "deg", 2),
        N("launch_direction", "bola.direccion_salida", "deg", 2),
        N("spin_rate", "bola.giro_rpm", "rpm", 0),
        N("spin_axis", "bola.eje", "deg", 2),
        N("carry", "vuelo.carry_m", "m", 2),
        N("lateral", "vuelo.desviacion_m", "m", 2),
        N("club_speed", "cabeza.velocidad_kmh", "km/h", 2),
        N("attack_angle", "cabeza.angulo_ataque", "deg", 2),
        N("club_path", "cabeza.trayectoria", "deg", 2),
        N("face_angle", "cabeza.cara", "deg", 2),
    ),
    lambda t: {"hora": t.replace(tzinfo=dt.UTC).isoformat()},
    "palo",
    _clubs(
        "Driver",
        "Madera 3",
        "Madera 5",
        "Híbrido 4",
        "Hierro 5",
        "Hierro 6",
        "Hierro 7",
        "Hierro 8",
        "Hierro 9",
        "PW",
        "GW",
        "SW",
    ),
    alondra_lay,
    zone="UTC",
)


def civetta_lay(folder: Path, texts: Rows, shots: pl.DataFrame) -> list[Path]:
    """A workbook: a sheet a date, title rows, the time of day alone in the table."""
    names = list(texts[0])
    body = [[text[name] if name == "Allievo" else _native(text[name]) for name in names] for text in texts]
    day = shots["struck_at"][0].strftime("%Y-%m-%d")
    sheet = [["Registro colpi"], ["Postazione:", "7"], [], names, *body, [], ["Media", None, None, 40.1, 33.3]]
    return [workbook(folder / "colpi.xlsx", {f"Seduta {day}": sheet})]


def _native(text: str) -> object:
    try:
        return float(text)
    except ValueError:
        return text or None


CIVETTA = Make(
    "civetta",
    (
        N("club_speed", "Velocità bastone [km/h]", "km/h"),
        N("ball_speed", "Velocità palla [km/h]", "km/h"),
        N("launch_angle", "Angolo di lancio [°]", "deg"),
        N("spin_rate", "Giri [giri/min]", "rpm", 0),
        N("carry", "Volo [m]", "m"),
        N("lateral", "Scarto [m]", "m", 1, 1, ("dx", "sx")),
        N("dynamic_loft", "Loft dinamico [°]", "deg"),
        N("attack_angle", "Angolo di attacco [°]", "deg"),
    ),
    lambda t: {"Ora": t.strftime("%H:%M:%S")},
    "Bastone",
    _clubs(
        "driver",
        "legno 3",
        "legno 5",
        "ibrido 4",
        "ferro 5",
        "ferro 6",
        "ferro 7",
        "ferro 8",
        "ferro 9",
        "pitch",
        "gap",
        "sand",
    ),
    civetta_lay,
    "Allievo",
    str,
)

KIEVIT = Make(
    "kievit",
    (
        N("club_speed", "Kopsnelheid", "m/s", 2),
        N("ball_speed", "Balsnelheid", "m/s", 2),
        N("launch_angle", "Vertrekhoek", "deg"),
        N("launch_direction", "Vertrekrichting", "deg"),
        N("spin_rate", "Toerental", "rpm", 0),
        N("spin_axis", "Spin-as", "deg"),
        N("carry", "Vluchtlengte (m)", "m"),
        N("lateral", "Zijwaarts (m)", "m", 1, -1),
        N("club_path", "Zwaaipad", "deg"),
        N("face_angle", "Bladhoek", "deg"),
        N("impact_toe", "Raakpunt teen", "mm"),
    ),
    lambda t: {"Datum": t.strftime("%Y-%m-%d"), "Tijd": t.strftime("%H:%M")},
    "Stok",
    _clubs(
        "Driver",
        "Hout 3",
        "Hout 5",
        "Hybride 4",
        "IJzer 5",
        "IJzer 6",
        "IJzer 7",
        "IJzer 8",
        "IJzer 9",
        "PW",
        "GW",
        "SW",
    ),
    _one_file("uitvoer.csv", ";"),
    "Leerling",
    str,
    decimal=",",
    nothing="-999",
)


def pardal_lay(folder: Path, texts: Rows, shots: pl.DataFrame) -> list[Path]:
    """JSON lines with the moment in milliseconds since 1970."""
    rows = []
    for text in texts:
        said = {key: _native(value) for key, value in text.items()}
        said["instante"] = int(text["instante"])
        said["aluno"] = text["aluno"]
        rows.append(json.dumps(said, ensure_ascii=False))
    return [lines(folder / "tacadas.jsonl", rows)]


PARDAL = Make(
    "pardal",
    (
        N("ball_speed", "velocidade_bola_mps", "m/s", 3),
        N("launch_angle", "angulo_saida", "deg", 3),
        N("launch_direction", "direcao_saida", "deg", 3),
        N("spin_rate", "rotacao", "rpm", 0),
        N("spin_axis", "eixo", "deg", 3),
        N("carry", "voo_m", "m", 3),
        N("lateral", "desvio_m", "m", 3),
        N("club_speed", "velocidade_taco_mps", "m/s", 3),
    ),
    lambda t: {"instante": str(int(t.replace(tzinfo=dt.UTC).timestamp() * 1000))},
    "taco",
    _clubs(
        "driver",
        "madeira 3",
        "madeira 5",
        "híbrido 4",
        "ferro 5",
        "ferro 6",
        "ferro 7",
        "ferro 8",
        "ferro 9",
        "pw",
        "gw",
        "sw",
    ),
    pardal_lay,
    "aluno",
    str,
    zone="UTC",
)

TRAST = Make(
    "trast",
    (
        N("club_speed", "Klubbhastighet", "mph", 1, 1, after=" mph"),
        N("ball_speed", "Bollhastighet", "mph", 1, 1, after=" mph"),
        N("launch_angle", "Utgångsvinkel", "deg", 1, 1, after="°"),
        N("launch_direction", "Utgångsriktning", "deg", 1, 1, ("H", "V"), "°"),
        N("spin_rate", "Spinn", "rpm", 0, 1, after=" rpm"),
        N("carry", "Carry", "m", 1, 1, after=" m"),
        N("lateral", "Sidled", "m", 1, 1, ("höger", "vänster")),
    ),
    lambda t: {"Tid": t.strftime("%Y-%m-%dT%H:%M:%SZ")},
    "Klubba",
    _clubs("Driver", "Trä 3", "Trä 5", "Hybrid 4", "Järn 5", "Järn 6", "Järn 7", "Järn 8", "Järn 9", "PW", "GW", "SW"),
    _one_file("slag.csv", ";", ends="\r\n"),
    "Elev",
    str,
    decimal=",",
    zone="UTC",
)

KONIPAS = Make(
    "konipas",
    (
        N("club_speed", "Rychlost hole", "km/h"),
        N("ball_speed", "Rychlost míčku", "km/h"),
        N("launch_angle", "Úhel odletu", "deg"),
        N("launch_direction", "Směr odletu", "deg"),
        N("spin_rate", "Otáčky", "rpm", 0),
        N("carry", "Let (m)", "m"),
        N("lateral", "Stranová odchylka (m)", "m"),
        N("club_path", "Dráha hole", "deg"),
        N("face_angle", "Úhel líce", "deg"),
    ),
    lambda t: {"Čas": t.strftime("%d.%m.%Y %H:%M:%S")},
    "Hůl",
    _clubs(
        "Driver",
        "Dřevo 3",
        "Dřevo 5",
        "Hybrid 4",
        "Železo 5",
        "Železo 6",
        "Železo 7",
        "Železo 8",
        "Železo 9",
        "PW",
        "GW",
        "SW",
    ),
    _one_file("rany.txt.csv", "|", "cp1250"),
    "Hráč",
    str,
    decimal=",",
)


def dudek_lay(folder: Path, texts: Rows, shots: pl.DataFrame) -> list[Path]:
    """A workbook with title rows, real dates and times in cells, units in a row of their own."""
    names = list(texts[0])
    body: list[list[object]] = []
    for text, struck in zip(texts, shots["struck_at"], strict=True):
        body.append(
            [struck if name == "Czas" else _native(text[name]) if name != "Zawodnik" else text[name] for name in names]
        )
    units = {"Czas": None, "Zawodnik": None, "Kij": None, "Rotacja": "obr/min", "Lot": "m", "Odchylenie": "m"}
    row = [units.get(name, "km/h" if "Prędkość" in name else "°") for name in names]
    return [workbook(folder / "zestawienie.xlsx", {"Arkusz": [["Zestawienie uderzeń"], [], names, row, *body]})]


DUDEK = Make(
    "dudek",
    (
        N("club_speed", "Prędkość kija", "km/h"),
        N("ball_speed", "Prędkość piłki", "km/h"),
        N("launch_angle", "Kąt wylotu", "deg"),
        N("launch_direction", "Kierunek wylotu", "deg"),
        N("spin_rate", "Rotacja", "rpm", 0),
        N("carry", "Lot", "m"),
        N("lateral", "Odchylenie", "m"),
        N("attack_angle", "Kąt natarcia", "deg"),
    ),
    lambda t: {"Czas": t.isoformat()},
    "Kij",
    _clubs(
        "Driver",
        "Drewno 3",
        "Drewno 5",
        "Hybryda 4",
        "Żelazo 5",
        "Żelazo 6",
        "Żelazo 7",
        "Żelazo 8",
        "Żelazo 9",
        "PW",
        "GW",
        "SW",
    ),
    dudek_lay,
    "Zawodnik",
    lambda who: " ".join(reversed(PEOPLE[who].split())),
)


def whimbrel_feet(n: int, row: dict[str, float]) -> str:
    """Return a height as feet and inches, which nothing needs."""
    inches = round(row["carry"] / 0.0254 / 8)
    return f"{inches // 12}' {inches % 12}\""


WHIMBREL = Make(
    "whimbrel",
    (
        N("ball_speed", "ball_mph", "mph", 2),
        N("club_speed", "club_mph", "mph", 2),
        N("launch_angle", "vla_deg", "deg", 2),
        N("launch_direction", "hla_deg", "deg", 2),
        N("spin_rate", "total_spin_rpm", "rpm", 0),
        N("spin_axis", "spin_axis_deg", "deg", 2),
        N("carry", "carry_yd", "yd", 2),
        N("lateral", "side_yd", "yd", 2),
        N("club_path", "path_deg", "deg", 2),
        N("face_angle", "face_deg", "deg", 2),
        N("attack_angle", "aoa_deg", "deg", 2),
        N("dynamic_loft", "dyn_loft_deg", "deg", 2),
    ),
    lambda t: {"shot_at": t.strftime("%Y-%m-%d %H:%M:%S")},
    "club",
    _clubs("DR", "3W", "5W", "4H", "5I", "6I", "7I", "8I", "9I", "PW", "GW", "SW"),
    _one_file("bay 3 2025-03-14.csv", ","),
    "player_id",
    str,
    more={"bay": lambda n, row: "3", "apex": whimbrel_feet, "shot_no": lambda n, row: str(n + 1)},
)

SISKIN = Make(
    "siskin",
    (
        N("ball_speed", "Ball", "km/h"),
        N("launch_angle", "Launch", "deg"),
        N("launch_direction", "Start side", "deg", 1, -1),
        N("spin_rate", "Spin", "rpm", 0),
        N("spin_axis", "Axis", "deg", 1, -1),
        N("carry", "Carry", "m"),
        N("lateral", "Side", "m", 1, 1),
        N("club_speed", "Head speed", "km/h"),
        N("attack_angle", "Attack (+ = down)", "deg", 1, -1),
    ),
    lambda t: {"Clock": t.strftime("%H:%M:%S")},
    "Stick",
    _clubs("1W", "W3", "W5", "H4", "I5", "I6", "I7", "I8", "I9", "46°", "52°", "56°"),
    _one_file("siskin_20250314.csv", ",", "utf-16"),
    "Member",
    str,
)

MAGPIE = Make(
    "magpie",
    (
        N("ball_speed", "Club speed", "mph"),
        N("club_speed", "Ball speed", "mph"),
        N("launch_angle", "Launch angle", "deg"),
        N("carry", "Carry yards", "yd"),
        N("spin_rate", "Spin rate", "rpm", 0),
    ),
    lambda t: {"Date and time": t.strftime("%Y-%m-%d %H:%M:%S")},
    "Club",
    _clubs(
        "Driver", "3-wood", "5-wood", "4-hybrid", "5-iron", "6-iron", "7-iron", "8-iron", "9-iron", "PW", "GW", "SW"
    ),
    _one_file("swapped.csv", ","),
    "Player",
    str,
)

HOOPOE = Make(
    "hoopoe",
    (
        N("ball_speed", "Ball Velocity", "ft/s"),
        N("club_speed", "Head Velocity", "ft/s"),
        N("launch_angle", "Take-off", "deg"),
        N("lateral", "Off line, ft", "ft"),
        N("carry", "Carried, ft", "ft"),
        N("launch_direction", "Direction (right +)", "deg"),
    ),
    lambda t: {"When": t.strftime("%d %b %Y %H:%M:%S")},
    "Implement",
    _clubs(
        "Driver", "Wood 3", "Wood 5", "Hybrid 4", "Iron 5", "Iron 6", "Iron 7", "Iron 8", "Iron 9", "PW", "GW", "SW"
    ),
    _one_file("strikes.tsv", "\t"),
    "Guest",
    str,
)

MAKES = (
    LARKSPUR,
    DROSSEL,
    MESANGE,
    ALONDRA,
    CIVETTA,
    KIEVIT,
    PARDAL,
    TRAST,
    KONIPAS,
    DUDEK,
    WHIMBREL,
    SISKIN,
    MAGPIE,
    HOOPOE,
)
BY_NAME = {make.name: make for make in MAKES}
