"""The to-do of a session: written before the run, ticked off once, and kept."""

import pytest

from bridge.errors import BadValue, UnknownThing
from bridge.logbook import Logbook


def test_what_is_written_is_listed_by_session_and_by_bike_and_outlives_the_program(book, folder):
    """A task comes back with all that was said, for its session, its bike and after the logbook is opened anew."""
    first, second = book.ride(1), book.ride(2)
    task = book.logbook.add_task(
        first, "main jet 155 to 158", cylinder=2, because="cylinder 2 is lean", promise=-0.02
    )
    other = book.logbook.add_task(second, "leak-down test")

    assert (task.session, task.cylinder, task.promise, task.done) == (first, 2, -0.02, None)
    assert book.logbook.tasks(session=first) == [task]
    assert book.logbook.tasks(bike="Chalk Pit 400") == [task, other]
    with Logbook.open(folder, write=False) as again:
        assert again.tasks() == [task, other]


def test_a_task_is_written_once_while_it_is_open_and_can_come_back_after_it_was_done(book):
    """The same words for the same cylinder are one task; done with a note once; then they are a new one."""
    session = book.ride()
    task = book.logbook.add_task(session, "free-air check")
    assert book.logbook.add_task(session, "free-air check") == task
    assert book.logbook.add_task(session, "free-air check", cylinder=1) != task

    done = book.logbook.finish_task(task.id, "0.207, as it should be")
    assert done.done is not None
    assert done.note == "0.207, as it should be"
    with pytest.raises(BadValue, match="was done on"):
        book.logbook.finish_task(task.id)
    assert book.logbook.add_task(session, "free-air check").id not in {task.id, None}


@pytest.mark.parametrize(
    ("words", "more", "says"),
    [
        ("", {}, "the task is empty"),
        ("swap\x1b[2J", {}, "cannot be seen"),
        ("swap the sensors", {"cylinder": 3}, "there is no cylinder 3; the bike has 2"),
        ("swap the sensors", {"cylinder": 0}, "there is no cylinder 0"),
        ("richer", {"promise": 0.87}, "give the change"),
        ("richer", {"promise": 0.0}, "give the change"),
        ("richer", {"promise": float("nan")}, "give the change"),
    ],
)
def test_what_cannot_stand_is_refused_and_nothing_is_written(book, words, more, says):
    """An empty or unprintable task, a cylinder that is not there, a mixture in place of a change."""
    session = book.ride()
    with pytest.raises(BadValue, match=says):
        book.logbook.add_task(session, words, **more)
    assert book.logbook.tasks() == []


def test_what_is_not_there_is_said(book):
    """A session and a task that nobody knows."""
    with pytest.raises(UnknownThing, match="no session 7"):
        book.logbook.add_task(7, "swap the sensors")
    with pytest.raises(UnknownThing, match="no task 3"):
        book.logbook.finish_task(3)
    with pytest.raises(UnknownThing, match="no session 7"):
        book.logbook.tasks(session=7)
