"""whorlpulse: the true drive ratio of a spinning wheel, and the twist that is really in the yarn.

    import whorlpulse

    log = whorlpulse.read_log("log.pulses")
    print(whorlpulse.ratio(log))

The functions are described in docs/python-api.md. They are loaded when first used: importing the package is quick.
"""

from importlib import import_module

__version__ = "0.1.0"

#: Named here and not imported: the rest of the package knows its version from here, and must not know the functions.
_HOME = "whorlpulse.cli.python_api"
__all__ = [
    "Answer",
    "BadInputError",
    "FullAnswer",
    "Log",
    "__version__",
    "cadence",
    "check",
    "gather",
    "ratio",
    "read_log",
    "report",
    "samples",
    "scenarios",
    "simulated",
    "slip",
    "twist",
]


def __getattr__(name: str) -> object:
    """Return a public function or class, loading it now (PEP 562)."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found: object = getattr(import_module(_HOME), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    """Return the public names too, loaded or not."""
    return sorted({*globals(), *__all__})
