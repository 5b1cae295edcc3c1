"""Backing up and restoring: everything comes back, from either database, and nothing is ever half replaced."""

from __future__ import annotations

import io
import json
import resource
import threading
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, connections
from django.db.migrations.executor import MigrationExecutor
from django.test import Client

from config.archive import ArchiveError, snapshots
from config.archive.aliases import connection_like, taken_for_default
from config.archive.building import build
from config.archive.reading import checked, is_safe_name
from config.archive.restoring import is_empty_install, restore
from config.archive.tables import models_after
from config.databases import SQLITE_OPTIONS
from plots.models import Person, Property
from plots.services.plots import create_property
from tests.config.archives import Files, contents, furnish, moment, packed, relisted, unpacked, upload, write
from tests.factories import make_person

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def empty_folders(tmp_path: Path, settings: object) -> None:
    """Uploads and backups of each test's own."""
    settings.DATA = tmp_path / "data"  # type: ignore[attr-defined]
    settings.DATA.mkdir()  # type: ignore[attr-defined]
    settings.MEDIA_ROOT = settings.DATA / "uploads"  # type: ignore[attr-defined]


@pytest.fixture
def sqlite_beside(tmp_path: Path) -> Iterator[str]:
    """The alias of an empty SQLite database beside the one in use, whichever that is."""
    changes = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(tmp_path / "beside.sqlite3"), "HOST": "", "PORT": ""}
    with connection_like(OPTIONS=dict(SQLITE_OPTIONS), **changes) as alias:
        yield alias


def test_everything_comes_back(tmp_path: Path):
    furnish()
    kept = upload("reports/2026/lab.csv", b"pH\n6.1\n")
    before = write(tmp_path / "farm.zip")
    Property.objects.all().delete()
    make_person("newcomer")
    kept.unlink()

    done = restore(tmp_path / "farm.zip", now=moment())

    assert contents(write(tmp_path / "again.zip")) == contents(before)
    assert Property.objects.get().name == "Müller’s ground"
    assert Property.history.count() == 2
    assert not Person.objects.filter(username="newcomer").exists()
    assert kept.read_bytes() == b"pH\n6.1\n"
    assert done.snapshot is not None


def test_the_snapshot_brings_back_what_a_restore_replaced(tmp_path: Path):
    furnish("FIRST")
    write(tmp_path / "first.zip")
    furnish("SECOND")
    both = contents(write(tmp_path / "both.zip"))
    done = restore(tmp_path / "first.zip", now=moment())
    assert [one.code for one in Property.objects.all()] == ["FIRST"]
    assert done.snapshot is not None
    restore(done.snapshot, now=moment())
    assert contents(write(tmp_path / "again.zip")) == both


def test_new_rows_after_a_restore_get_new_keys(tmp_path: Path):
    furnish("FIRST")
    write(tmp_path / "first.zip")
    restore(tmp_path / "first.zip", now=moment())
    made = create_property(by=Person.objects.get(), code="NEXT", name="Next")
    assert made.pk > Property.objects.get(code="FIRST").pk


def test_an_archive_moves_between_the_databases_and_back(tmp_path: Path, sqlite_beside: str):
    furnish()
    first = write(tmp_path / "first.zip")
    with checked(tmp_path / "first.zip") as archive:
        build(sqlite_beside, archive)
    second = write(tmp_path / "second.zip", source=sqlite_beside)
    assert contents(second) == contents(first)
    restore(tmp_path / "second.zip", now=moment())
    assert contents(write(tmp_path / "third.zip")) == contents(first)


def test_an_archive_of_an_older_version_is_brought_up_to_this_one(tmp_path: Path, sqlite_beside: str):
    older = [("plots", "0001_first"), ("sessions", "0001_initial")]
    with taken_for_default(sqlite_beside):
        MigrationExecutor(connections[sqlite_beside]).migrate(older)
    nodes = [("auth", "0012_alter_user_first_name_max_length"), *older]
    models = {model._meta.label_lower: model for model in models_after(nodes)}
    models["plots.person"].objects.using(sqlite_beside).create(username="ancestor", password="!")
    write(tmp_path / "older.zip", source=sqlite_beside)
    restore(tmp_path / "older.zip", now=moment())
    assert Person.objects.get().username == "ancestor"
    executor = MigrationExecutor(connection)
    assert executor.migration_plan(executor.loader.graph.leaf_nodes()) == []


