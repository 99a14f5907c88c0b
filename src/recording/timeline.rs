use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::{Action, Series};
use crate::units::Instant;
use crate::vehicle::Signal;

/// An action and when it happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ActionAt {
    /// When.
    pub at: Instant,
    /// What.
    pub action: Action,
}

/// A trouble code and when it was read, so that a recording carries what the judge weighed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CodeAt {
    /// When it was read.
    pub at: Instant,
    /// The code as written, such as `P0496`.
    pub code: String,
}

/// The signals and actions of a visit, on one clock.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Recording {
    series: BTreeMap<Signal, Series>,
    actions: Vec<ActionAt>,
    codes: Vec<CodeAt>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    tank_litre: Option<f64>,
}

/// What tanks of cars and vans hold, L: anything else was meant otherwise (common practice, no source).
pub const TANK_LITRE: std::ops::RangeInclusive<f64> = 10.0..=200.0;

impl Recording {
    /// Appends a sample of `signal`; `false` if the series refuses it (see [`Series::push`]).
    pub fn push(&mut self, signal: Signal, at: Instant, value: f64) -> bool {
        self.series.entry(signal).or_default().push(at, value)
    }

    /// Adds an action at its time; actions stay in order of time, equal times in order of arrival.
    pub fn push_action(&mut self, at: Instant, action: Action) {
        let place = self.actions.partition_point(|known| known.at <= at);
        self.actions.insert(place, ActionAt { at, action });
    }

    /// Adds a trouble code that was read at `at`.
    pub fn push_code(&mut self, at: Instant, code: &str) {
        let place = self.codes.partition_point(|known| known.at <= at);
        self.codes.insert(place, CodeAt { at, code: code.to_owned() });
    }

    /// The series of a signal, if it has any sample.
    pub fn series(&self, signal: Signal) -> Option<&Series> {
        self.series.get(&signal).filter(|series| !series.is_empty())
    }

    /// Every signal that has samples, with its series.
    pub fn signals(&self) -> impl Iterator<Item = (Signal, &Series)> {
        self.series.iter().filter(|(_, series)| !series.is_empty()).map(|(s, series)| (*s, series))
    }

    /// Actions in order of time.
    pub fn actions(&self) -> &[ActionAt] {
        &self.actions
    }

    /// When this action last happened.
    pub fn last_action(&self, action: Action) -> Option<Instant> {
        self.actions.iter().rev().find(|known| known.action == action).map(|known| known.at)
    }

    /// What the vehicle's tank holds, L, as the person told it; none where nobody did, or where no tank of
    /// a car holds that.
    pub fn tank_litre(&self) -> Option<f64> {
        self.tank_litre
    }

    /// Keeps what the tank holds, L, so that a recording carries what the judge reckons with.
    pub fn set_tank_litre(&mut self, litre: Option<f64>) {
        self.tank_litre = litre.filter(|litre| TANK_LITRE.contains(litre));
    }

    /// Trouble codes in order of reading.
    pub fn codes(&self) -> &[CodeAt] {
        &self.codes
    }

    /// Time of the first and the last entry of any kind.
    pub fn span(&self) -> Option<(Instant, Instant)> {
        let series = self.series.values().filter_map(|s| Some((*s.times().first()?, s.last()?.0)));
        let actions = self.actions.iter().map(|a| (a.at, a.at));
        let codes = self.codes.iter().map(|c| (c.at, c.at));
        series
            .chain(actions)
            .chain(codes)
            .reduce(|(a, b), (first, last)| (a.min(first), b.max(last)))
    }
}
