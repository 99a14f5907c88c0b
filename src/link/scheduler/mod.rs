//! What to ask when: requests, the rotation of wanted readings, the exchange's duration.

pub(in crate::link) mod latency;
mod rate;
mod request;
mod rotation;
mod row;
mod wanted;

pub use rate::{RateReport, RateRow};
pub use request::{Consent, Request, Target};
pub use rotation::Rotation;
pub(in crate::link) use rotation::{Batch, CountMeans, MOST_TOGETHER};
pub use wanted::{Item, Reading, Wanted};
