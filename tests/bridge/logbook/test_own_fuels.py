"""The tuner's own fuels: kept, corrected, found by name, and put into the set-ups that name them."""

import pytest

from bridge.bands import session_fuel
from bridge.errors import BadValue, UnknownThing
from bridge.logbook import Logbook
from bridge.model import OwnFuel, Setup, StatedFuel

HILL = OwnFuel(name="Hill mix", blend="toluene=0.3,e5=0.7", afr=14.2)


def test_an_added_fuel_is_there(book):
    """A fuel that was added is found by its name in any case, and listed."""
    book.logbook.add_fuel(HILL)

    assert book.logbook.fuels() == [HILL]
    assert book.logbook.fuel(" hill MIX ") == HILL


def test_the_newest_of_a_name_counts(book):
    """A corrected file takes the place of the earlier one, for set-ups that named it too."""
    book.logbook.add_fuel(HILL)
    number = book.ride()
    book.logbook.set_setup(number, Setup(fuel="Hill mix"))
    book.logbook.add_fuel(OwnFuel(name="hill mix", formula="C7H8"))

    assert len(book.logbook.fuels()) == 1
    assert session_fuel(book.logbook.setup(number))[0].stoich_afr == pytest.approx(13.51183, abs=1e-4)


def test_a_run_brings_the_definition_along(book):
    """The set-up of a run has the own fuel by its definition, with its name, so that no one need ask the logbook."""
    book.logbook.add_fuel(HILL)
    number = book.ride()
    book.logbook.set_setup(number, Setup(fuel="Hill mix", oil_ratio=32, oil_burns=True))
    run = book.logbook.run(number)

    assert run.setup.fuel == HILL
    fuel, note = session_fuel(run.setup)
    assert fuel.name == "Hill mix with oil 32:1"
    assert fuel.stoich_afr == pytest.approx(14.2, abs=0.03)
    assert "taken to burn" in note
    assert book.logbook.written_setup(number).fuel == "Hill mix"


def test_it_is_inherited_by_name(book):
    """The bike's next session has it too, and a built-in fuel written there goes before it."""
    book.logbook.add_fuel(HILL)
    first, second, third = (book.ride(day) for day in (1, 2, 3))
    book.logbook.set_setup(first, Setup(fuel="Hill mix"))
    book.logbook.set_setup(third, Setup(fuel="e5"))

    assert book.logbook.setup(second).fuel == HILL
    assert book.logbook.setup(third).fuel == "e5"


def test_a_setup_with_a_fuel_that_nobody_knows(book):
    """A set-up that names no known fuel is refused with the nearest of the built-in and the own ones."""
    book.logbook.add_fuel(HILL)
    number = book.ride()

    with pytest.raises(UnknownThing, match="did you mean 'hill mix'"):
        book.logbook.set_setup(number, Setup(fuel="hil mix"))
    with pytest.raises(UnknownThing, match="did you mean 'ethanol'"):
        book.logbook.set_setup(number, Setup(fuel="ethanl"))
    assert book.logbook.setup(number).fuel is None


def test_a_fuel_by_table_needs_no_name(book):
    """A fuel stated in the set-up itself is kept and comes back as it was."""
    number = book.ride()
    stated = StatedFuel(mass="C=0.86,H=0.14", density_kg_m3=745, afr=14.6)
    book.logbook.set_setup(number, Setup(fuel=stated))

    assert book.logbook.setup(number).fuel == stated


def test_a_name_that_is_not_there(book):
    """A fuel that was not added is told with the nearest name."""
    book.logbook.add_fuel(HILL)

    with pytest.raises(UnknownThing, match="did you mean 'hill mix'"):
        book.logbook.fuel("hill mux")


@pytest.mark.usefixtures("book")
def test_a_logbook_open_to_read_takes_none(folder):
    """Adding needs a logbook that is open to write."""
    with Logbook.open(folder, write=False) as logbook, pytest.raises(BadValue, match="open to read"):
        logbook.add_fuel(HILL)


def test_it_is_still_there_after_closing(book, folder):
    """An added fuel survives closing and opening."""
    book.logbook.add_fuel(HILL)
    with Logbook.open(folder, write=False) as logbook:
        assert logbook.fuels() == [HILL]
