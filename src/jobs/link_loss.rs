use std::time::Duration;

use super::source::Source;
use super::{Event, JobError, LinkState, SampleBatch, Workshop};
use crate::link::LinkError;
use crate::units::Instant;

/// How long one attempt to get a lost link back may take, so that commands come through between.
const ATTEMPT: Duration = Duration::from_secs(2);

/// After so long without an answer a link that seems to stand counts as lost: with the exchange
/// that tells it, that is said within a second.
const SILENCE: f64 = 0.55;

/// On a line that loses bytes a single exchange without an answer means little.
const SILENCE_ON_A_DOUBTFUL_LINE: f64 = 0.9;

impl Workshop {
    pub(super) fn handle_link_failure(
        &mut self,
        error: LinkError,
        now: Instant,
    ) -> Result<(), JobError> {
        match error {
            // The car is silent while the ignition is off; the link itself stands.
            LinkError::NoData => Ok(()),
            _ => {
                let since = self.silent_since.take().unwrap_or(now);
                self.lost_since = Some(since);
                self.emit(Event::Link(LinkState::Lost { since }));
                self.save()
            }
        }
    }

    /// Says so when nothing answers although the link seems to stand: a wireless link that broke
    /// can stay open for many seconds. The link itself goes on trying.
    pub(super) fn watch_silence(&mut self, heard: Option<Instant>, now: Instant) {
        if let Some(at) = heard {
            self.heard_at = at;
            if self.silent_since.take().is_some() {
                self.emit(Event::Link(LinkState::Linked { readings_per_second: None }));
            }
            return;
        }
        let Some(Source::Car(car)) = &self.source else { return };
        let limit = if car.link.is_doubtful() { SILENCE_ON_A_DOUBTFUL_LINE } else { SILENCE };
        if !car.link.is_silent() || now.seconds_since(self.heard_at) < limit {
            return;
        }
        if self.silent_since.is_none() {
            let since = self.heard_at;
            self.silent_since = Some(since);
            self.emit(Event::Link(LinkState::Lost { since }));
        }
        self.let_time_be_seen(now);
    }

    /// Tries to get a lost link back; the visit and the running check wait.
    pub(super) fn try_again(&mut self) {
        let Some(Source::Car(car)) = &mut self.source else {
            self.lost_since = None;
            return;
        };
        let deadline = car.link.now() + ATTEMPT;
        let back = car.link.reconnect(deadline).is_ok();
        let link_now = car.link.now();
        if let Some(visit) = &mut self.visit {
            let now = visit.clock.follow(link_now);
            self.let_time_be_seen(now);
        }
        if back {
            self.lost_since = None;
            self.emit(Event::Link(LinkState::Linked { readings_per_second: None }));
        }
    }

    /// Tells the time although no reading came, so that what is shown grows old.
    fn let_time_be_seen(&self, now: Instant) {
        self.emit(Event::Samples(SampleBatch { now, ..SampleBatch::default() }));
    }
}
