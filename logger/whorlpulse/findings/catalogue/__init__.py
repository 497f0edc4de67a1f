"""Every sentence that a user reads, by key; braces name the figures that the views round and put in."""

from __future__ import annotations

from whorlpulse.findings.catalogue.answers import ANSWERS
from whorlpulse.findings.catalogue.bobbin import BOBBIN
from whorlpulse.findings.catalogue.errors import ERRORS
from whorlpulse.findings.catalogue.live_page import LIVE_PAGE
from whorlpulse.findings.catalogue.notes import NOTES
from whorlpulse.findings.catalogue.plan import PLAN
from whorlpulse.findings.catalogue.plying import PLYING
from whorlpulse.findings.catalogue.sample import SAMPLE
from whorlpulse.findings.catalogue.yarn_calibrate import YARN_CALIBRATE
from whorlpulse.findings.catalogue.yarn_draws import YARN_DRAWS
from whorlpulse.findings.catalogue.yarn_length import YARN_LENGTH

_ALL = {
    **BOBBIN,
    **YARN_DRAWS,
    **YARN_CALIBRATE,
    **YARN_LENGTH,
    **ANSWERS,
    **NOTES,
    **ERRORS,
    **LIVE_PAGE,
    **PLAN,
    **PLYING,
    **SAMPLE,
}


def sentence(key: str) -> str:
    """Return the sentence of a key, braces and all; an unknown key is a mistake in the program (KeyError)."""
    return _ALL[key]


__all__ = ["ANSWERS", "ERRORS", "NOTES", "sentence"]
