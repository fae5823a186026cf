#!/bin/sh
# A session with curl: measure a room, store a quote, look at its document, issue it, see what to order.
# Usage: FLOORS=http://127.0.0.1:8000 KEY=try-me sh session.sh
set -eu
: "${FLOORS:=http://127.0.0.1:8000}" "${KEY:=try-me}"
folder=$(mktemp -d)
trap 'rm -r "$folder"' EXIT

call() { # method, path, further arguments of curl
    method=$1 path=$2
    shift 2
    curl --silent --show-error --fail-with-body --request "$method" "$FLOORS$path" \
        --header "Authorization: Bearer $KEY" --header 'Content-Type: application/json' "$@"
}
field() { # the first value of a member of a JSON file
    grep -o "\"$1\": *\"[^\"]*\"" "$2" | head -n 1 | cut -d '"' -f 4
}

room='{"name": "Hall", "rectangle": {"length": "3.6 m", "width": 2100}, "exposure": "dry",
  "substrate": {"kind": "concrete_on_ground", "flatness": {"gap": 3, "under": 3000},
                "moisture": {"method": "rh", "value": 70}, "age_days": 400},
  "tile": {"length": 300, "width": 300, "thickness": 9, "material": "porcelain"}}'

call POST /v1/takeoffs --header 'Accept: image/svg+xml' --data "{\"rooms\": [$room]}" > "$folder/plan.svg"
echo "the plan has $(wc -c < "$folder/plan.svg") bytes"

# Sent again under the same Idempotency-Key the request stores nothing new.
call POST /v1/quotes --header "Idempotency-Key: hall-$$" --dump-header "$folder/headers" \
    --data "{\"customer\": {\"name\": \"Invented customer\"}, \"rooms\": [$room]}" > "$folder/quote.json"
quote=$(field id "$folder/quote.json")
etag=$(grep -i '^etag:' "$folder/headers" | cut -d ' ' -f 2- | tr -d '\r')
echo "quote $(field number "$folder/quote.json"): $(field gross "$folder/quote.json") $(field currency "$folder/quote.json")"

call GET "/v1/quotes/$quote/document" --header 'Accept: application/pdf' --output "$folder/quote.pdf"
echo "its document has $(wc -c < "$folder/quote.pdf") bytes"

call POST "/v1/quotes/$quote/issue" --header "If-Match: $etag" --data '{}' > "$folder/issued.json"
echo "it is $(field state "$folder/issued.json")"

call GET "/v1/quotes/$quote/purchase-list" --header 'Accept: text/csv'
