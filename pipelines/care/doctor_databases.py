"""The home's databases, who holds them, what a run left behind, and when one last published. Opens them read-only.

Not here: machine, tables and profiles (doctor.py).
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import sqlalchemy

from pipelines.runs import run_log
from warehouse.audit import silence
from warehouse.home import Home
from warehouse.lakehouse import attachment
from warehouse.publishing import manifest, publish
from warehouse.settings.settings import Settings

Found = tuple[str, str, str, str]
"""What, level, said, remedy."""
LATE = timedelta(hours=26)
"""A night and its delay; after it the published file is no longer last night's."""


def examine(home: Home, chosen: Settings) -> Iterator[Found]:
    """Look at everything that is kept in databases."""
    holder = held_by(home)
    if holder:
        yield "lock", "WARNING", f"a run is at work (process {holder})", "wait until it has ended to look at the rest"
    else:
        yield "lock", "OK", "no run is at work", ""
        for name in ("raw", "warehouse"):
            yield private(home.private / f"{name}.duckdb")
    yield published(home)
    yield from missing(home)
    yield signed(home)
    yield last_run(home)
    yield log(home)
    yield notebook(home, chosen)
    if chosen.lakehouse.on:
        yield lakehouse(home, chosen)
    yield from leftovers(home)


def lakehouse(home: Home, chosen: Settings) -> Found:
    """Attach the lakehouse read-only and ask for its newest snapshot."""
    what = "lakehouse"
    try:
        with duckdb.connect() as opened:
            attachment.prepare(opened, chosen.lakehouse)
            attachment.attach(opened, chosen.lakehouse, home, read_only=True)
            (snapshot,) = opened.execute(f"select id from {attachment.NAME}.current_snapshot()").fetchone() or (None,)
    except attachment.LakehouseUnfit as fault:
        return what, "FAULT", str(fault), "install what is named"
    except duckdb.Error as fault:
        said = str(fault).strip().split("\n")[0]
        return what, "FAULT", f"cannot be opened ({said})", "look at its server, or run a first night"
    return what, "OK", f"reached, snapshot {snapshot}", ""


def held_by(home: Home) -> str | None:
    """Return which process holds the home, as Linux tells it; "unknown" where it does not; None where none does."""
    import fcntl

    path = home.private / "run.lock"
    try:
        with path.open("r") as lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_SH | fcntl.LOCK_NB)
                return None
            except OSError:
                inode = os.fstat(lock.fileno()).st_ino
    except OSError:
        return None
    try:
        lines = Path("/proc/locks").read_text(encoding="ascii").splitlines()
    except OSError:
        return "unknown"
    for line in lines:
        parts = line.split()
        if len(parts) > 5 and parts[1] == "FLOCK" and parts[5].endswith(f":{inode}"):
            return parts[4]
    return "unknown"


def private(path: Path) -> Found:
    """Open a private database."""
    what = f"warehouse/{path.name}"
    if not path.exists():
        return what, "WARNING", "is not there", "the next run makes it from the landing folder"
    try:
        with duckdb.connect(path, read_only=True) as con:
            tables = con.execute("select count(*) from duckdb_tables()").fetchone()
    except (duckdb.Error, OSError) as fault:
        said = f"cannot be opened ({str(fault).splitlines()[0]})"
        return what, "FAULT", said, "`academy nightly` sets it aside and builds it again from the landing folder"
    return what, "OK", f"opens, {tables[0] if tables else 0} tables", ""


def published(home: Home) -> Found:
    """Open the published file and say how old it is."""
    what = "published"
    if not home.current.is_symlink() and not home.current.exists():
        return what, "WARNING", "nothing is published yet", "run `academy nightly`"
    try:
        with duckdb.connect(home.current.resolve(strict=True), read_only=True) as con:
            con.execute("select count(*) from mart.dictionary").fetchone()
            at, through = con.execute(
                "select published_at, through_night from ops.publication order by published_at desc limit 1"
            ).fetchone() or (None, None)
    except (duckdb.Error, OSError, RuntimeError) as fault:
        said = f"cannot be opened ({str(fault).splitlines()[0]})"
        return what, "FAULT", said, "run `academy nightly`; older versions lie beside it"
    if os.path.isabs(os.readlink(home.current)) if home.current.is_symlink() else False:
        return what, "WARNING", "current.duckdb is an absolute link, so the home cannot be moved", "publish again"
    if at is None:
        return what, "FAULT", "tells of no publication", "run `academy nightly --rebuild`"
    age = datetime.now(UTC).replace(tzinfo=None) - at
    said = f"through {through}, {age.total_seconds() / 3600:,.0f} hours old"
    if age > LATE:
        return what, "WARNING", said, "is the nightly schedule on?"
    return what, "OK", said, ""


