"""An office's program on the generated client: `office.py ADDRESS KEY`, the demo's job on standard input.

Asks what the rooms take, stores the quote, issues it, prints what to order, and asks for a ballpark.
"""

import json
import sys
from typing import Any, TypeVar

from floor_pricing_client import AuthenticatedClient
from floor_pricing_client.api.ballparks import make_ballpark
from floor_pricing_client.api.lists import get_purchase_list
from floor_pricing_client.api.products import list_products
from floor_pricing_client.api.quote_life import issue_quote
from floor_pricing_client.api.quotes import make_quote
from floor_pricing_client.api.takeoffs import take_off_rooms
from floor_pricing_client.models import (
    Ballpark,
    BallparkRequest,
    BallparkRequestRoomKind,
    Issue,
    Job,
    ListProductsRole,
    NewQuote,
    ProductPage,
    PurchaseList,
    Quote,
    Takeoff,
)
from floor_pricing_client.types import Response, Unset
from httpx import Timeout

T = TypeVar("T")


def given(value: T | Unset | None) -> T:
    """What the answer must hold."""
    if isinstance(value, Unset) or value is None:
        raise SystemExit("something is missing in an answer")
    return value


def answered(found: Response[Any], wanted: type[T]) -> T:
    """The body of an answer of this kind; any other is a problem, and is shown."""
    if not isinstance(found.parsed, wanted):
        raise SystemExit(f"{found.status_code}: {found.content.decode()}")
    return found.parsed


def main(address: str, key: str) -> None:
    job = json.load(sys.stdin)
    with AuthenticatedClient(base_url=address, token=key, timeout=Timeout(60)) as client:
        tiles = answered(list_products.sync_detailed(client=client, role=ListProductsRole.TILE), ProductPage)
        codes = {given(tile.code): str(given(tile.id)) for tile in given(tiles.items)}
        for room in job["rooms"]:
            room["tile"] = {"product": codes[room["tile"]["product"]]}
        plain = Job.from_dict({name: value for name, value in job.items() if name != "customer"})
        takeoff = answered(take_off_rooms.sync_detailed(client=client, body=plain), Takeoff)
        print("pieces", sum(given(given(room.layout).pieces) for room in given(takeoff.rooms)))

        made = make_quote.sync_detailed(client=client, body=NewQuote.from_dict(job))
        quote = answered(made, Quote)
        print("quote", given(quote.number), given(given(quote.totals).gross), given(quote.currency))
        issued = issue_quote.sync_detailed(
            given(quote.id),
            client=client,
            body=Issue(),
            if_match=made.headers["ETag"],
        )
        print("state", given(answered(issued, Quote).state).value)

        wanted = answered(get_purchase_list.sync_detailed(given(quote.id), client=client), PurchaseList)
        for order in given(wanted.orders):
            print("order", given(order.supplier_name), len(given(order.lines)), "lines")
        asked = BallparkRequest(area_m2=6.5, room_kind=BallparkRequestRoomKind.BATHROOM)
        ballpark = answered(make_ballpark.sync_detailed(client=client, body=asked), Ballpark)
        print("ballpark", ballpark.low, ballpark.likely, ballpark.high, ballpark.currency)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
