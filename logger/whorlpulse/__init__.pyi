"""What the package offers; `__init__.py` loads it when it is first used."""

from whorlpulse.cli.python_api import Answer as Answer
from whorlpulse.cli.python_api import BadInputError as BadInputError
from whorlpulse.cli.python_api import FullAnswer as FullAnswer
from whorlpulse.cli.python_api import Log as Log
from whorlpulse.cli.python_api import cadence as cadence
from whorlpulse.cli.python_api import check as check
from whorlpulse.cli.python_api import gather as gather
from whorlpulse.cli.python_api import ratio as ratio
from whorlpulse.cli.python_api import read_log as read_log
from whorlpulse.cli.python_api import report as report
from whorlpulse.cli.python_api import samples as samples
from whorlpulse.cli.python_api import scenarios as scenarios
from whorlpulse.cli.python_api import simulated as simulated
from whorlpulse.cli.python_api import slip as slip
from whorlpulse.cli.python_api import twist as twist

__version__: str
