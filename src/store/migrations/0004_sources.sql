-- Schema 4: what a fill-up cost, and how a vehicle's tank is listened to.

-- What was paid at the pump: an exact decimal as text, in this ISO 4217 currency; '' for unknown.
ALTER TABLE fill_ups ADD COLUMN cost_amount TEXT NOT NULL DEFAULT '';
ALTER TABLE fill_ups ADD COLUMN currency_iso4217 TEXT NOT NULL DEFAULT '';

-- The source of tank pressure that the person took: narrow, wide, absolute or own; '' leaves the
-- choice to the program.
ALTER TABLE vehicles ADD COLUMN tank_source TEXT NOT NULL DEFAULT '';

-- Requests of the person's own that hold for this vehicle alone, as a file of own signals has them.
ALTER TABLE vehicles ADD COLUMN own_signals_toml TEXT NOT NULL DEFAULT '';
