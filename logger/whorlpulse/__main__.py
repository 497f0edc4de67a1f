"""`python -m whorlpulse` is the same as `whorlpulse`."""

from whorlpulse.cli import main

main()
