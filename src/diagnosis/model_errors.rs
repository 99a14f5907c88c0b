//! What numbers miss beyond their bounds, as the virtual population shows it: a stored table, written anew by
//! `stilltank validate --cars 4000 --hard --seed 40 --model-errors src/diagnosis/model_errors.csv`.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::Deserialize;

use crate::evidence::MeasureName;

/// A row of the table; its other columns are for people.
#[derive(Deserialize)]
struct Row {
    measure: MeasureName,
    spread: f64,
}

static TABLE: LazyLock<BTreeMap<MeasureName, f64>> = LazyLock::new(|| {
    let mut stored = csv::Reader::from_reader(include_bytes!("model_errors.csv").as_slice());
    let rows = stored.deserialize::<Row>().filter_map(Result::ok);
    rows.map(|row| (row.measure, row.spread)).collect()
});

/// Standard error, as a share, with which a number is weighed beside what its bounds claim: what the
/// virtual population shows, and not less than `believed`. No population stands for every car, and where
/// this one shows nothing others may.
pub(super) fn model_error(name: MeasureName, believed: f64) -> f64 {
    TABLE.get(&name).copied().unwrap_or(0.0).max(believed)
}

#[cfg(test)]
mod tests {
    use super::{TABLE, model_error};
    use crate::evidence::MeasureName;

    /// Every number that is weighed as a share has its row, and no row is lost in reading.
    #[test]
    fn the_stored_table_is_read_whole() {
        let lines = include_str!("model_errors.csv").lines().count() - 1;
        assert_eq!(TABLE.len(), lines);
        for name in [
            MeasureName::PurgeVacuum,
            MeasureName::RecoveryTime,
            MeasureName::IdleChange,
            MeasureName::VacuumWithPurgeShut,
            MeasureName::SealedFlow,
            MeasureName::VentTime,
            MeasureName::SealedHole,
            MeasureName::SealedLeak,
        ] {
            assert!(TABLE.get(&name).is_some_and(|it| (0.0..0.6).contains(it)), "{name:?}");
        }
        assert!(model_error(MeasureName::PurgeVacuum, 0.01) > 0.05);
        assert!((model_error(MeasureName::SealedHole, 0.3) - 0.3).abs() < 1e-9);
    }
}
