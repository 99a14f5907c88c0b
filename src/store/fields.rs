//! The fields that a person can change, and how an entry becomes a column.

use std::collections::BTreeMap;
use std::str::FromStr;

use rust_decimal::Decimal;

use super::database::wall_clock;
use super::repairs::Quote;
use super::uid::is_uid;
use crate::vehicle::{CustomSignal, Part};

macro_rules! entities {
    ($($variant:ident, $name:literal, $table:literal;)*) => {
        /// A kind of row with fields that a person can change.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub(super) enum Entity { $($variant,)* }

        impl Entity {
            pub(super) const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            pub(super) const fn table(self) -> &'static str {
                match self { $(Self::$variant => $table,)* }
            }

            pub(super) fn from_name(name: &str) -> Option<Self> {
                match name { $($name => Some(Self::$variant),)* _ => None }
            }
        }
    };
}

entities! {
    Customer, "customer", "customers";
    Vehicle, "vehicle", "vehicles";
    Visit, "visit", "visits";
    Repair, "repair", "repairs";
    FillUp, "fill_up", "fill_ups";
    FollowUp, "follow_up", "follow_ups";
    Photo, "photo", "photos";
    ColumnMap, "column_map", "column_maps";
    CustomSignal, "custom_signal", "custom_signals";
    CodeNote, "code_note", "code_notes";
}

/// What a field can hold.
#[derive(Clone, Copy, Debug)]
pub(super) enum Content {
    Text,
    /// A whole number of at least 0, or nothing.
    Count,
    /// Microseconds since 1970, within what a calendar has.
    Time,
    /// An exact decimal, or nothing.
    Amount,
    /// `0` or `1`.
    Flag,
    /// The name of a row, or nothing.
    Uid,
    /// Prices asked, as a JSON list.
    Quotes,
    /// Prices by part, as a JSON object.
    Prices,
    /// Own requests, as their file has them, or nothing.
    Signals,
    OneOf(&'static [&'static str]),
}

impl Content {
    pub(super) fn accepts(self, value: &str) -> bool {
        match self {
            Self::Text => true,
            Self::Count => value.is_empty() || value.parse::<u32>().is_ok(),
            Self::Time => value.parse().is_ok_and(|micros| wall_clock(micros).is_ok()),
            Self::Amount => value.is_empty() || Decimal::from_str(value).is_ok(),
            Self::Flag => matches!(value, "0" | "1"),
            Self::Uid => value.is_empty() || is_uid(value),
            Self::Quotes => serde_json::from_str::<Vec<Quote>>(value).is_ok(),
            Self::Prices => {
                value.is_empty() || serde_json::from_str::<BTreeMap<Part, Decimal>>(value).is_ok()
            }
            Self::Signals => value.is_empty() || CustomSignal::read_all(value).is_ok(),
            Self::OneOf(names) => names.contains(&value),
        }
    }
}

/// A field: its kind of row, its name (a trailing `*` stands for any ending), what it can hold, and
/// the statements that write the shown entry (?1 row's uid, ?2 value, ?3 field).
pub(super) struct Field {
    pub(super) entity: Entity,
    pub(super) name: &'static str,
    pub(super) content: Content,
    pub(super) apply: &'static [&'static str],
}

macro_rules! column {
    ($table:literal, $column:literal) => {
        &[concat!("UPDATE ", $table, " SET ", $column, " = ?2 WHERE uid = ?1 AND ?3 <> ''")]
    };
    ($table:literal, $column:literal, whole) => {
        &[concat!(
            "UPDATE ",
            $table,
            " SET ",
            $column,
            " = CAST(?2 AS INTEGER) WHERE uid = ?1 AND ?3 <> ''"
        )]
    };
}

macro_rules! fields {
    ($($entity:ident, $name:literal, $content:expr, $apply:expr;)*) => {
        pub(super) const FIELDS: &[Field] = &[
            $(Field { entity: Entity::$entity, name: $name, content: $content, apply: $apply },)*
        ];
    };
}

const SOURCE: Content = Content::OneOf(&["", "narrow", "wide", "absolute", "own"]);
const KEPT: Content = Content::OneOf(&["kept", "removed"]);

