// An office's program on the generated types: `office.js ADDRESS KEY`, the demo's job on standard input.
// It asks what the rooms take, stores the quote, issues it, prints what to order, and asks for a ballpark.

import createClient from "openapi-fetch";
import { readFileSync } from "node:fs";
import type { components, paths } from "./schema.js";

type NewQuote = components["schemas"]["NewQuote"];

function given<T>(value: T | null | undefined): T {
  if (value === null || value === undefined) throw new Error("something is missing in an answer");
  return value;
}

/** The body of a good answer; any other is a problem, and is shown. */
function answered<T>(found: { data?: T; error?: unknown; response: Response }): T {
  if (found.data === undefined) throw new Error(`${found.response.status}: ${JSON.stringify(found.error)}`);
  return found.data;
}

async function main(address: string, key: string): Promise<void> {
  const job = JSON.parse(readFileSync(0, "utf-8")) as NewQuote;
  const office = createClient<paths, "application/json">({ baseUrl: address, headers: { Authorization: `Bearer ${key}` } });

  const tiles = answered(await office.GET("/v1/products", { params: { query: { role: "tile" } } }));
  const codes = new Map(given(tiles.items).map((tile) => [tile.code, given(tile.id)]));
  for (const room of given(job.rooms)) room.tile = { product: given(codes.get(room.tile.product)) };

  const { customer, ...rooms } = job;
  const takeoff = answered(await office.POST("/v1/takeoffs", { body: { ...rooms, rooms: given(job.rooms) } }));
  console.log("pieces", given(takeoff.rooms).reduce((sum, room) => sum + given(room.layout?.pieces), 0));

  const made = await office.POST("/v1/quotes", { body: { ...job, customer } });
  const quote = answered(made);
  console.log("quote", given(quote.number), given(quote.totals?.gross), given(quote.currency));
  const path = { quote_id: given(quote.id) };
  const issued = await office.POST("/v1/quotes/{quote_id}/issue", {
    params: { path, header: { "If-Match": given(made.response.headers.get("ETag")) } },
    body: {},
  });
  console.log("state", given(answered(issued).state));

  const wanted = answered(await office.GET("/v1/quotes/{quote_id}/purchase-list", { params: { path } }));
  for (const order of given(wanted.orders)) {
    console.log("order", given(order.supplier_name), given(order.lines).length, "lines");
  }
  const ballpark = answered(
    await office.POST("/v1/ballparks", { body: { area_m2: 6.5, room_kind: "bathroom" } }),
  );
  console.log("ballpark", ballpark.low, ballpark.likely, ballpark.high, ballpark.currency);
}

await main(given(process.argv[2]), given(process.argv[3]));
