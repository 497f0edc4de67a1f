"""Write all kept reports anew, after a look at each in a browser: python tests/report/regenerate_golden.py [FOLDER]

With a folder the whole pages are written there too, to look at.
"""

import sys
from pathlib import Path

from report_golden import CASES, FOLDER
from report_pages import Page

if __name__ == "__main__":
    FOLDER.mkdir(parents=True, exist_ok=True)
    for case, page in CASES.items():
        text = page()
        (FOLDER / f"{case}.txt").write_text(Page.of(text).outline(), encoding="utf-8")
        if len(sys.argv) > 1:
            (Path(sys.argv[1]) / f"{case}.html").write_text(text, encoding="utf-8")
    print(f"{len(CASES)} reports written to {FOLDER}")
