"""The shape of the room's documents, as JSON Schema 2020-12.

`whole` gives every key of every wheel; in `changes` a wheel may leave out what did not change since its last state.
"""

from __future__ import annotations

from typing import Any, Final

Schema = dict[str, Any]

_TEXT: Final[Schema] = {"type": "string"}
_TEXT_OR_NULL: Final[Schema] = {"type": ["string", "null"]}
_NUMBER: Final[Schema] = {"type": "number"}
_COUNT: Final[Schema] = {"type": "integer", "minimum": 0}
_NUMBERS: Final[Schema] = {"type": "array", "items": _NUMBER}
_GAPPY: Final[Schema] = {"type": "array", "items": {"type": ["number", "null"]}}


def _thing(properties: Schema, *, may_lack: tuple[str, ...] = (), or_null: bool = False) -> Schema:
    return {
        "type": ["object", "null"] if or_null else "object",
        "properties": properties,
        "required": [name for name in properties if name not in may_lack],
    }


def _list(of: Schema) -> Schema:
    return {"type": "array", "items": of}


#: A figure as it is to be shown: its text, what stands after ±, its unit; or why there is none.
FIGURE: Final = _thing(
    {
        "text": _TEXT_OR_NULL,
        "pm": _TEXT_OR_NULL,
        "unit": _TEXT,
        "value": {"type": ["number", "null"]},
        "why": _TEXT_OR_NULL,
    }
)
_FIGURE: Final[Schema] = {"$ref": "#/components/schemas/Figure"}
_MOMENTS: Final = _list(_thing({"t_s": _NUMBER, "text": _TEXT}))
_STATES: Final = ("waiting", "turning", "standing", "silent", "lost", "paused", "ended")

_PLAN: Final = _thing(
    {
        "twist": _TEXT,
        "from": _TEXT,
        "to": _TEXT,
        "place": {"type": ["number", "null"], "description": "0 at the band's lower edge, 1 at its upper"},
        "verdict": {"enum": ["on-plan", "under", "over", "undecided", None]},
        "says": _TEXT_OR_NULL,
    },
    or_null=True,
)
_PACE: Final = _thing(
    {
        "per_min": {"type": ["number", "null"]},
        "text": _TEXT_OR_NULL,
        "cue": {"enum": ["slower", "faster", "with it", None]},
    },
    or_null=True,
)
_PROFILE: Final = _thing(
    {
        "angle_turns": _NUMBERS,
        "speed": {**_GAPPY, "description": "relative to the mean"},
        "turns": _COUNT,
        "angle_now": {"type": ["number", "null"]},
        "text": _TEXT,
    },
    or_null=True,
)
_STRIP: Final = _thing(
    {
        "t_s": _NUMBERS,
        "cadence_per_min": _GAPPY,
        "ratio": _GAPPY,
        "twist_tpi": _GAPPY,
        "seconds": _NUMBER,
        "text": _TEXT,
    },
    or_null=True,
)
_TOTALS: Final = _thing(
    {
        "measured_to": _TEXT,
        **dict.fromkeys(("ratio", "cadence", "twist_tpi", "twist_tpm", "length", "loss"), _FIGURE),
        "wheel_turns": _TEXT_OR_NULL,
        "flyer_turns": _TEXT_OR_NULL,
        "notes": _list(_TEXT),
    },
    or_null=True,
)
_NOW: Final[Schema] = {
    "name": _TEXT,
    "simulated": {"type": "boolean"},
    "state": {"enum": list(_STATES)},
    "says": _TEXT_OR_NULL,
    "pulses": {"type": "object", "additionalProperties": _COUNT},
    "lost": _COUNT,
    "damaged": _COUNT,
    "pulses_text": _TEXT,
    **dict.fromkeys(("cadence", "ratio", "flyer", "twist_tpi", "twist_tpm", "length", "loss"), _FIGURE),
    "pace": _PACE,
    "plan": _PLAN,
    "profile": _PROFILE,
    "strip": _STRIP,
    "bursts": _MOMENTS,
    "marks": _MOMENTS,
    "totals": _TOTALS,
}


def room_schema(*, whole: bool) -> Schema:
    """Return the schema of the whole room, or of its changes."""
    wheel = _thing({"id": _TEXT, **_NOW}, may_lack=() if whole else tuple(_NOW))
    return _thing({"schema": {"const": 1}, "ended": {"type": "boolean"}, "wheels": _list(wheel)})
