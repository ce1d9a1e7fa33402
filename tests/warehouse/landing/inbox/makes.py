"""Invented makes of export, each written by hand as its device would, with the shots that a person reads out of it.

No file here was written by the reader's own code, nor its rows by reading it back: numbers are worked out from the
definitions of the units (1 mph = 0.44704 m/s, 1 yd = 0.9144 m, 1 ft = 0.3048 m, exactly: the international yard and
pound agreement of 1959). The site is in Lisbon, on UTC in February.
"""

from __future__ import annotations

import datetime as dt
import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass

import openpyxl

MPH, KMH, YARD, FOOT = 0.44704, 1 / 3.6, 0.9144, 0.3048
BALL = """
ball_speed = { from = "Ball", unit = "m/s" }
launch_angle = { from = "Launch", unit = "deg" }
"""


@dataclass(frozen=True)
class Make:
    """A profile, a file in its folder of the inbox, and its shots: bay, time (UTC), student, club, then numbers."""

    profile: str
    file: str
    content: bytes | Callable[[], bytes]
    numbers: tuple[str, ...]
    shots: list[tuple]
    passed_over: int = 0

    @property
    def data(self) -> bytes:
        """Return what the file holds."""
        return self.content if isinstance(self.content, bytes) else self.content()


def at(text: str) -> dt.datetime:
    """Return a moment of the test's night."""
    return dt.datetime.fromisoformat(f"2024-02-{text}")


FJORD = Make(
    r"""
[file]
delimiter = ";"
decimal = ","
thousands = "."
header = "find"
nulls = ["", "---", "-999"]
timestamp_format = "%d.%m.%Y %H:%M:%S"
[rows]
units_rows = 1
summary_without = ["struck_at"]
[fields]
who = { label = "Spiller" }
stand = { pattern = 'Bås (\d+)' }
[columns]
struck_at = { from = ["Dato", "Klokke"] }
student_id = { from = "who", lookup = "name" }
club = { from = "Kølle", spelling = "any", map = { jern = "iron", tre = "wood" } }
ball_speed = { from = "Ballfart", unit = "km/h" }
launch_angle = { from = "Utgang", unit = "deg" }
spin_rate = { from = "Spinn", unit = "rpm" }
lateral = { from = "Side", unit = "m", sides = { H = "right", V = "left" } }
[inbox]
bay = { from = "stand", map = { 1 = "01", 2 = "02" } }
""",
    "Økt mandag kveld.txt",
    """\
Treningsøkt;;;
Spiller:;Ola Nyvang;;
Anlegg;Bås 2, ute;;

Nr;Dato;Klokke;Kølle;Ballfart;Utgang;Spinn;Side
;;;;km/t;grader;o/min;m
1;19.02.2024;18:01:05;Jern 7;180,0;18,5;6.412;3,2 H
2;19.02.2024;18:01:40;jern-7;178,2;19,0;---;1,1V
3;19.02.2024;18:02:31;3 Tre;216,0;11,0;3.150;0
Snitt;;;;191,4;16,2;4.781;1,4 H
Std.avvik;;;;17,4;3,7;1.631;2,2
""".encode(),
    ("ball_speed", "launch_angle", "spin_rate", "lateral"),
    [
        ("02", at("19 18:01:05"), "S1", "iron-7", 50.0, 18.5, 6412.0, 3.2),
        ("02", at("19 18:01:40"), "S1", "iron-7", 49.5, 19.0, None, -1.1),
        ("02", at("19 18:02:31"), "S1", "wood-3", 60.0, 11.0, 3150.0, 0.0),
    ],
    passed_over=3,
)

