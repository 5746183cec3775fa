"""``plug scale``: where the ring should sit, by the tuner's own word and by what the bike's pairs make of it."""

import argparse
from typing import Any

from bridge.cli.context import reading, writing
from bridge.cli.output import answer, wrap
from bridge.cli.parser import Parser, command, positive
from bridge.errors import BadValue


def add(plug: "argparse._SubParsersAction[Parser]") -> None:
    """Add this module's command."""
    one = command(plug, "scale", scale, "say where the ring should sit, or show what scale there is")
    one.add_argument("bike", metavar="BIKE")
    one.add_argument("--stated-mm", type=positive, metavar="MM", help="ring depth from the tip")
    one.add_argument(
        "--sd-mm", type=positive, default=1.0, metavar="MM", help="how sure: standard uncertainty (1.0)"
    )
    one.add_argument(
        "--lambda", dest="lambda_", type=positive, metavar="X", help="the lambda that this depth is"
    )


def scale(args: argparse.Namespace) -> int:
    """Take the tuner's word on the ring, or show what there is."""
    if args.stated_mm is None and args.lambda_ is not None:
        raise BadValue("--lambda says what a depth stands for, so it needs --stated-mm")
    if args.stated_mm is not None and args.lambda_ is None:
        raise BadValue("say by --lambda which mixture that depth stands for, such as --lambda 0.87")
    if args.stated_mm is not None:
        with writing(args) as logbook:
            logbook.state_scale(args.bike, depth_mm=args.stated_mm, sd_mm=args.sd_mm, lambda_=args.lambda_)
    from bridge.agreement.scales import layers  # noqa: PLC0415  # start-up
    from bridge.agreement.season import kept_pairs  # noqa: PLC0415  # start-up
    from bridge.plug import scale_for  # noqa: PLC0415  # start-up

    with reading(args) as logbook:
        bike, build = logbook.bike_and_build(args.bike)
        statements = logbook.statements(args.bike)
        elsewhere = scale_for(statements, plug_type=bike.plug.type, nose_mm=bike.plug.nose_mm, build=build)
        gathered = kept_pairs(logbook, args.bike)
    document: dict[str, Any] = {"bike": bike.name, "build": build, **elsewhere.to_json()}
    words = list(elsewhere.in_words())
    if bike.plug.nose_mm is not None:
        made = layers(
            gathered.of_bike(bike.name),
            statements,
            plug_type=bike.plug.type,
            nose_mm=bike.plug.nose_mm,
            build=build,
            strokes=bike.strokes,
        )
        document |= made.to_json()
        words += made.in_words()
    answer(args, document, [line for text in words for line in wrap(text)])
    return 0
