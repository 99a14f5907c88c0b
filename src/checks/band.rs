//! The rails: the band in which the reading stays while the tank is still, from this car's own
//! noise.

use super::examination::Examination;
use super::procedure::Rails;
use super::scene::Scene;
use crate::analysis::descriptive;
use crate::evidence::Check;
use crate::units::{Estimate, Instant};

/// A reading leaves the band by chance once in about two thousand: 3.5 standard deviations of
/// normal noise on either side.
const WIDTH: f64 = 3.5;
/// Narrower than this no eye can follow, Pa.
const LEAST: f64 = 4.0;

/// Whether a check's rails lie about where the tank stands at idle with the valve unplugged, since it asks
/// whether the tank moves; elsewhere they lie about the reading at rest.
pub(super) fn is_about_idle(check: Check) -> bool {
    matches!(check, Check::ThrottleFollow | Check::RepairProof)
}

/// Where the tank stands at idle with the valve unplugged, Pa; `None` where the check's rails do not ask.
pub(super) fn idle_level(examination: &Examination, check: Check, started: Instant) -> Option<f64> {
    if !is_about_idle(check) {
        return None;
    }
    let scene = &examination.scene;
    let start = started.seconds();
    let first_opening = scene.openings.iter().map(|span| span.0).find(|from| *from > start);
    let values: Vec<f64> = examination
        .still
        .iter()
        .copied()
        .filter(|&i| {
            scene.unplugged[i]
                && scene.times[i] > start
                && first_opening.is_none_or(|opening| scene.times[i] < opening - 0.5)
        })
        .map(|i| scene.pressure[i])
        .collect();
    (values.len() >= 5).then(|| descriptive::median(&values)).flatten()
}

/// Every stretch in which the reading should stand still, with its band, about rest or about `idle`.
pub(super) fn rails(
    scene: &Scene,
    rest: Option<Estimate>,
    idle: Option<f64>,
    started: Instant,
) -> Vec<Rails> {
    let Some(rest) = rest else { return Vec::new() };
    let half = (WIDTH * scene.noise.max(scene.noise_floor())).max(LEAST) + scene.step / 2.0;
    let mut rails = Vec::new();
    let mut open: Option<f64> = None;
    for i in 0..scene.times.len() {
        let quiet = scene.shut[i] && scene.plain[i];
        match (quiet, open) {
            (true, None) => open = Some(scene.times[i]),
            (false, Some(from)) => {
                rails.push((from, Some(scene.times[i])));
                open = None;
            }
            _ => {}
        }
    }
    rails.extend(open.map(|from| (from, None)));
    rails
        .into_iter()
        .map(|(from, until)| {
            let in_check = from >= started.seconds() || until.is_none();
            let centre = idle.filter(|_| in_check).unwrap_or(rest.value);
            Rails {
                from: Instant::from_seconds(from),
                until: until.map(Instant::from_seconds),
                low: centre - half,
                high: centre + half,
            }
        })
        .collect()
}
