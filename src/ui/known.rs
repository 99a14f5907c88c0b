use std::collections::BTreeMap;
use std::path::PathBuf;

use super::explore::Explore;
use super::markup::AppWindow;
use super::{
    car_adapter, closing_adapter, more_adapter, photos_adapter, proof_adapter, repair_adapter,
    report_adapter, verdict_adapter, visit_adapter,
};
use crate::checks::{Progress, Rails};
use crate::diagnosis::Hypothesis;
use crate::evidence::{Check, CheckResult};
use crate::jobs::{
    AdapterSeen, BackupLine, LinkAddress, LinkState, SetupStep, StreamOffer, VehiclePage,
    VehicleRow, VisitCard,
};
use crate::recording::Recording;
use crate::units::Instant;
use crate::vehicle::CustomSignal;
use crate::wording::Style;

/// What the window knows: the last of everything that the worker reported.
#[derive(Default)]
pub(super) struct Known {
    pub(super) style: Style,
    pub(super) currency: String,
    pub(super) vehicles: Option<Vec<VehicleRow>>,
    pub(super) vehicle: Option<VehiclePage>,
    pub(super) card: Option<VisitCard>,
    pub(super) recording: Recording,
    pub(super) now: Instant,
    pub(super) progress: Option<Progress>,
    /// When the check in view began.
    pub(super) check_began: Option<Instant>,
    pub(super) ended: Option<CheckResult>,
    /// When it ended, on the visit's clock.
    pub(super) ended_at: Option<Instant>,
    pub(super) rails: BTreeMap<Check, Vec<Rails>>,
    /// What of the visit's strip the person looks at.
    pub(super) explore: Explore,
    pub(super) leading: Option<(Hypothesis, f64)>,
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
    pub(super) own_signals: Vec<CustomSignal>,
    /// How much of a reading of the car is done, while one is under way.
    pub(super) reading: Option<f64>,
    /// The report written last.
    pub(super) written: Option<PathBuf>,
    /// Whether the pages follow a demonstration that plays by itself.
    pub(super) following: bool,
    /// Size of each strip on the screen, logical pixels.
    pub(super) sizes: BTreeMap<u8, (f64, f64)>,
}

/// Shows every page that is drawn from the job card.
pub(super) fn show_card(window: &AppWindow, known: &Known) {
    visit_adapter::show(window, known);
    verdict_adapter::show(window, known);
    repair_adapter::show(window, known);
    proof_adapter::show(window, known);
    closing_adapter::show(window, known);
    car_adapter::show(window, known);
    more_adapter::show(window, known);
    photos_adapter::show(window, known);
    report_adapter::show(window, known);
}