QUARRY = Make(
    r"""
[file]
skip_rows = 1
thousands = ","
timestamp_format = ["%m/%d/%Y %I:%M:%S %p", "%m/%d/%Y %I:%M %p"]
[columns]
struck_at = { from = "When" }
student_id = { from = "Golfer", lookup = "name", optional = true }
club = { from = "Club", spelling = "any" }
club_speed = { from = "Head", unit = "mph", written = "with unit" }
attack_angle = { from = "Attack", unit = "deg", sides = { up = "up", down = "down" } }
ball_speed = { from = "Ball", unit = "mph", written = "with unit" }
launch_angle = { from = "Launch", unit = "deg", written = "with unit" }
carry = { from = "Carry", unit = "yd", written = "with unit" }
lateral = { from = "Offline", unit = "ft", written = "feet and inches", sides = { L = "left", R = "right" } }
[inbox]
bay = { from = "Station" }
""",
    "export (3).csv",
    '\ufeff"Range session, two golfers"\n'
    '"When","Golfer","Station","Club","Head","Attack","Ball","Launch","Carry","Offline"\n'
    '"2/19/2024 6:01:05 PM","Nyvang, Ola","01","7i","81.2 mph","4.1 down","112.0 mph","17.3°","155 yds","12\' 3"" R"\n'
    '"2/19/2024 12:05 a.m.","Ann Roe","02","Pitching Wedge","70.0 mph","5 down","40.0 m/s","28°","1,05 yds","L 6\'"\n'
    '"2/19/2024 6:02 p.m.","ROE ANN","02","DRIVER","92 mph","0.5 Up","1,36 mph","12.5","215","3\' L"\n'
    '"2/19/2024 6:03 PM","Zed Nobody","01","Driver","92 mph","0.5 Up","136 mph","12.5","215","3\' L"\n'.encode(),
    ("club_speed", "attack_angle", "ball_speed", "launch_angle", "carry", "lateral"),
    [
        ("01", at("19 18:01:05"), "S1", "iron-7", 81.2 * MPH, -4.1, 112 * MPH, 17.3, 155 * YARD, 12.25 * FOOT),
        ("01", at("19 18:03:00"), "unknown", "driver", 92 * MPH, 0.5, 136 * MPH, 12.5, 215 * YARD, -3 * FOOT),
    ],
)
"""Two rows cannot be read: thousands marks that stand where none can ("1,05", "1,36")."""

PALMERAIE = Make(
    r"""
[file]
delimiter = "\t"
decimal = ","
encoding = "detect"
header = "find"
language = "fr"
nulls = ["", "-999"]
timestamp_format = "%d %B %Y %H:%M"
[rows]
end_at = '^Total'
[columns]
struck_at = { from = ["Jour", "Heure"] }
club = { from = "Canne", spelling = "any", map = { fer = "iron", "bois" = "wood" } }
ball_speed = { from = "V. balle", unit = "m/s" }
launch_angle = { from = "Décollage", unit = "deg" }
carry = { from = "Portée", unit = "m" }
""",
    "été/séance.dat",
    (
        "Séance n°\t12\n"
        "Jour\tHeure\tCanne\tV. balle\tDécollage\tPortée\n"
        "19 février 2024\t18:01\tFer 7\t50,0\t18,5\t140,5\n"
        "\n"
        "Jour\tHeure\tCanne\tV. balle\tDécollage\tPortée\n"
        "19 févr. 2024\t18:05\tBOIS 5\t60,25\t14\t-999,0\n"
        "Total\t2\n"
        "19 février 2024\t18:09\tFer 7\t50,0\t18,5\t140,5\n"
    ).encode("cp1252"),
    ("ball_speed", "launch_angle", "carry"),
    [
        ("01", at("19 18:01:00"), None, "iron-7", 50.0, 18.5, 140.5),
        ("01", at("19 18:05:00"), None, "wood-5", 60.25, 14.0, None),
    ],
    passed_over=3,
)


def hafen_book() -> bytes:
    """Return a workbook with a sheet a session: player and bay on top, real dates, times and numbers in its cells."""
    book = openpyxl.Workbook()
    book.active.title = "Übersicht"
    book.active.append(["Einheiten", 2])
    for name, player, day, rows in (
        ("Mo 18h", "Ola Nyvang", dt.date(2024, 2, 19), [(dt.time(18, 1, 5), "7 Eisen", 180, 18.5),
                                                        (dt.time(18, 2), "7 Eisen", 176.4, "n/v"),
                                                        ("Mittel", None, 178.2, 18.5)]),
        ("Di 9h", "Roe, Ann", dt.date(2024, 2, 20), [(dt.time(9, 0), "Driver", "216,0", 12)]),
    ):  # fmt: skip
        sheet = book.create_sheet(name)
        sheet.append(["Spieler", player])
        sheet.append(["Tag", day])
        sheet.append([])
        sheet.append(["Zeit", "Schläger", "Ball\n(km/h)", "Abflug"])
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


