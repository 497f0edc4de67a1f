"""The arguments and options that several commands share, with their words of help."""

from __future__ import annotations

from typing import Annotated

import typer

LogFile = Annotated[str, typer.Argument(metavar="LOG", help="A pulse log (*.pulses), or - for standard input.")]
WheelOption = Annotated[
    str | None, typer.Option("--wheel", metavar="FILE", help="Wheel file: whorls, diameters, targets.")
]
PlanOption = Annotated[str | None, typer.Option("--plan", metavar="FILE", help="Plan file: the twist you want.")]
TargetsOption = Annotated[
    str | None, typer.Option("--targets", metavar="TEXT", help="Targets per turn, as 'w=4 f=1'; wins over all files.")
]
RollerOption = Annotated[
    str | None, typer.Option("--roller", metavar="LENGTH", help="Yarn per turn of the roller, as '10.00 cm'.")
]
TotalOption = Annotated[
    str | None,
    typer.Option("--total", metavar="LENGTH", help="All yarn: '23.4 m', '96 x 1.5 yd', '104 g of 12 Nm'."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print one JSON object instead of text.")]
