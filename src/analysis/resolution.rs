//! A sensor's step (the smallest change it can report) and its noise, from the values it was seen
//! to take.

use super::{all_finite, count, descriptive};

/// How far, as a share of a step, a difference may lie from a whole number of steps. Rounding of
/// printed decimals moves it this much where a step has two or three digits.
const TOLERANCE: f64 = 0.12;
/// Share of the neighbouring differences that must be whole numbers of steps.
const SHARE_WHOLE: f64 = 0.95;
/// Beyond so many distinct values a sample of them tells the step as well.
const MOST_DISTINCT: usize = 4096;

/// The step of a quantised series: the largest width of which (nearly) all differences between
/// distinct values are whole multiples. `None` where fewer than two distinct values were seen (a
/// step cannot be told from a still sensor), or where no width fits (the values are continuous).
///
/// From two or three distinct values the answer is an upper limit: the true step may be a divisor.
pub fn step(values: &[f64]) -> Option<f64> {
    let mut distinct: Vec<f64> = values.iter().copied().filter(|value| value.is_finite()).collect();
    distinct.sort_unstable_by(f64::total_cmp);
    let largest = distinct.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    // Differences below this are rounding of the arithmetic that made the values.
    let rounding = largest * 1e-9;
    distinct.dedup_by(|b, a| *b - *a <= rounding);
    distinct.truncate(MOST_DISTINCT);
    let mut gaps: Vec<f64> = distinct.windows(2).map(|pair| pair[1] - pair[0]).collect();
    gaps.sort_unstable_by(f64::total_cmp);
    let smallest = *gaps.first()?;
    // Gaps of one step differ by the rounding of printed decimals: their mean is the better guess.
    let ones: Vec<f64> = gaps.iter().copied().take_while(|gap| *gap < 1.5 * smallest).collect();
    let typical = descriptive::mean(&ones)?;
    (1..=6).map(|divisor| typical / f64::from(divisor)).find_map(|candidate| {
        let refined = refine(&gaps, candidate);
        fits(&gaps, refined).then_some(refined)
    })
}

/// The width that makes `gaps` whole multiples best: total length over total multiples.
fn refine(gaps: &[f64], candidate: f64) -> f64 {
    let multiples: f64 = gaps.iter().map(|gap| (gap / candidate).round()).sum();
    let length: f64 = gaps.iter().sum();
    if multiples > 0.0 { length / multiples } else { candidate }
}

fn fits(gaps: &[f64], width: f64) -> bool {
    let whole = gaps.iter().filter(|gap| {
        let multiple = *gap / width;
        (multiple - multiple.round()).abs() <= TOLERANCE && multiple.round() >= 1.0
    });
    // Continuous values pass one gap in four by chance; a few gaps prove nothing either way, and
    // then the smallest gap is the honest upper limit.
    count(whole.count()) >= SHARE_WHOLE * count(gaps.len())
}

/// What a signal does while the quantity behind it rests.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Noise {
    /// Standard deviation of a reading, never below step/√12.
    pub sd: f64,
    /// The step, where one was seen.
    pub step: Option<f64>,
}

/// Noise of rest residuals (drift and mean already taken out, or constant): robust where the robust
/// measure can see it, the plain standard deviation where a coarse step hides it, never less than
/// the step allows. `None` for fewer than two values.
pub fn noise(residuals: &[f64], step: Option<f64>) -> Option<Noise> {
    if residuals.len() < 2 || !all_finite(residuals) {
        return None;
    }
    let robust = descriptive::median_absolute_deviation(residuals)?;
    let plain = descriptive::standard_deviation(residuals)?;
    let coarse = step.is_some_and(|step| robust < 0.7 * step);
    let spread = if coarse { plain } else { robust };
    Some(Noise { sd: spread.max(floor(step)), step })
}

/// The least standard deviation that a reading with this step can claim: step/√12.
pub fn floor(step: Option<f64>) -> f64 {
    step.map_or(0.0, |step| step.abs() / 12.0_f64.sqrt())
}

/// Standard deviation of the error that rounding leaves in a *mean* of many readings, when true
/// noise of `sd` stands before a step of `step`: the whole step/√12 without noise, next to nothing
/// once the noise reaches half a step (which then dithers the rounding away).
///
/// The rounding error's mean over the unknown position between two steps is a Fourier series with
/// terms (step/πk) exp(−2π²k²sd²/step²); this is its root mean square (Widrow & Kollár).
pub fn rounding_error_of_mean(sd: f64, step: f64) -> f64 {
    if !(step > 0.0) || !(sd >= 0.0) {
        return 0.0;
    }
    let share = (sd / step).powi(2);
    let factor = 4.0 * std::f64::consts::PI * std::f64::consts::PI * share;
    if factor < 1e-3 {
        // The series converges slowly here and its sum is known.
        return step / 12.0_f64.sqrt();
    }
    let sum: f64 = (1..=200)
        .map(f64::from)
        .map(|k| (-factor * k * k).exp() / (k * k))
        .take_while(|term| *term > 1e-18)
        .sum();
    step * (sum / 2.0).sqrt() / std::f64::consts::PI
}

/// Noise before rounding, from the standard deviation of rounded readings: Sheppard's correction
/// √(sd² − step²/12), not below zero.
pub fn noise_before_rounding(sd: f64, step: f64) -> f64 {
    (sd * sd - step * step / 12.0).max(0.0).sqrt()
}
