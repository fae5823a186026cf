"""From a revision, its office and its customer to the finished document in one language."""

from __future__ import annotations

from collections.abc import Iterator

from service.render.document import closing, floor, money, options
from service.render.document.blocks import Document, Facts, Paragraph, Section, Words
from service.render.document.language import Tongue, tongue
from service.render.document.model import Address, Offer, Recipient, Sender, Style
from service.render.document.text import isolated
from service.render.document.words import STATES


def compose(sender: Sender, recipient: Recipient, offer: Offer, style: Style) -> Document:
    """The whole document. It holds what the customer's view of the quote holds, and nothing more."""
    speak = tongue(style.language, sender.address.country, offer.currency, offer.us_units)
    title = speak.say("Quote {number}", number=offer.number)
    return Document(
        language=speak.code,
        paper=style.paper,
        title=title,
        running=speak.say("{title}, revision {revision}", title=title, revision=offer.revision),
        page=speak.say("page {{0}} of {{1}}"),
        draft=speak.say("Draft") if offer.state == "draft" else "",
        sender=isolated(sender.name),
        sender_lines=tuple(_sender_lines(speak, sender)),
        recipient=tuple(_recipient_lines(speak, recipient)),
        recipient_label=speak.say("For"),
        facts=Facts(tuple(_facts(speak, sender, offer))),
        banners=tuple(_banners(speak, offer)),
        contents=tuple(_contents(speak, sender, recipient, offer, style)),
    )


def _contents(
    speak: Tongue, sender: Sender, recipient: Recipient, offer: Offer, style: Style
) -> Iterator[Section]:
    """The sections that have something to say, in the order of reading."""
    sections = (
        floor.scope(speak, offer),
        money.prices(speak, offer, style.detail),
        options.options(speak, offer),
        money.still_open(speak, offer),
        money.payment(speak, sender, offer),
        floor.rooms(speak, offer),
        floor.schedule(speak, offer),
        floor.conditions(speak, offer),
        floor.assumptions(speak, offer),
        floor.exclusions(speak, offer),
        floor.cautions(speak, offer),
        closing.terms(speak, sender),
        closing.notice(speak, sender, recipient, offer),
        closing.acceptance(speak, offer),
    )
    return (section for section in sections if section.blocks or section.parts)


def _banners(speak: Tongue, offer: Offer) -> Iterator[Paragraph]:
    if offer.state in STATES:
        yield Paragraph(Words(speak.say(STATES[offer.state])), "banner")
    if offer.taken_rooms and offer.gross is not None:
        said = speak.say(
            "Of the offer these rooms were taken: {rooms}, at a total of {amount}.",
            rooms=", ".join(map(isolated, offer.taken_rooms)),
            amount=speak.money(offer.gross),
        )
        yield Paragraph(Words(said), "banner")
    if offer.taken and offer.gross is not None:
        said = speak.say(
            "The option {option} was taken, at a total of {amount}.",
            option=isolated(offer.taken),
            amount=speak.money(offer.gross),
        )
        yield Paragraph(Words(said), "banner")
    if offer.takeoff.refused:
        said = speak.say(
            "This floor must not be built as described, so it has no price. See the conditions found."
        )
        yield Paragraph(Words(said), "banner")


def _facts(speak: Tongue, sender: Sender, offer: Offer) -> Iterator[tuple[str, str]]:
    yield speak.say("Date"), speak.day(offer.made_on)
    yield speak.say("Valid until"), speak.day(offer.valid_until)
    yield speak.say("Number"), offer.number
    yield speak.say("Revision"), str(offer.revision)
    if sender.contact_name:
        yield speak.say("Your contact"), isolated(sender.contact_name)


def _sender_lines(speak: Tongue, sender: Sender) -> Iterator[str]:
    yield from _address(speak, sender.address)
    yield from (isolated(line) for line in (sender.phone, sender.email, sender.website) if line)
    if sender.tax_number:
        yield speak.say("Tax number {number}", number=isolated(sender.tax_number))


def _recipient_lines(speak: Tongue, recipient: Recipient) -> Iterator[str]:
    if recipient.erased:
        yield speak.say("The customer's personal data were erased.")
        return
    yield isolated(recipient.name) if recipient.name else speak.say("The customer is not named yet.")
    yield from _address(speak, recipient.address)
    if recipient.tax_number:
        yield speak.say("Tax number {number}", number=isolated(recipient.tax_number))


def _address(speak: Tongue, address: Address) -> Iterator[str]:
    """Postcode before the city, or behind it and the region where it is written so."""
    yield from (isolated(line) for line in address.lines)
    city, postcode, region = (isolated(part) for part in (address.city, address.postcode, address.region))
    american = address.country in {"US", "CA", "AU", "GB"}
    parts = (city, region, postcode) if american else (postcode, city, region)
    if any(parts):
        yield " ".join(part for part in parts if part)
    if address.country:
        yield speak.locale.territories.get(address.country, address.country)
