"""The page's answer to a plan to go leaner."""

from types import SimpleNamespace

from bridge.agreement.leaner import LEANER, LEANER_TWO_STROKE, cautions_of_promise
from bridge.model import Task
from dashboard import todo_calls


def test_the_answer_to_a_leaner_plan_has_its_caution():
    """What is written down leaner is answered with the caution, what is richer without."""

    def add_task(_session, what, *, cylinder, because, promise):
        task = Task(1, 1, cylinder, what, because, promise, None, None, None)
        return task, LEANER if promise > 0 else ""

    source = SimpleNamespace(add_task=add_task)
    raw = {"what": "main jet 160 to 150", "cylinder": "all", "promise": 0.05}
    assert "small steps" in todo_calls._add(source, {"session": 1}, raw)
    assert todo_calls._add(source, {"session": 1}, {**raw, "promise": -0.05}).endswith("150.")


def test_an_engine_that_nobody_named_is_cautioned_as_a_two_stroke():
    """Without a bike the less sure engine is taken."""
    own = SimpleNamespace(id=1, bike=None, started=1, state="sealed")
    logbook = SimpleNamespace(session=lambda _n: own, bikes=list, plug_lives=lambda _n: [])
    assert cautions_of_promise(logbook, 1, None, 0.02) == f"{LEANER} {LEANER_TWO_STROKE}"
