//! The tables that other programs are given, and the questions that fill them.

use Kind::{Real, Text, Whole};

/// What a column holds.
#[derive(Clone, Copy)]
pub(super) enum Kind {
    Whole,
    Real,
    Text,
}

/// A table and where its rows come from.
pub(super) struct Table {
    pub(super) name: &'static str,
    pub(super) columns: &'static [(&'static str, Kind)],
    /// The question, with `WITHIN` for the condition on `v.id`; none for samples, which are decoded.
    pub(super) question: Option<&'static str>,
}

/// Stands for `WITHIN`: `?1` is `all`, or a list of vehicle numbers.
pub(super) const WITHIN: &str = "(?1 = 'all' OR v.id IN (SELECT value FROM json_each(?1)))";

/// Every table, samples last.
pub(super) const TABLES: [Table; 9] = [
    Table {
        name: "vehicles",
        columns: &[
            ("vehicle", Text),
            ("name", Text),
            ("vin", Text),
            ("is_virtual", Whole),
            ("make", Text),
            ("fuel", Text),
            ("tank_litre", Text),
            ("notes", Text),
        ],
        question: Some(
            "SELECT uid AS vehicle, name, vin, is_virtual, make, fuel, tank_litre, notes FROM vehicles AS v
             WHERE v.state = 'kept' AND WITHIN ORDER BY v.id",
        ),
    },
    Table {
        name: "visits",
        columns: &[
            ("visit", Text),
            ("vehicle", Text),
            ("vehicle_name", Text),
            ("started_unix_us", Whole),
            ("is_virtual", Whole),
            ("complaint_kinds", Text),
            ("complaint_words", Text),
            ("odometer_km", Text),
            ("outcome", Text),
            ("fault", Text),
        ],
        question: Some(
            "SELECT t.uid AS visit, v.uid AS vehicle, v.name AS vehicle_name, t.started_unix_us,
               max(t.is_virtual, v.is_virtual) AS is_virtual, t.complaint_kinds,
               t.complaint_words, t.odometer_km, coalesce(w.outcome, '') AS outcome,
               coalesce(w.fault, '') AS fault
             FROM visits AS t JOIN vehicles AS v ON v.id = t.vehicle_id
             LEFT JOIN verdicts AS w ON w.id = (SELECT id FROM verdicts WHERE visit_id = t.id
               ORDER BY judged_unix_us DESC, id DESC LIMIT 1)
             WHERE t.state <> 'removed' AND v.state = 'kept' AND WITHIN
             ORDER BY t.started_unix_us, t.uid",
        ),
    },
    Table {
        name: "verdicts",
        columns: &[
            ("visit", Text),
            ("judged_unix_us", Whole),
            ("program_version", Text),
            ("outcome", Text),
            ("fault", Text),
            ("probability", Real),
        ],
        question: Some(
            "SELECT t.uid AS visit, w.judged_unix_us, w.program_version, w.outcome, w.fault,
               w.probability
             FROM verdicts AS w JOIN visits AS t ON t.id = w.visit_id
             JOIN vehicles AS v ON v.id = t.vehicle_id
             WHERE t.state <> 'removed' AND v.state = 'kept' AND WITHIN ORDER BY w.id",
        ),
    },
    Table {
        name: "measures",
        columns: &[
            ("visit", Text),
            ("judged_unix_us", Whole),
            ("program_version", Text),
            ("check_name", Text),
            ("outcome", Text),
            ("measure", Text),
            ("unit", Text),
            ("value", Real),
            ("low", Real),
            ("high", Real),
        ],
        question: Some(
            "SELECT t.uid AS visit, r.judged_unix_us, r.program_version, r.check_name, r.outcome,
               m.measure, m.unit, m.value, m.low, m.high
             FROM measures AS m JOIN check_results AS r ON r.id = m.check_result_id
             JOIN visits AS t ON t.id = r.visit_id JOIN vehicles AS v ON v.id = t.vehicle_id
             WHERE t.state <> 'removed' AND v.state = 'kept' AND WITHIN ORDER BY m.id",
        ),
    },
    Table {
        name: "actions",
        columns: &[("visit", Text), ("time_us", Whole), ("action", Text)],
        question: Some(
            "SELECT t.uid AS visit, a.at_us AS time_us, a.action
             FROM actions AS a JOIN recordings AS r ON r.id = a.recording_id
             JOIN visits AS t ON t.id = r.visit_id JOIN vehicles AS v ON v.id = t.vehicle_id
             WHERE t.state <> 'removed' AND v.state = 'kept' AND WITHIN
             ORDER BY t.uid, a.at_us, a.id",
        ),
    },
    Table {
        name: "trouble_codes",
        columns: &[("visit", Text), ("time_us", Whole), ("code", Text)],
        question: Some(
            "SELECT t.uid AS visit, c.at_us AS time_us, c.code
             FROM trouble_codes AS c JOIN recordings AS r ON r.id = c.recording_id
             JOIN visits AS t ON t.id = r.visit_id JOIN vehicles AS v ON v.id = t.vehicle_id
             WHERE t.state <> 'removed' AND v.state = 'kept' AND WITHIN
             ORDER BY t.uid, c.at_us, c.id",
        ),
    },
    Table {
        name: "repairs",
        columns: &[
            ("visit", Text),
            ("entered_unix_us", Whole),
            ("part", Text),
            ("currency_iso4217", Text),
            ("labour_amount", Text),
            ("diagnosis_amount", Text),
            ("shop_diagnosis_amount", Text),
            ("tax_amount", Text),
            ("part_prices_json", Text),
            ("quotes_json", Text),
            ("notes", Text),
        ],
        question: Some(
            "SELECT t.uid AS visit, r.entered_unix_us, r.part, r.currency_iso4217,
               r.labour_amount, r.diagnosis_amount, r.shop_diagnosis_amount, r.tax_amount,
               r.part_prices_json, r.quotes_json, r.notes
             FROM repairs AS r JOIN visits AS t ON t.id = r.visit_id
             JOIN vehicles AS v ON v.id = t.vehicle_id
             WHERE r.state = 'kept' AND t.state <> 'removed' AND v.state = 'kept' AND WITHIN
             ORDER BY r.id",
        ),
    },
    Table {
        name: "fill_ups",
        columns: &[
            ("vehicle", Text),
            ("filled_unix_us", Whole),
            ("litre", Text),
            ("cost_amount", Text),
            ("currency_iso4217", Text),
            ("odometer_km", Text),
            ("note", Text),
        ],
        question: Some(
            "SELECT v.uid AS vehicle, f.filled_unix_us, f.litre, f.cost_amount,
               f.currency_iso4217, f.odometer_km, f.note
             FROM fill_ups AS f JOIN vehicles AS v ON v.id = f.vehicle_id
             WHERE f.state = 'kept' AND v.state = 'kept' AND WITHIN
             ORDER BY f.filled_unix_us, f.id",
        ),
    },
    Table {
        name: "samples",
        columns: &[("visit", Text), ("signal", Text), ("time_us", Whole), ("value", Real)],
        question: None,
    },
];
