"""A reader while a writer writes, writers that wait for each other, and the lock of a recording."""

import subprocess
import sys
import threading
from datetime import UTC, datetime

from bridge.logbook import Logbook

STARTED = datetime(2026, 5, 14, 9, 20, tzinfo=UTC)


def test_a_reader_sees_one_moment_while_a_writer_writes(book, folder):
    """A reader is not shut out by a writer, and sees nothing half done."""
    with Logbook.open(folder, write=False) as reader:
        with book.logbook._writing() as connection:
            connection.exec_driver_sql("INSERT INTO bikes (name) VALUES ('Half')")
            assert len(reader.bikes()) == 1
            with reader._reading() as looking:
                assert looking.exec_driver_sql("SELECT count(*) FROM bikes").scalar() == 1
        with reader._reading() as looking:
            assert looking.exec_driver_sql("SELECT count(*) FROM bikes").scalar() == 2


def test_writers_wait_for_each_other(book, folder):
    """Many threads and another process write at once, and nothing is lost."""
    session = book.ride()
    script = (
        "import sys\nfrom pathlib import Path\nfrom bridge.logbook import Logbook\n"
        "with Logbook.open(Path(sys.argv[1]), write=True) as logbook:\n"
        "    for i in range(20):\n        logbook.add_mark(1, i / 10, 'mark')\n"
    )

    def mark():
        for i in range(20):
            book.logbook.add_mark(session, 5 + i / 10, "lap")

    threads = [threading.Thread(target=mark) for _ in range(2)]
    with subprocess.Popen([sys.executable, "-c", script, str(folder)], stderr=subprocess.PIPE) as other:
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert other.wait(60) == 0, other.stderr.read()
    words = [mark.what for mark in book.logbook.run(session).marks]
    assert (words.count("mark"), words.count("lap")) == (20, 40)


def test_a_recording_that_goes_on_is_left_alone(book, folder):
    """A recording goes on for others until its logbook is closed, and then it was left."""
    with Logbook.open(folder, write=True) as recorder:
        session = recorder.new_session(bike=None, place=None, source="/dev/ttyX", started=STARTED)
        assert book.logbook.unfinished() == [session]
        for logbook in (recorder, book.logbook):
            with logbook.left_behind(session) as left:
                assert not left
    with book.logbook.left_behind(session) as left:
        assert left
        with Logbook.open(folder, write=True) as other, other.left_behind(session) as twice:
            assert not twice


def test_a_recording_in_another_process_is_left_alone_until_that_is_gone(book, folder):
    """The lock of a recording falls when its process ends, even when it is killed."""
    script = (
        "import sys\nfrom datetime import datetime, UTC\nfrom pathlib import Path\n"
        "from bridge.logbook import Logbook\n"
        "logbook = Logbook.open(Path(sys.argv[1]), write=True)\n"
        "now = datetime.now(UTC)\n"
        "print(logbook.new_session(bike=None, place=None, source='x', started=now), flush=True)\n"
        "sys.stdin.read()\n"
    )
    command = [sys.executable, "-c", script, str(folder)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        session = int(process.stdout.readline())
        with book.logbook.left_behind(session) as left:
            assert not left
        process.kill()
        process.wait(10)
    with book.logbook.left_behind(session) as left:
        assert left


def test_a_finished_recording_was_not_left(book):
    """A recording that was given up is no longer unfinished, and its lock is gone from the folder."""
    session = book.logbook.new_session(bike=None, place="pit lane", source="x", started=STARTED, kind="dyno")
    book.logbook.give_up(session, "the wire is of a later version")

    assert book.logbook.unfinished() == []
    assert (book.logbook.session(session).state, book.logbook.session(session).kind) == (
        "interrupted",
        "dyno",
    )
    assert not list(book.folder.rglob("*.lock"))
    with book.logbook.left_behind(session) as left:
        assert not left
