//! Which tables travel between files, and how their rows are found and named.

use super::VehicleId;

/// Which rows to take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Scope {
    Everything,
    Vehicle(VehicleId),
}

impl Scope {
    /// The value of `?1` in [`Table::read_rows`].
    pub(super) fn parameter(self) -> String {
        match self {
            Self::Everything => "all".to_owned(),
            Self::Vehicle(vehicle) => format!("[{}]", vehicle.0),
        }
    }
}

/// How a table's rows are found and named.
pub(super) struct Table {
    pub(super) name: &'static str,
    /// Columns that never change, without `id` and without the parent's.
    pub(super) columns: &'static [&'static str],
    /// Table and column of the row that each of this table's rows belongs to.
    pub(super) parent: Option<(&'static str, &'static str)>,
    /// How to reach the vehicle: further joins after `t` and its parent `p`, and the condition that
    /// `?1` (`all`, or a list of vehicle numbers) holds it.
    within: (&'static str, &'static str),
}

const OF_VEHICLE: (&str, &str) = ("", "(?1 = 'all' OR p.id IN (SELECT value FROM json_each(?1)))");
const OF_VISIT: (&str, &str) =
    ("", "(?1 = 'all' OR p.vehicle_id IN (SELECT value FROM json_each(?1)))");
const BELOW_VISIT: (&str, &str) = (
    "JOIN visits AS v ON v.id = p.visit_id",
    "(?1 = 'all' OR v.vehicle_id IN (SELECT value FROM json_each(?1)))",
);
const WITH_EVERYTHING: (&str, &str) = ("", "?1 = 'all'");

/// Every table that is merged row by row, parents before children.
pub(super) const TABLES: &[Table] = &[
    Table {
        name: "customers",
        columns: &["uid", "added_unix_us"],
        parent: None,
        within: (
            "",
            "(?1 = 'all' OR uid IN (SELECT customer_uid FROM vehicles
              WHERE id IN (SELECT value FROM json_each(?1))))",
        ),
    },
    Table {
        name: "vehicles",
        columns: &["uid", "added_unix_us", "is_virtual"],
        parent: None,
        within: ("", "(?1 = 'all' OR t.id IN (SELECT value FROM json_each(?1)))"),
    },
    Table {
        name: "visits",
        columns: &["uid", "started_unix_us"],
        parent: Some(("vehicles", "vehicle_id")),
        within: OF_VEHICLE,
    },
    Table {
        name: "recordings",
        columns: &["uid"],
        parent: Some(("visits", "visit_id")),
        within: OF_VISIT,
    },
    Table {
        name: "actions",
        columns: &["position", "at_us", "action"],
        parent: Some(("recordings", "recording_id")),
        within: BELOW_VISIT,
    },
    Table {
        name: "trouble_codes",
        columns: &["position", "at_us", "code"],
        parent: Some(("recordings", "recording_id")),
        within: BELOW_VISIT,
    },
    Table {
        name: "code_clearings",
        columns: &["uid", "cleared_unix_us"],
        parent: Some(("visits", "visit_id")),
        within: OF_VISIT,
    },
    Table {
        name: "car_reports",
        columns: &["uid", "read_unix_us", "report_json"],
        parent: Some(("visits", "visit_id")),
        within: OF_VISIT,
    },
    Table {
        name: "monitor_results",
        columns: &["uid", "read_unix_us", "monitor", "test", "value", "low", "high", "unit"],
        parent: Some(("visits", "visit_id")),
        within: OF_VISIT,
    },
    Table {
        name: "check_results",
        columns: &[
            "uid",
            "judged_unix_us",
            "program_version",
            "check_name",
            "outcome",
            "result_json",
        ],
        parent: Some(("visits", "visit_id")),
        within: OF_VISIT,
    },
    Table {
        name: "measures",
        columns: &["measure", "unit", "value", "low", "high"],
        parent: Some(("check_results", "check_result_id")),
        within: BELOW_VISIT,
    },
    Table {
        name: "check_rails",
        columns: &["uid", "ended_unix_us", "check_name", "rails_json"],
        parent: Some(("visits", "visit_id")),
        within: OF_VISIT,
    },
    Table {
        name: "verdicts",
        columns: &[
            "uid",
            "judged_unix_us",
            "program_version",
            "outcome",
            "fault",
            "probability",
            "verdict_json",
        ],
        parent: Some(("visits", "visit_id")),
        within: OF_VISIT,
    },
    Table {
        name: "repairs",
        columns: &["uid", "entered_unix_us"],
        parent: Some(("visits", "visit_id")),
        within: OF_VISIT,
    },
    Table {
        name: "fill_ups",
        columns: &["uid", "filled_unix_us"],
        parent: Some(("vehicles", "vehicle_id")),
        within: OF_VEHICLE,
    },
    Table {
        name: "follow_ups",
        columns: &["uid", "visit_uid", "planned_unix_us"],
        parent: Some(("vehicles", "vehicle_id")),
        within: OF_VEHICLE,
    },
    Table {
        name: "photos",
        columns: &["uid", "added_unix_us", "sha256", "extension", "size_byte"],
        parent: Some(("visits", "visit_id")),
        within: OF_VISIT,
    },
    Table { name: "column_maps", columns: &["uid", "name"], parent: None, within: WITH_EVERYTHING },
    Table {
        name: "custom_signals",
        columns: &["uid", "name"],
        parent: None,
        within: WITH_EVERYTHING,
    },
    Table { name: "code_notes", columns: &["uid", "name"], parent: None, within: WITH_EVERYTHING },
];

impl Table {
    /// The question for the rows within `?1`: the columns, then the parent's name.
    pub(super) fn read_rows(&self) -> String {
        let columns: Vec<String> = self.columns.iter().map(|name| format!("t.{name}")).collect();
        let columns = columns.join(", ");
        let (joins, condition) = self.within;
        let name = self.name;
        match self.parent {
            None => format!("SELECT {columns} FROM {name} AS t WHERE {condition} ORDER BY t.id"),
            Some((parent, column)) => format!(
                "SELECT {columns}, p.uid FROM {name} AS t JOIN {parent} AS p ON p.id = t.{column}
             {joins} WHERE {condition} ORDER BY t.id"
            ),
        }
    }

    /// The statement that adds such a row unless it is there: the columns, then the parent's name.
    pub(super) fn write_row(&self) -> String {
        let name = self.name;
        let columns = self.columns.join(", ");
        let places: Vec<String> =
            (1..=self.columns.len()).map(|place| format!("?{place}")).collect();
        let places = places.join(", ");
        match self.parent {
            None => {
                format!("INSERT INTO {name} ({columns}) VALUES ({places}) ON CONFLICT DO NOTHING")
            }
            Some((parent, column)) => format!(
                "INSERT INTO {name} ({columns}, {column}) SELECT {places}, p.id FROM {parent} AS p
             WHERE p.uid = ?{} ON CONFLICT DO NOTHING",
                self.columns.len() + 1
            ),
        }
    }
}
