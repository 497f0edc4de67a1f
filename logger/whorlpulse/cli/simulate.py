"""`whorlpulse simulate`: a log of an invented wheel, with the truth beside it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

import typer


def _scenarios_like(incomplete: str) -> list[str]:
    """Return the names that a half-typed one may become, for a shell that completes."""
    from whorlpulse.simulate import scenario_names

    return [name for name in scenario_names() if name.startswith(incomplete)]


ScenarioName = Annotated[
    str | None,
    typer.Argument(metavar="SCENARIO", help="What to simulate; --list names them.", autocompletion=_scenarios_like),
]
FolderOption = Annotated[
    str | None, typer.Option("-o", "--output", metavar="FOLDER", help="Where to write; else a folder of its name.")
]
SeedOption = Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Another seed, another capture.")]
ListOption = Annotated[bool, typer.Option("--list", help="Name the scenarios and end.")]
ReplaceOption = Annotated[bool, typer.Option("--replace", help="Overwrite what is in the folder.")]


def simulate(
    scenario: ScenarioName = None,
    output: FolderOption = None,
    seed: SeedOption = 1,
    list_them: ListOption = False,
    replace: ReplaceOption = False,
) -> None:
    """Write a simulated log to a folder, with the truth beside it.

    Example: whorlpulse simulate skein-soft -o skein
    """
    from whorlpulse.findings.catalogue import sentence
    from whorlpulse.simulate import scenario as named
    from whorlpulse.simulate import scenario_names
    from whorlpulse.simulate import simulate as simulated
    from whorlpulse.views.layout import paragraph

    from .capture_folder import write_capture
    from .exits import InputError
    from .progress import Progress
    from .show import page, say

    names = scenario_names()
    if list_them:
        say("\n".join(f"  {name:<20}{says}" for name, says in names.items()))
        return
    if scenario not in names:
        raise InputError(_which(scenario, names))
    with Progress(f"simulating {scenario}"):
        capture = simulated(named(scenario), seed)
    folder = output or scenario
    files = write_capture(folder, capture, replace=replace)
    say(paragraph(page(), sentence("written").format(folder=folder, files=", ".join(files))))


def _which(given: str | None, names: Iterable[str]) -> str:
    """Return what is said where no scenario, or none of the known, was named."""
    from difflib import get_close_matches

    from whorlpulse.findings.catalogue import sentence

    near = get_close_matches(given or "", names, 1)
    if given is None or not near:
        return sentence("which-scenario").format(names=", ".join(names))
    meant = sentence("usage-meant").format(option=near[0])
    return sentence("no-such-scenario").format(given=given, meant=meant)