def signed(home: Home) -> Found:
    """Compare every published version with its signed manifest."""
    what, there = "published", publish.versions(home)
    good, faults = manifest.good_version(home), [(path.name, manifest.fault(home, path)) for path in there]
    damaged = [f"{name} {why}" for name, why in faults if why is not None]
    if said := manifest.in_words(good):
        return what, "FAULT", said, "and look at the disk"
    if damaged:
        return what, "WARNING", "; ".join(damaged), "not read by anybody; remove what is named, and look at the disk"
    unsigned = sum(not manifest.manifest_of(path).exists() for path in there)
    return what, "OK", f"{len(there) - unsigned} of {len(there)} versions signed, all as they were published", ""


def missing(home: Home) -> Iterator[Found]:
    """Say whether an expected export is missing or was refused, where anything is published."""
    try:
        found = silence.examine(home)
    except (ValueError, OSError, duckdb.Error):
        return
    if found.lines:
        yield "exports", "WARNING", found.summary, "`academy missing` lists them, each with what to do"
    else:
        yield "exports", "OK", found.summary, ""


def last_run(home: Home) -> Found:
    """Say what became of the last run."""
    try:
        told = json.loads(home.last_run.read_text(encoding="utf-8"))
        outcome, message = told["outcome"], told["message"]
    except FileNotFoundError:
        return "last run", "WARNING", "none is known of", "run `academy nightly`"
    except (OSError, ValueError, KeyError) as fault:
        return "last run", "WARNING", f"its record cannot be read ({fault})", "the next run writes it again"
    if outcome == "not published":
        return "last run", "FAULT", f"did not publish: {message}", "remove the reason and run `academy nightly`"
    return "last run", "OK" if outcome == "published" else "WARNING", message, ""


def log(home: Home) -> Found:
    """Say where runs are told of, how large that is, and whether it can be written."""
    place = run_log.place(home)
    files = list(place.parent.glob(f"{place.name}*")) if place.parent.is_dir() else []
    if not files:
        return "log", "OK", f"{place} begins with the next run", ""
    size = sum(path.stat().st_size for path in files)
    if not os.access(place.parent, os.W_OK | os.X_OK) or (place.exists() and not os.access(place, os.W_OK)):
        return "log", "WARNING", f"{place} cannot be written by this account", "correct its rights"
    return "log", "OK", f"{place}, {size / 1e6:.1f} MB in {len(files)} files, one line of JSON an event", ""


def notebook(home: Home, chosen: Settings) -> Found:
    """Open the notebook without writing."""
    url = chosen.notebook.url
    path = home.path / "notebook.sqlite"
    if not url and not path.exists():
        return "notebook", "OK", "nobody has entered anything yet", ""
    engine = sqlalchemy.create_engine(url or f"sqlite:///file:{path}?mode=ro&uri=true")
    try:
        with engine.connect() as con:
            said = con.execute(sqlalchemy.text("pragma quick_check" if not url else "select 'ok'")).scalar()
    except sqlalchemy.exc.SQLAlchemyError as fault:
        first = str(fault.__cause__ or fault).splitlines()[0]
        return "notebook", "FAULT", f"cannot be opened ({first})", "take it back by `academy restore`"
    finally:
        engine.dispose()
    if said != "ok":
        return "notebook", "FAULT", f"is damaged ({said})", "take it back by `academy restore`"
    return "notebook", "OK", "opens", ""


def leftovers(home: Home) -> Iterator[Found]:
    """Name what killed runs or half copies left behind."""
    found = [*home.published.glob("*.incoming*"), *home.published.glob(".current.*"),
             *home.published.glob("last_run.*.json")]  # fmt: skip
    if found:
        yield "leftovers", "WARNING", f"{len(found)} half-written files in published", "the next run removes them"
    aside = home.private / "unreadable"
    if aside.exists():
        yield "leftovers", "WARNING", f"{aside} holds databases that could not be read", "remove it when looked at"
    half = [path for path in home.landing.glob("shots/*/*") if path.name.endswith((".tmp", ".part", "~"))]
    if half:
        yield "leftovers", "WARNING", f"{len(half)} files in landing/shots look half written", "rename or remove them"
    if not found and not half and not aside.exists():
        yield "leftovers", "OK", "none", ""
