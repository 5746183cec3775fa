"""From a cylinder's set-up to the geometry of its needle."""

from bridge.model.setup import CylinderSetup
from bridge.physics.jets import NeedleGeometry


def needle_geometry(setup: CylinderSetup) -> NeedleGeometry | None:
    """Return the geometry of needle, needle jet and main jet.

    Args:
        setup: of one cylinder, as ``Setup.of_cylinder`` gives it.

    Returns:
        The geometry, or None where one of ``needle``, ``needle_jet_bore_mm``, ``main_jet_bore_mm`` and
        ``slide_travel_mm`` is not known, or where the needle does not go into its jet.
    """
    needle, bore = setup.needle, setup.needle_jet_bore_mm
    main, travel = setup.main_jet_bore_mm, setup.slide_travel_mm
    if needle is None or bore is None or main is None or travel is None or needle.straight_mm >= bore:
        return None
    return NeedleGeometry(bore, needle.straight_mm, needle.taper_start_mm, needle.taper_deg, main, travel)
