"""whorlpulse: the true drive ratio of a spinning wheel, and the twist that is really in the yarn."""

__version__ = "0.1.0"
