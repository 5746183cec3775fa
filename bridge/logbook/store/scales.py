"""The tuner's own word on where the ring should sit."""

from sqlalchemy import select

from bridge.errors import BadValue
from bridge.logbook import tables
from bridge.logbook.store.base import Store, now
from bridge.logbook.store.bikes import bike_row
from bridge.model import ScaleStatement
from bridge.model.rules import sd_is_possible


class Scales(Store):
    """Ring scales as stated."""

    def state_scale(self, bike: str, *, depth_mm: float, sd_mm: float, lambda_: float) -> ScaleStatement:
        """Write down that a ring at this depth is that lambda, for the bike's plug in its build of now.

        Args:
            bike: its name.
            depth_mm: from the tip of the nose [mm].
            sd_mm: standard uncertainty of it [mm].
            lambda_: what it stands for [1].

        Raises:
            UnknownThing: there is no such bike.
            BadValue: the depth is not on the nose, or a value is out of its range.
        """
        with self._writing() as connection:
            row = bike_row(connection, bike)
            nose_mm = row.bike.plug.nose_mm
            if not 0.0 <= depth_mm <= (nose_mm or 40.0):
                raise BadValue(
                    f"a ring at {depth_mm:g} mm is not on the nose, which is"
                    f" {f'{nose_mm:g} mm long' if nose_mm else 'never longer than 40 mm'} (0 is its tip)",
                )
            sd_is_possible(sd_mm)
            if not 0.5 <= lambda_ <= 1.5:
                raise BadValue(f"lambda {lambda_:g} is outside 0.5 to 1.5; did you give an AFR?")
            stated = ScaleStatement(depth_mm, sd_mm, lambda_, row.bike.plug.type, nose_mm, row.build, now())
            connection.execute(
                tables.scale_statements.insert().values(
                    bike_id=row.id,
                    build=stated.build,
                    plug_type=stated.plug_type,
                    nose_mm=stated.nose_mm,
                    depth_mm=depth_mm,
                    sd_mm=sd_mm,
                    lambda_=lambda_,
                    written=stated.written,
                ),
            )
        return stated

    def statements(self, bike: str) -> list[ScaleStatement]:
        """Return all that was stated for a bike, oldest first.

        Raises:
            UnknownThing: there is no such bike.
        """
        with self._reading() as connection:
            row = bike_row(connection, bike)
            t = tables.scale_statements
            found = connection.execute(select(t).where(t.c.bike_id == row.id).order_by(t.c.id)).all()
        return [
            ScaleStatement(f.depth_mm, f.sd_mm, f.lambda_, f.plug_type, f.nose_mm, f.build, f.written)
            for f in found
        ]
