"""A signed word beside each published version: its bytes, the code and the inputs it was made of; and which is good.

The signature is Ed25519 (RFC 8032). Its secret half lies in the pipeline's own folder and is read by its owner alone;
the public half lies beside it, for readers. A version whose bytes, manifest or signature do not agree is never read:
the newest one that is good is. Not here: how a version comes to be (publish.py), how a page says it.
"""

from __future__ import annotations

import base64
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache, lru_cache
from hashlib import sha256
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import duckdb
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat

from warehouse.home import Home
from warehouse.schema import entered

SUFFIX = ".manifest.json"
SLICE = 1 << 20
CODE = (".py", ".sql", ".toml")
INPUTS = {
    "exports": "select path, content_hash, settings_hash from raw.export_file where in_force order by all",
    "tables": "select name, content_hash from raw.reference_file order by all",
}
"""What a publication was made of, as the landing steps noted it."""


@dataclass(frozen=True)
class Damaged:
    """A published version that is passed over, and why."""

    name: str
    why: str


@dataclass(frozen=True)
class GoodVersion:
    """Which published version is to be read.

    Attributes
    ----------
    path
        The version, resolved; None where there is none that is good.
    damaged
        Newer ones that were passed over, the newest first; empty where all is well.
    """

    path: Path | None
    damaged: tuple[Damaged, ...] = field(default=())


def manifest_of(published: Path) -> Path:
    """Return where a version's manifest lies."""
    return published.with_name(published.stem + SUFFIX)


def good_version(home: Home) -> GoodVersion:
    """Return the published version to read: the current one, or where that is damaged the newest that is good."""
    damaged: list[Damaged] = []
    for candidate in _candidates(home):
        why = fault(home, candidate)
        if why is None:
            return GoodVersion(candidate, tuple(damaged))
        damaged.append(Damaged(candidate.name, why))
    return GoodVersion(None, tuple(damaged))


def _candidates(home: Home) -> Iterator[Path]:
    """Yield the version that is current, then the others, newest first."""
    current = _target(home.current)
    if current is not None:
        yield current
    others = (path for path in home.published.glob("*.duckdb") if not path.is_symlink() and path.name[0] != ".")
    for path in sorted(others, key=lambda path: path.stem.rsplit("_", 1)[-1], reverse=True):
        if current is None or path.name != current.name:
            yield path


def _target(link: Path) -> Path | None:
    """Return what current.duckdb leads to, there or not; None where there is no such link."""
    try:
        return link.resolve() if link.is_symlink() or link.exists() else None
    except (OSError, RuntimeError):
        return None


def fault(home: Home, published: Path) -> str | None:
    """Return what is wrong with a published version; None where it is good.

    A file that was looked at and has not changed since is not read again by this process.
    """
    try:
        found = published.stat()
    except OSError:
        return "is not there"
    key = _public_key(home)
    beside = manifest_of(published)
    try:
        said = beside.read_bytes()
    except FileNotFoundError:
        # An older program signed nothing; once a home signs, a file without its word is nobody's.
        return "has no manifest" if key is not None else _opens(str(published), found.st_size, found.st_mtime_ns)
    except OSError as error:
        return f"its manifest cannot be read ({error.strerror})"
    state = (found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns)
    return _checked(str(published), state, said, key)


@lru_cache(maxsize=256)
def _checked(published: str, state: tuple[int, ...], said: bytes, key: bytes | None) -> str | None:
    """Compare a file with its manifest."""
    try:
        told = json.loads(said)
        signature = base64.b64decode(told.pop("signature"), validate=True)
        name, size, digest = told["file"], told["bytes"], told["sha256"]
    except (ValueError, KeyError, AttributeError, TypeError, RecursionError):
        return "its manifest cannot be read"
    if key is not None:
        try:
            Ed25519PublicKey.from_public_bytes(key).verify(signature, _canonical(told))
        except (InvalidSignature, ValueError):
            return "its manifest is not signed by this home"
    if name != Path(published).name:
        return "its manifest is another file's"
    if size != state[1]:
        return f"holds {state[1]:,} bytes where {size:,} were published"
    try:
        return None if hash_of(Path(published)) == digest else "its content is not what was published"
    except OSError as error:
        return f"cannot be read ({error.strerror})"


@lru_cache(maxsize=64)
def _opens(published: str, _size: int, _modified: int) -> str | None:
    """Return why an unsigned file cannot be opened."""
    try:
        with duckdb.connect(published, read_only=True, config={"enable_external_access": "false"}) as opened:
            opened.execute("select count(*) from mart.dictionary").fetchone()
    except duckdb.ConnectionException:
        return None  # this process has it open already
    except duckdb.Error as error:
        return f"cannot be opened ({str(error).splitlines()[0][:200]})"
    return None


