"""The end of the document: the office's terms, what the law gives the customer, and the signatures."""

from __future__ import annotations

from service.render.document.blocks import Block, Bullets, Paragraph, Section, Signatures, Words
from service.render.document.floor import to_accept
from service.render.document.language import Tongue
from service.render.document.model import Offer, Recipient, Sender
from service.render.document.text import paragraphs
from service.render.document.words import mark

WITHDRAWAL = (
    mark(
        "If you buy as a consumer and the contract is made at a distance or away from our premises, the law "
        "where you live may let you withdraw from it without giving reasons, in the European Union as a rule "
        "within 14 days of the contract."
    ),
    mark(
        "To withdraw, tell us so clearly, by letter or e-mail, before the period ends. We then pay back what "
        "you paid. If you asked us to begin within the period, you owe a fair part of the price for what was "
        "done until then; once all of the work is done at your express wish, the right may end."
    ),
    mark("The law where you live stands above this notice."),
)
"""General words on a consumer's right, deferring to local law [common practice, in our own words]."""

BETWEEN_BUSINESSES = mark(
    "This quote is made to a business. Rights that the law gives to consumers alone do not apply."
)
REVERSE_CHARGE = mark("Reverse charge: the customer accounts for the tax and owes it.")


def terms(speak: Tongue, sender: Sender) -> Section:
    """The office's own words, as they are."""
    return Section(speak.say("Terms"), _own(sender.terms_text))


def notice(speak: Tongue, sender: Sender, recipient: Recipient, offer: Offer) -> Section:
    """What holds for a consumer or a business; the office's own words take the place of the general ones."""
    if recipient.kind == "consumer":
        general = tuple(Paragraph(Words(speak.say(text))) for text in WITHDRAWAL)
        return Section(speak.say("Right to withdraw"), _own(sender.consumer_text) or general)
    said = _own(sender.business_text) or (Paragraph(Words(speak.say(BETWEEN_BUSINESSES))),)
    charge = (Paragraph(Words(speak.say(REVERSE_CHARGE))),) if _reverse_charge(offer) else ()
    return Section(speak.say("Between businesses"), (*said, *charge))


def _reverse_charge(offer: Offer) -> bool:
    totals = offer.priced.totals if offer.priced else None
    return totals is not None and any(tax.reverse_charge for tax in totals.taxes)


def acceptance(speak: Tongue, offer: Offer) -> Section:
    """Places to sign, under what the customer takes on; none where there is nothing to accept."""
    heading = speak.say("Acceptance")
    if offer.priced is None or offer.takeoff.refused:
        return Section(heading)
    if offer.state not in ("issued", "accepted"):
        return Section(heading)
    said = speak.say(
        "With this signature quote {number}, revision {revision}, for {amount} is accepted.",
        number=offer.number,
        revision=offer.revision,
        amount=speak.money(offer.gross) if offer.gross is not None else "",
    )
    blocks: list[Block] = []
    if taken_on := to_accept(speak, offer):
        blocks.append(Paragraph(Words(speak.say("The customer knows and takes on:"))))
        blocks.append(Bullets(taken_on))
    if offer.state == "issued" and any(option.gross is not None for option in offer.options):
        wanted = speak.say("If an option is taken instead, its name is written here and its total holds:")
        blocks += [Paragraph(Words(wanted)), Signatures(((speak.say("Option"),),))]
    blocks.append(Paragraph(Words(said)))
    line = speak.say("Place and date")
    signed = (line, speak.say("Signature of the customer")), (line, speak.say("Signature of the contractor"))
    return Section(heading, (*blocks, Signatures(signed)))


def _own(text: str) -> tuple[Block, ...]:
    return tuple(Paragraph(Words(part)) for part in paragraphs(text))
