from . import checks as checks
from . import circuits as circuits
from . import cli as cli
from . import commands as commands
from . import conversion as conversion
from . import equations as equations
from . import errors as errors
from . import grid as grid
from . import lenses as lenses
from . import lesson as lesson
from . import light as light
from . import measurement as measurement
from . import notebook as notebook
from . import numbers as numbers
from . import page as page
from . import plan as plan
from . import progress as progress
from . import rules as rules
from . import show as show
from . import sources as sources
from . import statements as statements
from . import tables as tables
from . import uncertainty as uncertainty
from . import vehicle as vehicle
from . import visibility as visibility
from . import written_files as written_files

__version__: str
