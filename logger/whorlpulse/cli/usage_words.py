"""What is said when a command line can't be understood: what was typed, what was meant, where to read on."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import Any

from whorlpulse.findings.catalogue.errors import ERRORS

from .app import COMMANDS


def usage_words(fault: Any, words: Sequence[str]) -> str:
    """Return one line for a usage error of the command line `words`."""
    said = _missing(fault) or _unknown_option(fault) or fault.format_message().rstrip(".")
    typed = words[0] if words and words[0] in COMMANDS else None
    return ERRORS["usage"].format(
        said=f"{said[:1].lower()}{said[1:]}" if said[:2] != said[:2].upper() else said,
        command="whorlpulse" if typed is None else f"whorlpulse {typed}",
    )


def _missing(fault: Any) -> str | None:
    """Return which argument or option is missing and what it is for; None for another fault."""
    parameter: Any = getattr(fault, "param", None)
    help = getattr(parameter, "help", None)
    if not help or not hasattr(fault, "param_type"):
        return None
    name = parameter.opts[0] if parameter.param_type_name == "option" else parameter.metavar
    return ERRORS["usage-missing"].format(name=name, help=f"{help[:1].lower()}{help[1:]}".rstrip("."))


def _unknown_option(fault: Any) -> str | None:
    """Return that there is no such option, with the one that was meant; None for another fault."""
    given, context = getattr(fault, "option_name", None), getattr(fault, "ctx", None)
    if not given or context is None or not hasattr(fault, "possibilities"):
        return None
    known = [option for p in context.command.params for option in p.opts if option.startswith("--")]
    near = [o for o in known if o.startswith(given)] or get_close_matches(given, known, 1) if len(given) > 2 else []
    known_like = ERRORS["usage-meant"].format(option=near[0]) if near else ""
    return ERRORS["usage-no-option"].format(option=given, meant=known_like)