def test_everybody_is_signed_out_by_a_restore(tmp_path: Path, client: Client):
    furnish()
    write(tmp_path / "farm.zip")
    client.force_login(Person.objects.get())
    assert Session.objects.count() == 1
    restore(tmp_path / "farm.zip", now=moment())
    assert Session.objects.count() == 0
    assert client.get("/settings/password/").status_code == 302


def test_an_archive_is_as_of_one_moment_while_others_write(tmp_path: Path, deep_count: Callable[[int, int], int]):
    """Pairs are written together; an archive that saw half of one would not be of one moment."""
    over = threading.Event()

    def write_pairs() -> None:
        number = 0
        try:
            while not over.is_set():
                number += 1
                with connections["default"].cursor() as cursor:
                    statement = (
                        "INSERT INTO plots_person (username, password, first_name, last_name, email, is_superuser, "
                        "is_staff, is_active, date_joined, is_operator, wants_digest) VALUES "
                        "(%s,'','','','',%s,%s,%s,'2026-01-01',%s,%s)"
                    )
                    rest = [False, False, True, False, False]
                    cursor.execute("BEGIN")
                    cursor.execute(statement, [f"left{number}", *rest])
                    cursor.execute(statement, [f"right{number}", *rest])
                    cursor.execute("COMMIT")
        finally:
            connections.close_all()

    writer = threading.Thread(target=write_pairs)
    writer.start()
    try:
        for number in range(deep_count(5, 60)):
            path = tmp_path / f"{number}.zip"
            write(path)
            names = [json.loads(line)["username"] for line in unpacked(path)["tables/plots.person.jsonl"].splitlines()]
            lefts = {name.removeprefix("left") for name in names if name.startswith("left")}
            rights = {name.removeprefix("right") for name in names if name.startswith("right")}
            assert lefts == rights
            path.unlink()
    finally:
        over.set()
        writer.join()
    assert Person.objects.count() > 0


def test_an_archive_is_for_its_owner_only_and_holds_no_sessions(tmp_path: Path, client: Client):
    furnish()
    client.force_login(Person.objects.get())
    write(tmp_path / "farm.zip")
    assert (tmp_path / "farm.zip").stat().st_mode & 0o077 == 0
    names = set(unpacked(tmp_path / "farm.zip"))
    assert "tables/plots.person.jsonl" in names
    assert not {name for name in names if "session" in name or "axes" in name or "jobclaim" in name}


def test_nothing_is_left_where_no_archive_could_be_written(tmp_path: Path):
    furnish()
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (2_000, hard))  # as a full disk would: a write fails in the middle
    try:
        with pytest.raises(ArchiveError, match="cannot be written"):
            write(tmp_path / "out" / "farm.zip")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert list((tmp_path / "out").iterdir()) == []


def flipped(data: bytes, at: int) -> bytes:
    return data[:at] + bytes([data[at] ^ 0xFF]) + data[at + 1 :]


