"""The totals of many quotes at once, over arrays of whole minor units, to the cent those of one."""

from service.pricing.many.arrays import Ints, TooLarge
from service.pricing.many.one_by_one import total_each
from service.pricing.many.totals import KINDS, UNCHARGED, ManyLines, ManyTotals, total_many

__all__ = ["KINDS", "UNCHARGED", "Ints", "ManyLines", "ManyTotals", "TooLarge", "total_each", "total_many"]