def hash_of(path: Path) -> str:
    """Return the SHA-256 of a file's bytes."""
    digest = sha256()
    with path.open("rb") as file:
        while piece := file.read(SLICE):
            digest.update(piece)
    return digest.hexdigest()


def sign(home: Home, published: Path, made_of: dict[str, Any]) -> Path:
    """Write a version's manifest beside it.

    Parameters
    ----------
    published
        The version as it lies there.
    made_of
        Code and inputs, as `made_of` returns them.
    """
    said: dict[str, Any] = {
        "file": published.name,
        "bytes": published.stat().st_size,
        "sha256": hash_of(published),
        "signed_at": datetime.now(UTC).isoformat(timespec="seconds"),
        **made_of,
    }
    said["signature"] = base64.b64encode(_secret_key(home).sign(_canonical(said))).decode()
    beside = manifest_of(published)
    incoming = beside.with_suffix(".incoming")
    incoming.write_text(json.dumps(said, indent=2) + "\n", encoding="utf-8")
    os.replace(incoming, beside)
    return beside


@contextmanager
def still_signed(home: Home, published: Path) -> Iterator[None]:
    """Sign a file again that is changed meanwhile, where it was a good version before: code and inputs as told."""
    signed = manifest_of(published).exists() and fault(home, published) is None
    yield
    if signed:
        told = json.loads(manifest_of(published).read_text(encoding="utf-8"))
        sign(home, published, {key: told[key] for key in ("code", "inputs") if key in told})


def in_words(good: GoodVersion) -> str | None:
    """Return what a reader has to know of the version that is read; None where all is well."""
    if not good.damaged:
        return None
    first = good.damaged[0]
    stands = f"the last good version, {good.path.name}, is read instead" if good.path else "no older one is good"
    return f"the published file is damaged ({first.name} {first.why}): {stands}; run `academy nightly`"


def made_of(connection: duckdb.DuckDBPyConnection) -> dict[str, Any]:
    """Return what a publication is made of: the code, and the inputs as the landing steps noted them."""
    digest, counts = sha256(), dict[str, int]()
    for name, select in INPUTS.items():
        rows = _rows(connection, select)
        counts[name] = len(rows)
        digest.update(repr(rows).encode())
    for table in entered.TABLES:
        asked = f"select count(*), bit_xor(hash(hash(entry))) from {table.name} as entry"
        digest.update(repr(_rows(connection, asked)).encode())
    return {"code": code(), "inputs": {"sha256": digest.hexdigest(), **counts}}


def _rows(connection: duckdb.DuckDBPyConnection, select: str) -> list[tuple]:
    """Return a select's rows; none where the table is not there, as in a home that has no such input."""
    try:
        return connection.execute(select).fetchall()
    except duckdb.CatalogException:
        return []


@cache
def code() -> dict[str, str]:
    """Return which program this is: its version, the database's, and a hash of what is written in `warehouse`."""
    root, digest = Path(__file__).parents[1], sha256()
    for path in sorted(path for path in root.rglob("*") if path.suffix in CODE):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    try:
        program = version("drill-evidence")
    except PackageNotFoundError:
        program = "not installed"
    return {"sha256": digest.hexdigest(), "program": program, "duckdb": duckdb.__version__}


def _canonical(said: dict[str, Any]) -> bytes:
    return json.dumps(said, sort_keys=True, separators=(",", ":")).encode()


def _secret_key(home: Home) -> Ed25519PrivateKey:
    """Return the home's key, made on first use; its file is its owner's alone from its first byte."""
    path = home.private / "signing.key"
    try:
        key = Ed25519PrivateKey.from_private_bytes(path.read_bytes())
    except (FileNotFoundError, ValueError):
        key = Ed25519PrivateKey.generate()
        secret = key.private_bytes(Encoding.Raw, PrivateFormat.Raw, NoEncryption())
        home.private.mkdir(parents=True, exist_ok=True)
        incoming = path.with_suffix(".incoming")
        incoming.unlink(missing_ok=True)
        with os.fdopen(os.open(incoming, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(secret)
        os.replace(incoming, path)
    public = key.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
    beside = _public_path(home)
    if not beside.exists() or beside.read_bytes() != public:
        incoming = beside.with_suffix(".pub.incoming")
        incoming.write_bytes(public)
        os.replace(incoming, beside)
    return key


def _public_path(home: Home) -> Path:
    return home.private / "signing.pub"


def _public_key(home: Home) -> bytes | None:
    """Return the key by which this home's manifests are checked; None where it never signed one."""
    try:
        return _public_path(home).read_bytes()
    except OSError:
        return None
