/// The least step of 1, 2 or 5 times a power of ten, or `times` of it, at which labels that need
/// `room` pixels fit on a scale of `per_unit` pixels.
pub fn nice_step(per_unit: f64, room: f64) -> f64 {
    if per_unit.is_nan() || per_unit <= 0.0 || !room.is_finite() {
        return 1.0;
    }
    let least = room / per_unit;
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|s| *s >= least).unwrap_or(least)
}

/// The step of the fine lines between two labelled ones, about ten pixels apart.
pub(super) fn fine_step(step: f64, per_unit: f64) -> f64 {
    [10.0, 5.0, 4.0, 2.0]
        .into_iter()
        .map(|parts| step / parts)
        .find(|fine| fine * per_unit >= 7.5)
        .unwrap_or(step)
}

/// Multiples of `step` from `low` to `high`, both included.
pub fn ticks(low: f64, high: f64, step: f64) -> Vec<f64> {
    let sane = step.is_finite() && low.is_finite() && high.is_finite();
    if !sane || step <= 0.0 || high < low || (high - low) / step > 2000.0 {
        return Vec::new();
    }
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last).map(|n| n as f64 * step).collect()
}

/// Decimals that a multiple of `step` needs.
pub(super) fn decimals(step: f64) -> usize {
    if step >= 1.0 { 0 } else { (-step.log10()).ceil().clamp(0.0, 6.0) as usize }
}
