"""Text and flags taken as they were typed, without loading what typer validates values with.

Newer typers hand every value to pydantic, text and absent flags too; loading that takes a quarter of the time in which
a short log is measured. Where typer works otherwise nothing is changed: this sets what typer would make of a parameter
when it is first used, and only for one that is a single text or a flag.
"""

from __future__ import annotations

from typing import Any, TypeVar

_Parameter = TypeVar("_Parameter", bound=Any)


class _AsTyped:
    """What typer asks for a parameter's value: text is text already, and None was left out."""

    def coerce(self, value: Any, *, param: Any, ctx: Any) -> Any:
        """Return the value."""
        return value


def taken_as_typed(parameters: list[_Parameter]) -> list[_Parameter]:
    """Return a command's parameters, those among them that are one text or one flag taken as they are."""
    for parameter in parameters:
        kind = getattr(getattr(parameter, "type_descriptor", None), "annotation", None)
        single = parameter.nargs == 1 and not parameter.multiple
        if kind in (str, bool) and single and getattr(parameter, "_runtime_param", parameter) is None:
            parameter._runtime_param = _AsTyped()
    return parameters
