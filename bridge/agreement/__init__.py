"""Do the two methods agree?"""

from bridge.agreement.compare import compare
from bridge.agreement.result import Comparison, CylinderResult
from bridge.agreement.verdict import Difference, Verdict

__all__ = ["Comparison", "CylinderResult", "Difference", "Verdict", "compare"]