HAFEN = Make(
    r"""
[file]
format = "workbook"
decimal = ","
header = "find"
nulls = ["", "n/v"]
timestamp_format = "%d.%m.%Y %H:%M"
[rows]
only_where = { Zeit = '\d' }
[fields]
wer = { cell = "B1" }
tag = { label = "Tag" }
[columns]
struck_at = { from = ["tag", "Zeit"] }
student_id = { from = "wer", lookup = "name" }
club = { from = "Schläger", spelling = "any", map = { Eisen = "iron" } }
ball_speed = { from = "Ball (km/h)", unit = "km/h" }
launch_angle = { from = "Abflug", unit = "deg", optional = true }
""",
    "Februar.xlsx",
    hafen_book,
    ("ball_speed", "launch_angle"),
    [
        ("01", at("19 18:01:05"), "S1", "iron-7", 50.0, 18.5),
        ("01", at("19 18:02:00"), "S1", "iron-7", 49.0, None),
        ("01", at("20 09:00:00"), "S2", "driver", 60.0, 12.0),
    ],
    passed_over=1,
)

OPEN_DOCUMENT = """<?xml version="1.0" encoding="UTF-8"?>
<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.2"><office:body><office:spreadsheet>
<table:table table:name="Bay 02">{rows}</table:table></office:spreadsheet></office:body></office:document-content>"""


def dunlin_book() -> bytes:
    """Return an OpenDocument spreadsheet, put together from the text of its standard (ISO/IEC 26300)."""

    def cell(value: object) -> str:
        kind = f'office:value-type="float" office:value="{value}"' if isinstance(value, int | float) else (
            'office:value-type="string"')  # fmt: skip
        return f"<table:table-cell {kind}><text:p>{value}</text:p></table:table-cell>"

    told = (["time", "stick", "Ball", "Launch"], ["2024-02-19T18:01:05", "5H", 60, 14.5],
            ["2024-02-19T18:02:05", "SW", 38.5, 31])  # fmt: skip
    rows = "".join(f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in told)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        book.writestr("content.xml", OPEN_DOCUMENT.format(rows=rows))
        book.writestr("META-INF/manifest.xml",
                      '<?xml version="1.0"?><manifest:manifest xmlns:manifest='
                      '"urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"><manifest:file-entry '
                      'manifest:full-path="/" manifest:media-type='
                      '"application/vnd.oasis.opendocument.spreadsheet"/></manifest:manifest>')  # fmt: skip
    return out.getvalue()


DUNLIN = Make(
    r"""
[file]
format = "workbook"
[fields]
stand = { sheet = 'Bay (\w+)' }
[columns]
struck_at = { from = "time" }
club = { from = "stick", spelling = "any" }
"""
    + BALL
    + """
[inbox]
bay = { from = "stand" }
""",
    "shots.ods",
    dunlin_book,
    ("ball_speed", "launch_angle"),
    [
        ("02", at("19 18:01:05"), None, "hybrid-5", 60.0, 14.5),
        ("02", at("19 18:02:05"), None, "wedge-sand", 38.5, 31.0),
    ],
)

SALTMARSH = Make(
    r"""
[file]
format = "json"
rows_at = "sessions[].shots[]"
timestamp_format = "epoch_ms"
timezone = "UTC"
[fields]
who = { path = "sessions[].player.name" }
stand = { path = "device.bay" }
[columns]
struck_at = { from = "t" }
student_id = { from = "who", lookup = "name" }
club = { from = "club.name", spelling = "any" }
ball_speed = { from = "ball.v[0]", unit = "mph" }
launch_angle = { from = "ball.angle", unit = "deg" }
[inbox]
bay = { from = "stand", map = { B-two = "02" } }
""",
    "dump.json",
    b"""{"device": {"bay": "B-two"}, "sessions": [
 {"player": {"name": "Ann Roe"}, "shots": [
   {"t": 1708365665000, "club": {"name": "7 iron"}, "ball": {"v": [112, "mph"], "angle": 17.3}},
   {"t": 1708365700500, "club": {"name": "7 iron"}, "ball": {"v": [110, "mph"], "angle": 18}}]},
 {"player": {"name": "No Shots"}, "shots": []},
 {"player": {"name": "Ola Nyvang"}, "shots": [
   {"t": 1708366000000, "club": {"name": "DRIVER"}, "ball": {"v": [150, "mph"], "angle": 12.5}}]}]}""",
    ("ball_speed", "launch_angle"),
    [
        ("02", at("19 18:01:05"), "S2", "iron-7", 112 * MPH, 17.3),
        ("02", at("19 18:01:40.500"), "S2", "iron-7", 110 * MPH, 18.0),
        ("02", at("19 18:06:40"), "S1", "driver", 150 * MPH, 12.5),
    ],
)

