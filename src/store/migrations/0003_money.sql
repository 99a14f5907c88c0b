-- Schema 3: what guessing would have cost, taxes, and what a vehicle is.

-- Taxes and fees of a repair that no other amount holds.
ALTER TABLE repairs ADD COLUMN tax_amount TEXT NOT NULL DEFAULT '';

-- What the parts cost that a person who guesses would have bought: a JSON object from the part's
-- stable name to its price, an exact decimal as text, in the repair's currency; '' for none.
ALTER TABLE repairs ADD COLUMN part_prices_json TEXT NOT NULL DEFAULT '';

ALTER TABLE vehicles ADD COLUMN make TEXT NOT NULL DEFAULT '';
ALTER TABLE vehicles ADD COLUMN fuel TEXT NOT NULL DEFAULT '';
ALTER TABLE vehicles ADD COLUMN tank_litre TEXT NOT NULL DEFAULT '';
