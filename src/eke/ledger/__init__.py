"""Money spent, used and left; purchases shared between projects; notions on the shelf."""

from eke.ledger.ledger import Account, Item, ItemAccount, Ledger, Use
from eke.ledger.money import Budget, Purchase, Rate, Share, money_from_json, money_to_json
from eke.ledger.notions import Notion, NotionUnit
from eke.ledger.split import running_split, split, split_whole

__all__ = [
    "Account",
    "Budget",
    "Item",
    "ItemAccount",
    "Ledger",
    "Notion",
    "NotionUnit",
    "Purchase",
    "Rate",
    "Share",
    "Use",
    "money_from_json",
    "money_to_json",
    "running_split",
    "split",
    "split_whole",
]
