"""An office's program in forty lines: rooms from a file, a stored quote, its PDF and the orders.

python office.py rooms.json   (FLOORS and KEY name the service and its key; needs nothing but Python)
"""

import json
import os
import sys
import urllib.error
import urllib.request

SERVICE, KEY = os.environ.get("FLOORS", "http://127.0.0.1:8000"), os.environ.get("KEY", "try-me")


def call(path, body=None, **headers):
    """The answer to a GET, or to a POST of a body; a problem document ends the program."""
    sent = {"Authorization": f"Bearer {KEY}", "Content-Type": "application/json"}
    sent |= {name.replace("_", "-"): value for name, value in headers.items()}
    data = None if body is None else json.dumps(body).encode()
    try:
        return urllib.request.urlopen(urllib.request.Request(SERVICE + path, data, sent))
    except urllib.error.HTTPError as refused:
        sys.exit(refused.read().decode())


with open(sys.argv[1], encoding="utf-8") as file:
    job = json.load(file)
tiles = {tile["code"]: tile["id"] for tile in json.load(call("/v1/products?role=tile"))["items"]}
for room in job["rooms"]:
    room["tile"]["product"] = tiles[room["tile"]["product"]]

made = call("/v1/quotes", job, Idempotency_Key=os.path.basename(sys.argv[1]))
quote = json.load(made)
where = f"/v1/quotes/{quote['id']}"
print(quote["number"], quote["totals"]["gross"], quote["currency"])
with open(f"{quote['number']}.pdf", "wb") as file:
    file.write(call(f"{where}/document", Accept="application/pdf").read())
print(json.load(call(f"{where}/issue", {}, If_Match=made.headers["ETag"]))["state"])
for order in json.load(call(f"{where}/purchase-list"))["orders"]:
    print(order["supplier_name"], len(order["lines"]), "lines", order["total"])