TIDEWATER = Make(
    r"""
[file]
header = "find"
timestamp_format = "%Y%m%d %H.%M.%S"
[rows]
footer_rows = 2
[fields]
day = { file_name = '_(\d{8})_' }
stand = { file_name = '^bay-(\d+)' }
zone = { label = "UTC offset" }
[columns]
struck_at = { from = ["day", "time"], zone = "zone" }
student_id = { from = "id", lookup = "either" }
club = { from = "club", spelling = "any" }
"""
    + BALL
    + """
[inbox]
bay = { from = "stand" }
""",
    "bay-01_20240219_evening.csv",
    b"""# UTC offset: +01:00
time,id,club,Ball,Launch
19.01.05,S2,driver,60,12
19.02.05,ola nyvang,Wood 5,58,13
mean,,,59,12.5
,,,,2 balls
""",
    ("ball_speed", "launch_angle"),
    [
        ("01", at("19 18:01:05"), "S2", "driver", 60.0, 12.0),
        ("01", at("19 18:02:05"), "S1", "wood-5", 58.0, 13.0),
    ],
    passed_over=2,
)

WINDMOLEN = Make(
    r"""
[file]
format = "jsonl"
rows_at = "."
[columns]
struck_at = { from = "at" }
student_id = { from = "speler", optional = true }
club = { from = "stok", spelling = "any", map = { ijzer = "iron" } }
ball_speed = { from = "bal.snelheid", unit = "m/s" }
launch_angle = { from = "bal.hoek", unit = "deg" }
[inbox]
bay = { from = "$.baan" }
""",
    "log",
    b"""{"at": "2024-02-19T19:01:05+01:00", "baan": "01", "speler": "S1", "stok": "IJzer 9", \
"bal": {"snelheid": 44.5, "hoek": 24}}
{"at": "2024-02-19T18:02:05Z", "baan": "02", "stok": "lw", "bal": {"snelheid": 31, "hoek": 36}}
""",
    ("ball_speed", "launch_angle"),
    [
        ("01", at("19 18:01:05"), "S1", "iron-9", 44.5, 24.0),
        ("02", at("19 18:02:05"), None, "wedge-lob", 31.0, 36.0),
    ],
)

RAVENNA = Make(
    r"""
[file]
delimiter = "|"
header = "find"
encoding = "detect"
[fields]
who = { label = "Giocatore" }
[columns]
struck_at = { from = "ora" }
student_id = { from = "who", lookup = "name" }
club = { from = "ferro", spelling = "any" }
"""
    + BALL,
    "tutti.txt",
    (
        "Giocatore: Ola Nyvang|\r\n"
        "ora|ferro|Ball|Launch\r\n"
        "2024-02-19 18:01:05|7|50|18\r\n"
        "2024-02-19 18:01:45|i7|51|18\r\n"
        "\r\n"
        "Giocatore: Roe, Ann|\r\n"
        "ora|Ball|Launch|ferro\r\n"
        "2024-02-19 18:05:05|60|11.5|D\r\n"
    ).encode("utf-16"),
    ("ball_speed", "launch_angle"),
    [
        ("01", at("19 18:01:45"), "S1", "iron-7", 51.0, 18.0),
        ("01", at("19 18:05:05"), "S2", "driver", 60.0, 11.5),
    ],
    passed_over=2,
)
"""A bare "7" is no club: an iron or a wood, nobody can tell."""

KETTLE = Make(
    r"""
[file]
left_handers = "turned round"
[columns]
struck_at = { from = "Stamp", zone = "Zone" }
student_id = { from = ["First", "Last"], lookup = "name" }
club = { from = "Club" }
club_path = { from = "Path", unit = "deg" }
ball_speed = { from = "Ball", unit = "m/s" }
launch_angle = { optional = true }
""",
    "kettle.csv",
    b"""Stamp,Zone,First,Last,Club,Path,Ball
2024-02-19 13:01:05,America/New_York,Ola,Nyvang,driver,2.5,60
2024-02-19 19:01:05,GMT+1,Ann,Roe,driver,-1.5,61
2024-02-19 19:01:05,half past,Ann,Roe,driver,-1.5,61
""",
    ("club_path", "ball_speed", "launch_angle"),
    [
        ("01", at("19 18:01:05"), "S1", "driver", 2.5, 60.0, None),
        ("01", at("19 18:01:05"), "S2", "driver", -1.5, 61.0, None),
    ],
)

MAKES = {
    "fjord": FJORD, "quarry": QUARRY, "palmeraie": PALMERAIE, "hafen": HAFEN, "dunlin": DUNLIN, "saltmarsh": SALTMARSH,
    "tidewater": TIDEWATER, "windmolen": WINDMOLEN, "ravenna": RAVENNA, "kettle": KETTLE,
}  # fmt: skip
