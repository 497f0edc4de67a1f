"""The helpers that these tests share with others lie one folder up."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
