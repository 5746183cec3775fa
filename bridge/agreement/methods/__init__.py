"""How two methods are held against each other over many pairs: numbers in and out, nothing of engines.

Pairs of one session share what that session did, so they are not independent: everywhere here a *group* is a
session, and how sure a figure is comes from how it differs between groups.
"""

from bridge.agreement.methods.bland_altman import BlandAltman, Limit, bland_altman
from bridge.agreement.methods.concordance import Concordance, concordance
from bridge.agreement.methods.cusum import Cusum, cusum
from bridge.agreement.methods.deming import Deming, deming
from bridge.agreement.methods.equivalence import Equivalence, equivalence
from bridge.agreement.methods.proportional import Proportional, proportional

__all__ = [
    "BlandAltman",
    "Concordance",
    "Cusum",
    "Deming",
    "Equivalence",
    "Limit",
    "Proportional",
    "bland_altman",
    "concordance",
    "cusum",
    "deming",
    "equivalence",
    "proportional",
]
