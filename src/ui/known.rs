use std::cell::Cell;
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Duration;

use slint::ComponentHandle;

use super::explore::Explore;
use super::markup::{AppWindow, Navigation, Page};
use super::{
    car_adapter, check_adapter, closing_adapter, comparison_adapter, more_adapter, photos_adapter,
    proof_adapter, repair_adapter, report_adapter, verdict_adapter, visit_adapter,
};
use crate::checks::{FitCurve, Progress, Rails};
use crate::evidence::{Check, CheckResult};
use crate::jobs::{
    AdapterSeen, BackupLine, ConflictLine, CustomerLine, LinkAddress, LinkState, OwnSignals,
    SetupStep, StreamOffer, VehiclePage, VehicleRow, VisitCard, VisitComparison,
};
use crate::recording::{Action, Recording};
use crate::units::Instant;
use crate::vehicle::Signal;
use crate::wording::Style;

/// Purge command above which a valve opens, per cent.
const OPENS: f64 = 0.5;

/// What the window knows: the last of everything that the worker reported.
#[derive(Default)]
pub(super) struct Known {
    pub(super) style: Style,
    pub(super) currency: String,
    pub(super) vehicles: Option<Vec<VehicleRow>>,
    pub(super) vehicle: Option<VehiclePage>,
    /// Whether the vehicle that is kept next was just added here, and is to be opened.
    pub(super) adding: bool,
    pub(super) card: Option<VisitCard>,
    pub(super) recording: Recording,
    pub(super) now: Instant,
    pub(super) progress: Option<Progress>,
    /// When the check in view began.
    pub(super) check_began: Option<Instant>,
    pub(super) ended: Option<CheckResult>,
    /// What it fitted to the readings.
    pub(super) fits: Vec<FitCurve>,
    /// When it ended, on the visit's clock.
    pub(super) ended_at: Option<Instant>,
    pub(super) rails: BTreeMap<Check, Vec<Rails>>,
    /// Whether the running check is held.
    pub(super) paused: bool,
    /// What of the visit's strip the person looks at.
    pub(super) explore: Explore,
    pub(super) link: Option<LinkState>,
    /// Setup steps of this connection with the visit time at which each began.
    pub(super) setup: Vec<SetupStep>,
    pub(super) adapters: Vec<AdapterSeen>,
    pub(super) looking: bool,
    /// The adapter whose characteristics are shown, and what it offers once it has said so.
    pub(super) streams: Option<(LinkAddress, Option<Vec<StreamOffer>>)>,
    pub(super) chosen_adapter: Option<AdapterSeen>,
    /// The copies of the database, newest first.
    pub(super) backups: Vec<BackupLine>,
    /// The person's own requests.
    pub(super) own_signals: OwnSignals,
    /// Every customer, in order of name.
    pub(super) customers: Vec<CustomerLine>,
    /// The known customer whose fields are being written in.
    pub(super) customer_chosen: Option<i64>,
    /// The fields that two devices answered differently.
    pub(super) conflicts: Vec<ConflictLine>,
    /// Two visits laid over each other, once they have been read, and which of their traces is shown.
    pub(super) comparison: Option<VisitComparison>,
    pub(super) compared_trace: usize,
    /// How much of a reading of the car is done, while one is under way.
    pub(super) reading: Option<f64>,
    /// The report written last.
    pub(super) written: Option<PathBuf>,
    /// Whether the pages follow a demonstration that plays by itself.
    pub(super) following: bool,
    /// Whether the strip in view is to be drawn anew, once all that arrived together is taken in.
    pub(super) strip_due: Cell<bool>,
    /// Size of each strip on the screen, logical pixels.
    pub(super) sizes: BTreeMap<u8, (f64, f64)>,
}

impl Known {
    /// Forgets what belongs to the recording of another visit.
    pub(super) fn forget_recording(&mut self) {
        self.recording = Recording::default();
        self.rails.clear();
        self.progress = None;
        self.ended = None;
        self.now = Instant::ZERO;
    }

    /// Takes in how a check stands. Its rails end as soon as purge draws on the tank, which the check
    /// itself sees only at its next look.
    pub(super) fn take_progress(&mut self, mut progress: Progress) {
        let opened = self.purge_opened();
        if let Some(rails) = progress.rails.last_mut().filter(|it| it.until.is_none()) {
            rails.until = opened.filter(|at| *at > rails.from);
        }
        self.rails.insert(progress.check, progress.rails.clone());
        self.progress = Some(progress);
    }

    /// Since when a valve that is plugged in has been told to open; `None` while it is shut.
    fn purge_opened(&self) -> Option<Instant> {
        let plug = self
            .recording
            .actions()
            .iter()
            .rev()
            .find(|it| matches!(it.action, Action::PurgePlugged | Action::PurgeUnplugged));
        let plugged = plug.map_or(Some(Instant::ZERO), |it| {
            (it.action == Action::PurgePlugged).then_some(it.at)
        })?;
        let series = self.recording.series(Signal::PurgeCommand)?;
        let (newest, _) = series.last()?;
        let (times, values) = series.between(plugged, newest + Duration::from_millis(1));
        let shut = values.iter().rposition(|percent| *percent <= OPENS);
        let first = times.get(shut.map_or(0, |place| place + 1))?;
        // What was commanded before the plug went in holds on.
        Some(if shut.is_none() && plug.is_some() { plugged } else { *first })
    }

    /// How far the tank is off the middle of the rails, in halves of their distance, while a check
    /// runs that has rails.
    pub(super) fn half_bands_off(&self) -> Option<f64> {
        let progress = self.progress.as_ref().filter(|_| self.ended.is_none() && !self.paused)?;
        let rails = progress.rails.last()?;
        let (_, value) = self.recording.series(Signal::TankPressure)?.last()?;
        let half = ((rails.high - rails.low) / 2.0).max(1.0);
        Some((value - (rails.high + rails.low) / 2.0) / half)
    }
}

/// Shows the page in view, if it is drawn from the job card: one that is not seen gets nothing.
pub(super) fn show_card(window: &AppWindow, known: &Known) {
    match window.global::<Navigation>().get_page() {
        Page::Visit => visit_adapter::show(window, known),
        Page::Verdict => verdict_adapter::show(window, known),
        Page::Repair => repair_adapter::show(window, known),
        Page::Proof => proof_adapter::show(window, known),
        Page::Codes | Page::FollowUp => closing_adapter::show(window, known),
        Page::Car | Page::Vent => car_adapter::show(window, known),
        Page::More => more_adapter::show(window, known),
        Page::Photos => photos_adapter::show(window, known),
        Page::Report => report_adapter::show(window, known),
        Page::Check => check_adapter::show(window, known),
        Page::Comparison => comparison_adapter::show(window, known),
        Page::Vehicles
        | Page::Vehicle
        | Page::Connect
        | Page::Settings
        | Page::Backups
        | Page::Signals
        | Page::Details
        | Page::Moving
        | Page::Rescue => {}
    }
}
