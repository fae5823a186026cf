"""The document as one HTML page that needs nothing else; every string is escaped."""

from __future__ import annotations

from base64 import b64encode
from hashlib import sha256
from importlib import resources

from jinja2 import Environment, PackageLoader, StrictUndefined

from service.render.document.blocks import Document

_STYLE = (resources.files("service.render.document") / "templates" / "document.css").read_text("utf-8")
_DIGEST = b64encode(sha256(_STYLE.encode()).digest()).decode()
CSP = f"default-src 'none'; style-src 'sha256-{_DIGEST}'; img-src data:; frame-ancestors 'none'"
"""What a browser may load for it: its own style sheet, and drawings that are part of it."""

_environment = Environment(
    loader=PackageLoader("service.render.document"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)
_environment.filters["data_uri"] = lambda svg: "data:image/svg+xml;base64," + b64encode(svg.encode()).decode()
_environment.globals["style"] = _STYLE


def html(document: Document) -> str:
    """The page, in print on the document's paper."""
    return _environment.get_template("document.html").render(document=document)
