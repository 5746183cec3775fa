"""The demo's logbook, built from sample_logs/ through the code that a user's data takes."""

import hashlib
import shutil
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.cli.context import moment
from bridge.errors import BadFile, BadValue

if TYPE_CHECKING:
    from bridge.logbook import Logbook

SAMPLES = Path(__file__).resolve().parents[2] / "sample_logs"
MARKER = "demo.sha256"


@dataclass(frozen=True)
class Entry:
    """One session of the season, as season.toml tells it."""

    file: str
    bike: str
    started: str
    place: str
    setup: str | None = None
    map: str | None = None
    fit: list[dict[str, Any]] = field(default_factory=list)
    read: list[dict[str, Any]] = field(default_factory=list)
    pull: str | None = None
    """``all`` or ``all, order lost``."""
    rebuilt: str | None = None
    """What was rebuilt before this session."""
    todo: list[dict[str, Any]] = field(default_factory=list)
    """What was written down to be done after it."""


def demo_folder() -> Path:
    """Return the folder of the demo's own logbook, apart from the user's."""
    import platformdirs  # noqa: PLC0415  # start-up

    return Path(platformdirs.user_data_dir("sootline-demo", appauthor=False))


def build(folder: Path, samples: Path = SAMPLES) -> int:
    """Build the demo's logbook, unless it stands there already as built from the same samples.

    Args:
        folder: where it goes; empty, missing, or an earlier demo's.
        samples: the folder with season.toml.

    Returns:
        How many sessions there are.

    Raises:
        BadValue: the folder holds something else.
        BadFile: the samples are not there.
    """
    season = samples / "season.toml"
    if not season.is_file():
        raise BadFile(f"the demo's samples are not at {samples}; run it from a checkout, or install it anew")
    told = tomllib.loads(season.read_text(encoding="utf-8"))
    entries = [Entry(**entry) for entry in told["session"]]
    digest = _digest(samples)
    if folder.exists() and any(folder.iterdir()):
        marker = folder / MARKER
        if not marker.is_file():
            raise BadValue(f"{folder} holds something that is no demo; name an empty folder by --logbook")
        if marker.read_text(encoding="ascii").strip() == digest:
            _bring_up_to_date(folder)
            return len(entries)
        shutil.rmtree(folder)
    _fill(folder, samples, told, entries)
    (folder / MARKER).write_text(digest + "\n", encoding="ascii")
    return len(entries)


def _bring_up_to_date(folder: Path) -> None:
    """Open an earlier demo's logbook to write, which gives it the tables of this version."""
    from bridge.logbook import Logbook  # noqa: PLC0415  # start-up

    Logbook.open(folder, write=True).close()


def _digest(samples: Path) -> str:
    found = hashlib.sha256()
    for path in sorted(p for p in samples.rglob("*") if p.is_file() and "__pycache__" not in p.parts):
        found.update(path.relative_to(samples).as_posix().encode() + b"\0" + path.read_bytes())
    return found.hexdigest()


def _fill(folder: Path, samples: Path, told: dict[str, Any], entries: list[Entry]) -> None:
    from bridge.logbook import Logbook  # noqa: PLC0415  # start-up
    from bridge.model.files import read_bike  # noqa: PLC0415  # start-up

    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARKER).write_text("unfinished\n", encoding="ascii")
    with Logbook.open(folder, write=True) as logbook:
        for bike in told["bike"]:
            logbook.add_bike(read_bike(samples / bike["file"]))
            for word in bike.get("scale", []):
                logbook.state_scale(
                    bike["name"], depth_mm=word["mm"], sd_mm=word["sd_mm"], lambda_=word["lambda"]
                )
        for entry in entries:
            _add_session(logbook, samples, entry)


def _add_session(logbook: "Logbook", samples: Path, entry: Entry) -> None:
    from bridge.model.files import read_setup  # noqa: PLC0415  # start-up
    from bridge.sealing import import_log  # noqa: PLC0415  # start-up

    if entry.rebuilt:
        logbook.rebuilt(entry.bike, entry.rebuilt)
    done = import_log(
        logbook,
        samples / entry.file,
        map_file=samples / entry.map if entry.map else None,
        bike=entry.bike,
        started=moment(entry.started)[0],
        place=entry.place,
        again=False,
    )
    if entry.setup:
        logbook.set_setup(done.session, read_setup(samples / entry.setup))
    for plug in entry.fit:
        logbook.fit(session=done.session, **{"type": None, "nose_mm": None, "heat_range": None, **plug})
    for seen in entry.read:
        logbook.read(session=done.session, **seen)
    if entry.pull:
        logbook.pull_all(done.session, order_lost="order lost" in entry.pull)
    for told in entry.todo:
        words = {key: value for key, value in told.items() if key != "done"}
        task = logbook.add_task(done.session, **words)
        if "done" in told:
            logbook.finish_task(task.id, told["done"])