def test_no_flipped_byte_changes_what_is_read(tmp_path: Path, deep_count: Callable[[int, int], int]):
    """Each is refused, or stands where the form of the file keeps nothing (a time, a second copy of a size)."""
    furnish()
    write(tmp_path / "farm.zip")
    data, whole = (tmp_path / "farm.zip").read_bytes(), unpacked(tmp_path / "farm.zip")
    refused, count = 0, deep_count(150, 3000)
    for number in range(count):
        (tmp_path / "spoilt.zip").write_bytes(flipped(data, number * len(data) // count))
        try:
            with checked(tmp_path / "spoilt.zip") as archive:
                read = {name: archive.file.read(name) for name in archive.manifest.members()}
        except ArchiveError:
            refused += 1
        else:
            assert read == {name: whole[name] for name in read}
    assert refused > count / 2


@pytest.mark.parametrize(
    "spoil",
    [lambda data: flipped(data, data.index(b".jsonl") + 200), lambda data: data[: len(data) // 2], lambda data: b""],
)
def test_a_damaged_file_is_refused_and_nothing_changed(tmp_path: Path, spoil: Callable[[bytes], bytes]):
    furnish()
    before = contents(write(tmp_path / "farm.zip"))
    (tmp_path / "spoilt.zip").write_bytes(spoil((tmp_path / "farm.zip").read_bytes()))
    with pytest.raises(ArchiveError):
        restore(tmp_path / "spoilt.zip", now=moment())
    assert contents(write(tmp_path / "again.zip")) == before
    assert not snapshots.folder().exists()  # refused before anything was done


def _with(name: str, data: bytes) -> Callable[[Files], Files]:
    return lambda files: {**files, name: data}


def _listed(name: str) -> Callable[[Files], Files]:
    def forge(files: Files) -> Files:
        listed = {"bytes": 1, "sha256": "2d711642b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"}
        return relisted({**files, f"uploads/{name}": b"x"}, lambda m: m["uploads"].update({name: listed}))

    return forge


def _changed(change: Callable[[dict], object]) -> Callable[[Files], Files]:  # type: ignore[type-arg]
    return lambda files: relisted(files, lambda manifest: change(manifest) and None)


ROWS = "tables/plots.property.jsonl"
FORGERIES: dict[str, tuple[Callable[[Files], Files], str]] = {
    "unlisted": (_with("tables/extra.jsonl", b""), "unlisted member"),
    "outside": (_listed("../../evil"), "unsafe name"),
    "absolute": (_listed("/etc/evil"), "unsafe name"),
    "backslash": (_listed("..\\evil"), "unsafe name"),
    "missing": (lambda files: {k: v for k, v in files.items() if "plots.role" not in k}, "no member"),
    "altered": (lambda files: {**files, ROWS: files[ROWS].replace(b"HOME", b"HOMF")}, "checksum"),
    "manifest altered": (lambda files: {**files, "manifest.json": files["manifest.json"] + b" "}, "manifest"),
    "newer form": (_changed(lambda m: m.update(form_version=99)), "newer form"),
    "other form": (_changed(lambda m: m.update(form="other")), "not a Sweetground archive"),
    "newer program": (_changed(lambda m: m["migrations"].append(["plots", "0999_later"])), "plots.0999_later"),
    "no manifest": (lambda files: {k: v for k, v in files.items() if k != "manifest.json"}, "no manifest"),
    "too large": (_changed(lambda m: m["tables"]["plots.role"].update(bytes=10**15)), "not as many as listed"),
    "empty manifest": (lambda files: relisted(files) | {"manifest.json": b"{}"}, "manifest"),
}


@pytest.mark.parametrize("name", FORGERIES)
def test_a_forged_archive_is_refused_and_nothing_changed(tmp_path: Path, name: str):
    forge, reason = FORGERIES[name]
    furnish()
    before = contents(write(tmp_path / "farm.zip"))
    packed(tmp_path / "forged.zip", forge(unpacked(tmp_path / "farm.zip")))
    with pytest.raises(ArchiveError, match=reason):
        restore(tmp_path / "forged.zip", now=moment())
    assert contents(write(tmp_path / "again.zip")) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["again.zip", "data", "farm.zip", "forged.zip"]


def test_a_link_in_an_archive_is_refused(tmp_path: Path):
    furnish()
    write(tmp_path / "farm.zip")
    info = zipfile.ZipInfo("uploads/link")
    info.external_attr = 0o120777 << 16
    with zipfile.ZipFile(tmp_path / "farm.zip", "a") as file:
        file.writestr(info, "/etc/passwd")
    with pytest.raises(ArchiveError, match="link"):
        restore(tmp_path / "farm.zip", now=moment())


@pytest.mark.parametrize("name", ["a/b.csv", "reports/2026/x y.csv", "ü.csv"])
def test_plain_names_are_safe(name: str):
    assert is_safe_name(name)


BROKEN_ROWS = {
    "no column": (lambda row: row.pop("code"), "has not the columns"),
    "one more column": (lambda row: row.update(extra=1), "has not the columns"),
    "not a number": (lambda row: row.update(trigger_gap="much"), "cannot be read"),
    "nothing where something must be": (lambda row: row.update(name=None), "do not fit"),
    "no such person": (lambda row: None, "do not belong together"),
}


@pytest.mark.parametrize("name", BROKEN_ROWS)
def test_rows_that_do_not_fit_leave_everything_as_it_was(tmp_path: Path, name: str):
    spoil, reason = BROKEN_ROWS[name]
    furnish()
    upload("old.csv", b"old")
    before = contents(write(tmp_path / "farm.zip"))
    files = unpacked(tmp_path / "farm.zip")
    row = json.loads(files[ROWS])
    spoil(row)
    files[ROWS] = json.dumps(row).encode() + b"\n"
    if name == "no such person":
        files["tables/plots.person.jsonl"] = b""
    packed(tmp_path / "forged.zip", relisted(files))
    with pytest.raises(ArchiveError, match=reason):
        restore(tmp_path / "forged.zip", now=moment())
    assert contents(write(tmp_path / "again.zip")) == before
    assert [path.name for path in Path(settings.MEDIA_ROOT).rglob("*")] == ["old.csv"]


def test_uploads_of_a_refused_restore_are_taken_away_again(tmp_path: Path):
    furnish()
    path = upload("new.csv", b"new")
    write(tmp_path / "farm.zip")
    path.unlink()
    files = unpacked(tmp_path / "farm.zip")
    files["tables/plots.person.jsonl"] = b""
    packed(tmp_path / "forged.zip", relisted(files))
    with pytest.raises(ArchiveError):
        restore(tmp_path / "forged.zip", now=moment())
    assert not path.exists()


def test_an_upload_that_differs_is_replaced_with_the_rows(tmp_path: Path):
    furnish()
    path = upload("lab.csv", b"as it was")
    write(tmp_path / "farm.zip")
    path.write_bytes(b"changed since")
    restore(tmp_path / "farm.zip", now=moment())
    assert path.read_bytes() == b"as it was"


def test_the_commands_ask_before_they_destroy(tmp_path: Path):
    furnish()
    call_command("backup", str(tmp_path / "farm.zip"), stdout=io.StringIO())
    assert not is_empty_install()
    with pytest.raises(CommandError, match="give --yes"):
        call_command("restore", str(tmp_path / "farm.zip"))
    with pytest.raises(CommandError, match="Nothing was changed"):
        call_command("restore", str(tmp_path / "none.zip"), yes=True)


def test_an_install_without_people_is_not_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    furnish()
    call_command("backup", str(tmp_path / "farm.zip"), json=True)
    told = json.loads(capsys.readouterr().out)
    assert told["rows"] > 3
    Property.objects.all().delete()
    Person.objects.all().delete()
    call_command("restore", str(tmp_path / "farm.zip"), json=True)
    assert json.loads(capsys.readouterr().out)["rows"] == told["rows"]
    assert Property.objects.count() == 1


def test_only_the_newest_of_a_kind_are_kept():
    snapshots.folder().mkdir()
    for day in range(1, 21):
        (snapshots.folder() / f"daily-2026-03-{day:02}.zip").touch()
    (snapshots.folder() / "before-restore-2026-01-01-000000-000000.zip").touch()
    dropped = snapshots.rotate("daily", 14)
    assert [path.name for path in dropped] == [f"daily-2026-03-{day:02}.zip" for day in range(1, 7)]
    assert len(snapshots.kept()) == 15
