"""What the package offers, and where it is: for type checkers, and for `__init__.py`, which loads it when used."""

from whorlpulse.cli.python_answer import Answer as Answer
from whorlpulse.cli.python_answer import FullAnswer as FullAnswer
from whorlpulse.cli.python_api import cadence as cadence
from whorlpulse.cli.python_api import check as check
from whorlpulse.cli.python_api import gather as gather
from whorlpulse.cli.python_api import ratio as ratio
from whorlpulse.cli.python_api import report as report
from whorlpulse.cli.python_api import samples as samples
from whorlpulse.cli.python_api import scenarios as scenarios
from whorlpulse.cli.python_api import simulated as simulated
from whorlpulse.cli.python_api import slip as slip
from whorlpulse.cli.python_api import twist as twist
from whorlpulse.cli.python_log import BadInputError as BadInputError
from whorlpulse.cli.python_log import Log as Log
from whorlpulse.cli.python_log import read_log as read_log

__version__: str
