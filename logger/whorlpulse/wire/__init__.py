"""The pulse line: grammar, messages, decoder and encoder; standard library only, no input or output."""

from whorlpulse.wire.checksum import checksum_digits, xor_of
from whorlpulse.wire.decoder import Decoder
from whorlpulse.wire.encoder import encode_meta, encode_pulse
from whorlpulse.wire.messages import Damaged, Gap, Message, Meta, Pulse
from whorlpulse.wire.tally import Sightings, Tally

__all__ = [
    "Damaged",
    "Decoder",
    "Gap",
    "Message",
    "Meta",
    "Pulse",
    "Sightings",
    "Tally",
    "checksum_digits",
    "encode_meta",
    "encode_pulse",
    "xor_of",
]
