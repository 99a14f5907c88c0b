//! A sealed hold whose engine was stopped on the way: what changes with the stop is the valve's, since
//! fuel and holes do not know of the engine.

use super::examination::Examination;
use super::fit_curve::Regressed;
use super::outcome::measure;
use super::scene::Scene;
use super::sealed_decay::{self, DecayRate};
use super::sealed_hold::{self, PULLING, SLOW_RISE, WORD};
use super::sealed_vent;
use super::spans::Span;
use crate::analysis::orifice_flow;
use crate::evidence::{CheckResult, Measure, MeasureName};
use crate::units::Estimate;

/// Either part of such a hold lasts at least this long, s.
const EACH_PART: f64 = 18.0;
/// What the stop of the engine does to the sensor's supply, believed before looking, Pa.
pub(super) const SUPPLY: f64 = 12.0;
/// Standard error, as a share, of comparing a quick fall of the sealed pressure with a slow one: gas that
/// is drawn off quickly cools (1.05 to 1.35 for the exponent of its expansion), the valve's curve.
const MODEL: f64 = 0.2;
/// Leaks below this share of full purge are a sound valve's seepage, per cent; above the other, no fuel
/// that cools looks like them (common practice, no source).
const SEEPAGE: f64 = 0.4;
const PLAIN: f64 = 2.0;
/// What hot fuel may add to a sealed tank and so hide of a leak, Pa/s (1 to 2 kPa per kelvin, AP-42
/// ch. 7).
const HIDDEN: f64 = 8.0;

/// One hold of a sealed tank, with what can be fitted to it.
#[derive(Debug)]
pub(super) struct Held {
    /// From the sealing of the vent to its opening, s.
    pub(super) span: Span,
    /// Samples in it.
    pub(super) sealed: Vec<usize>,
    /// Those with the valve shut and a vacuum that stands.
    pub(super) hold: Vec<usize>,
    /// Drift with the valve shut and the engine running, Pa/s, where no hole or fuel outdoes it.
    pub(super) pull: Option<Estimate>,
    /// The decay, where a hole can be told from a valve that pulls.
    pub(super) decay: Option<Regressed>,
    /// Fall of the pressure that went with the running engine, Pa/s, where it was stopped on the way.
    pub(super) drawn: Option<Estimate>,
    /// Speed at which full purge would have drawn this tank down, Pa/s.
    full: Option<Estimate>,
}

impl Held {
    /// Whether a leaking valve pulls, as the drift shows it.
    pub(super) fn is_pulled(&self) -> bool {
        self.pull.is_some_and(|pull| pull.high < -PULLING)
    }
}

/// Every hold of the visit.
pub(super) fn each_hold(examination: &Examination) -> impl Iterator<Item = Held> {
    let scene = &examination.scene;
    let rest = examination.rest.map_or(0.0, |rest| rest.value);
    sealed_hold::holds(scene).into_iter().map(move |span| {
        // The vent may have been opened a moment before the word came.
        let sealed = scene.select(|i| scene.times[i] >= span.0 && scene.times[i] < span.1 - WORD);
        let hold = sealed_hold::hold_samples(examination, &sealed, rest);
        let pull = sealed_hold::pull(scene, &hold, rest).filter(|pull| pull.low < SLOW_RISE);
        let full = sealed_vent::full_draw(examination, &sealed);
        let mut held = Held { span, sealed, hold, pull, decay: None, drawn: None, full };
        if is_stopped(scene, &held.hold) {
            // The hand may have been later than the word: the first seconds may still be purge.
            let from = held.hold.first().map_or(0.0, |&i| scene.times[i] + WORD);
            let hold: Vec<usize> =
                held.hold.iter().copied().filter(|&i| scene.times[i] > from).collect();
            held.decay = sealed_decay::regress(examination, &hold, rest);
            held.drawn = held.decay.as_ref().and_then(sealed_decay::drawn);
        } else if !held.is_pulled() && !sealed_hold::deepened(scene, &held.hold) {
            // While a valve pulls, what a hole lets in cannot be told from it.
            held.decay = sealed_decay::regress(examination, &held.hold, rest);
        }
        held
    })
}

/// Whether the hold has a part with the engine running and one with it standing.
pub(super) fn is_stopped(scene: &Scene, hold: &[usize]) -> bool {
    let taken = |pair: &[usize]| (scene.times[pair[1]] - scene.times[pair[0]]).min(3.0);
    let (mut running, mut standing) = (0.0, 0.0);
    for pair in hold.windows(2) {
        *(if scene.running[pair[0]] { &mut running } else { &mut standing }) += taken(pair);
    }
    running > EACH_PART && standing > EACH_PART
}

/// Flow through a leak of the shut valve, as a share of what it draws at idle: out of the tank while the
/// engine runs, and back into its vacuum, as through any hole, once it stands.
pub(super) fn leak_flow(scene: &Scene, sample: usize, rest: f64) -> f64 {
    if scene.running[sample] {
        return -1.0;
    }
    let outside = 1_000.0 * scene.barometric;
    let inside = outside + scene.pressure[sample] - rest;
    orifice_flow::psi(inside / outside) - orifice_flow::psi(outside / inside)
}

/// The leak that the holds with a stopped engine show, as a share of full purge, per cent.
fn share(holds: &[Held]) -> Option<Estimate> {
    let shares: Vec<DecayRate> = holds
        .iter()
        .filter_map(|held| {
            let (drawn, full) = (held.drawn?, held.full?);
            let value = 100.0 * drawn.value / full.value;
            let shared = value.abs() * (full.standard_error() / full.value).hypot(MODEL);
            let error = (100.0 * drawn.standard_error() / full.value).hypot(shared);
            Some(DecayRate { rate: Estimate::from_standard_error(value, error), shared })
        })
        .collect();
    sealed_decay::agreed(&shares)
}

/// Whether a valve is called leaking by its share.
pub(super) fn leaks(share: Estimate) -> bool {
    share.low > SEEPAGE
}

/// Whether the check as it stands leaves open whether the valve leaks a little, so that a look with the
/// engine off would tell.
pub(super) fn may_leak(result: &CheckResult) -> bool {
    let (Some(pull), Some(full)) =
        (result.measure(MeasureName::SealedPull), result.measure(MeasureName::SealedDraw))
    else {
        return false;
    };
    let share = |fall: f64| 100.0 * fall / full.value;
    let tight = share(HIDDEN - pull.low) < SEEPAGE;
    let plain = pull.high < -PULLING && share(-pull.high) > PLAIN;
    // What rises like this is a hole, or fuel that outdoes any small leak.
    let rises = pull.low > HIDDEN;
    full.value > 0.0 && !tight && !plain && !rises
}

/// The best known of the speeds at which full purge draws the sealed tank down, Pa/s.
pub(super) fn full_draw(holds: &[Held]) -> Option<Estimate> {
    let draws: Vec<Estimate> = holds.iter().filter_map(|held| held.full).collect();
    sealed_hold::narrowest(&draws)
}

/// What the holds told of the valve, as measures: the best known draw, and the leak.
pub(super) fn measures(holds: &[Held]) -> Vec<Measure> {
    let draw = full_draw(holds).map(|draw| measure(MeasureName::SealedDraw, draw));
    let share = share(holds).map(|share| measure(MeasureName::SealedLeak, share));
    draw.into_iter().chain(share).collect()
}
