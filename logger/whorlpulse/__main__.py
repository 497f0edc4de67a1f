"""`python -m whorlpulse` is the same as `whorlpulse`."""

from whorlpulse.cli import main

if __name__ == "__main__":  # worker processes import this file too
    main()
