"""The price book of a day, as an office asks for it."""

from service.store.price_book import BookRow, page

__all__ = ["BookRow", "page"]
