"""The document of a quote that a customer reads and signs: composed once, set in type as HTML or PDF."""

from service.render.document.compose import compose
from service.render.document.html import CSP, html
from service.render.document.model import Address, Alternative, Offer, Recipient, Sender, Style
from service.render.document.pdf import pdf

__all__ = ["CSP", "Address", "Alternative", "Offer", "Recipient", "Sender", "Style", "compose", "html", "pdf"]
