from . import assessment as assessment
from . import suggestion as suggestion
from .assessment import Assessment as Assessment
from .assessment import Result as Result
from .assessment import assess as assess
from .suggestion import Suggestion as Suggestion
from .suggestion import suggest as suggest
