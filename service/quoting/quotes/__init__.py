"""Quotes: made, revised, issued, accepted; stored so that what was offered stays as it was."""

from service.quoting.quotes.accepted import as_accepted
from service.quoting.quotes.actor import Actor
from service.quoting.quotes.heads import QuoteHead, list_quotes
from service.quoting.quotes.make import ENGINE_VERSION, make_quote
from service.quoting.quotes.stored import StoredQuote, get_quote

__all__ = [
    "ENGINE_VERSION",
    "Actor",
    "QuoteHead",
    "StoredQuote",
    "as_accepted",
    "get_quote",
    "list_quotes",
    "make_quote",
]
