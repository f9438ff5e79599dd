"""Pictures. Enters: source files; leaves: plans (name and size known at once) and, later, bytes to write.

Planning reads hashes and cached facts only; Pillow is imported when something must be looked at or made that
the cache does not hold.
"""

from handbill.pictures.plan import Plan, plan
from handbill.pictures.produce import produce_all, produced
from handbill.pictures.source import Source, inspect

__all__ = ["Plan", "Source", "inspect", "plan", "produce_all", "produced"]
