use thiserror::Error;

/// What can go wrong between the program and the car. Variants hold what a caller can act on.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LinkError {
    /// The connection is gone; reconnecting may help.
    #[error("link lost")]
    Lost,
    /// Nothing answered in time.
    #[error("no answer within {waited_ms} ms")]
    Silent {
        /// How long was waited.
        waited_ms: u64,
    },
}
