"""Pages for people: the ballpark form, on its own page and to be put into a contractor's page."""

from service.api.pages.form import pages

__all__ = ["pages"]
