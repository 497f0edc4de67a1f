"""whorlpulse: the true drive ratio of a spinning wheel, and the twist that is really in the yarn.

    import whorlpulse

    log = whorlpulse.read_log("log.pulses")
    print(whorlpulse.ratio(log))

The functions are described in docs/python-api.md. What there is, and where, stands in `__init__.pyi` and only there:
type checkers read it, and so does this file when a name is first used. Importing the package loads nothing.
"""

from importlib import import_module

__version__ = "0.1.0"
_homes: dict[str, str] = {}


def __getattr__(name: str) -> object:
    """Return a public function or class, loading it now (PEP 562), or the list of their names."""
    if name == "__all__":
        found: object = ["__version__", *_offered()]
    elif name in _offered():
        found = getattr(import_module(_offered()[name]), name)
    else:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    """Return the public names too, loaded or not."""
    return sorted({*globals(), *_offered()})


def _offered() -> dict[str, str]:
    """The module of each public name, by the stub's lines `from MODULE import NAME as NAME`."""
    if not _homes:
        stub = __loader__.get_data(f"{__path__[0]}/__init__.pyi").decode()
        imports = (line.split() for line in stub.splitlines() if line.startswith("from "))
        _homes.update((name, module) for _, module, _, name, _, _ in imports)
    return _homes
