"""A database server for the tests, where its programs are installed, in a temporary folder of its own."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import psycopg

HINT = "PostgreSQL is not installed here (Debian: apt install postgresql): tried with the embedded database only."
# after a crash of the machine the tests begin anew; and a database lives too shortly to be tidied
NOTHING_LASTS = "-c fsync=off -c full_page_writes=off -c synchronous_commit=off -c autovacuum=off"
MEMORY = Path("/dev/shm")  # Linux keeps what is written there in memory
ROOM_BYTES = 4 << 30  # for hundreds of databases of 7 MB, in each of some processes
_numbers = count(1)


def server_programs() -> Path | None:
    """Folder of the server's programs; None where it is not installed."""
    found = shutil.which("initdb")
    if found:
        return Path(found).parent
    return max(Path("/usr/lib/postgresql").glob("*/bin"), key=lambda p: int(p.parent.name), default=None)


def _room_in_memory() -> Path | None:
    """Where files are quicker than on a disk, if there is room for them."""
    return MEMORY if MEMORY.is_dir() and shutil.disk_usage(MEMORY).free > ROOM_BYTES else None


@contextmanager
def server(programs: Path) -> Iterator[str]:
    """A server that only this machine's user reaches, by a socket; gives what follows ``postgresql://postgres@/name``.

    It refuses to run as root, so that it is then run as a user without rights.
    """
    folder = Path(tempfile.mkdtemp(prefix="bw-", dir=_room_in_memory() or ("/tmp" if os.name == "posix" else None)))
    who = {"user": "nobody", "extra_groups": []} if hasattr(os, "geteuid") and os.geteuid() == 0 else {}
    if who:
        shutil.chown(folder, "nobody")
    data = folder / "data"

    def run(*words: str) -> None:
        subprocess.run([str(programs / words[0]), *words[1:]], check=True, capture_output=True, cwd=folder, **who)

    run("initdb", "-D", str(data), "-U", "postgres", "-A", "trust", "-E", "UTF8", "--no-sync", "--locale=C")
    options = f"-c listen_addresses= -c unix_socket_directories={folder} {NOTHING_LASTS}"
    run("pg_ctl", "-D", str(data), "-w", "-l", str(folder / "log"), "-o", options, "start")
    try:
        yield f"?host={folder}"
    finally:
        run("pg_ctl", "-D", str(data), "-w", "-m", "immediate", "stop")
        # hundreds of databases take half a minute to remove: nobody waits for it
        remove = f"import shutil; shutil.rmtree({str(folder)!r}, ignore_errors=True)"
        subprocess.Popen([sys.executable, "-c", remove], start_new_session=True)


def new_database(reach: str, like: str = "template1") -> str:
    """Address of a new database on the server, empty or a copy of another one that nobody is using."""
    name = f"shop{os.getpid()}_{next(_numbers)}"
    with psycopg.connect(f"postgresql://postgres@/postgres{reach}", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name} TEMPLATE {like}")
    return f"postgresql://postgres@/{name}{reach}"


def name_in(address: str) -> str:
    """Name of the database at an address."""
    return address.partition("@/")[2].partition("?")[0]