fields! {
    Customer, "name", Content::Text, column!("customers", "name");
    Customer, "phone", Content::Text, column!("customers", "phone");
    Customer, "email", Content::Text, column!("customers", "email");
    Customer, "notes", Content::Text, column!("customers", "notes");
    Customer, "state", KEPT, column!("customers", "state");
    Vehicle, "name", Content::Text, column!("vehicles", "name");
    Vehicle, "vin", Content::Text, column!("vehicles", "vin");
    Vehicle, "plate", Content::Text, column!("vehicles", "plate");
    Vehicle, "notes", Content::Text, column!("vehicles", "notes");
    Vehicle, "make", Content::Text, column!("vehicles", "make");
    Vehicle, "fuel", Content::Text, column!("vehicles", "fuel");
    Vehicle, "tank_litre", Content::Amount, column!("vehicles", "tank_litre");
    Vehicle, "tank_source", SOURCE, column!("vehicles", "tank_source");
    Vehicle, "own_signals", Content::Signals, column!("vehicles", "own_signals_toml");
    Vehicle, "customer", Content::Uid, column!("vehicles", "customer_uid");
    Vehicle, "state", KEPT, column!("vehicles", "state");
    Visit, "complaint_kinds", Content::Text, column!("visits", "complaint_kinds");
    Visit, "complaint_words", Content::Text, column!("visits", "complaint_words");
    Visit, "connected_to", Content::Text, column!("visits", "connected_to");
    Visit, "skipped_checks", Content::Text, column!("visits", "skipped_checks");
    Visit, "notes", Content::Text, column!("visits", "notes");
    Visit, "odometer_km", Content::Count, column!("visits", "odometer_km");
    Visit, "is_virtual", Content::Flag, column!("visits", "is_virtual", whole);
    Visit, "state", Content::OneOf(&["open", "closed", "removed"]), column!("visits", "state");
    Visit, "observation.*", Content::Flag, &[
        "INSERT INTO observations (visit_id, observation, holds)
         SELECT id, substr(?3, 13), CAST(?2 AS INTEGER) FROM visits WHERE uid = ?1
         ON CONFLICT (visit_id, observation) DO UPDATE SET holds = excluded.holds",
    ];
    Repair, "part", Content::Text, column!("repairs", "part");
    Repair, "currency", Content::Text, column!("repairs", "currency_iso4217");
    Repair, "labour", Content::Amount, column!("repairs", "labour_amount");
    Repair, "diagnosis", Content::Amount, column!("repairs", "diagnosis_amount");
    Repair, "shop_diagnosis", Content::Amount, column!("repairs", "shop_diagnosis_amount");
    Repair, "tax", Content::Amount, column!("repairs", "tax_amount");
    Repair, "part_prices", Content::Prices, column!("repairs", "part_prices_json");
    Repair, "notes", Content::Text, column!("repairs", "notes");
    Repair, "state", KEPT, column!("repairs", "state");
    Repair, "quotes", Content::Quotes, &[
        "UPDATE repairs SET quotes_json = ?2 WHERE uid = ?1 AND ?3 <> ''",
        "DELETE FROM quotes WHERE repair_id = (SELECT id FROM repairs WHERE uid = ?1)
         AND ?2 <> '' AND ?3 <> ''",
        "INSERT INTO quotes (repair_id, position, seller, note, amount, chosen)
         SELECT repairs.id, quote.key, quote.value ->> 'seller', quote.value ->> 'note',
                quote.value ->> 'amount', quote.value ->> 'chosen'
         FROM repairs, json_each(?2) AS quote WHERE repairs.uid = ?1 AND ?3 <> ''",
    ];
    FillUp, "litre", Content::Amount, column!("fill_ups", "litre");
    FillUp, "cost", Content::Amount, column!("fill_ups", "cost_amount");
    FillUp, "currency", Content::Text, column!("fill_ups", "currency_iso4217");
    FillUp, "odometer_km", Content::Count, column!("fill_ups", "odometer_km");
    FillUp, "note", Content::Text, column!("fill_ups", "note");
    FillUp, "state", KEPT, column!("fill_ups", "state");
    FollowUp, "due", Content::Time, column!("follow_ups", "due_unix_us", whole);
    FollowUp, "note", Content::Text, column!("follow_ups", "note");
    FollowUp, "state", Content::OneOf(&["open", "done", "removed"]), column!("follow_ups", "state");
    Photo, "caption", Content::Text, column!("photos", "caption");
    Photo, "state", KEPT, column!("photos", "state");
    ColumnMap, "content", Content::Text, column!("column_maps", "content");
    CustomSignal, "content", Content::Text, column!("custom_signals", "content");
    CodeNote, "content", Content::Text, column!("code_notes", "content");
}

/// The field of this kind of row with this name.
pub(super) fn field_row(entity: Entity, name: &str) -> Option<&'static Field> {
    FIELDS.iter().find(|field| {
        field.entity == entity
            && match field.name.strip_suffix('*') {
                Some(start) => name.starts_with(start),
                None => field.name == name,
            }
    })
}
