//! The decay of a sealed vacuum: what a hole lets in, beside what fuel and gas do by themselves.

use super::examination::Examination;
use super::fit_curve::Regressed;
use super::scene::{Scene, group_means};
use super::sealed_hold::vacuum_floor;
use super::sealed_leak;
use crate::analysis::drift_regression;
use crate::units::Estimate;

/// Warming or cooling fuel moves a sealed tank (1 to 2 kPa per kelvin, AP-42 ch. 7): believed
/// before looking, Pa/s. Under a running engine it warms rather than cools: some kelvins an hour
/// (common practice, no source).
pub(super) const WARMING: f64 = 2.5;
const USUAL_WARMING: f64 = 2.0;
/// Hot fuel can do far more; believed instead once the pressure rose through zero.
const BOILING: f64 = 40.0;
/// Time constants, s, and believed sizes (share of the vacuum) of the gas's own return: it was cooled by
/// being drawn off, and the walls warm it within seconds; the canister gives back what it took more slowly
/// (common practice, no source).
const WARMS: (f64, f64) = (2.0, 0.2);
const RELAXATION: f64 = 9.0;
pub(super) const RELAXATION_SHARE: f64 = 0.08;
/// Fuel gives off less as the pressure over it rises, in proportion: by the share of its rate for each
/// kilopascal (a vapour pressure of some kilopascals above the air's), and what is usual and believed of
/// fuel whose rate does not show, Pa/s for each kilopascal: it fills a vacuum within some minutes to an
/// hour (common practice, no source).
const VAPOUR_PRESSURE: f64 = 4.0;
const USUAL_EVAPORATION: f64 = 1.0;
const EVAPORATION: f64 = 1.2;

/// What one hold said of a hole: Pa/s for each √Pa of vacuum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct DecayRate {
    pub(super) rate: Estimate,
    /// Standard error that every hold of the visit shares: the fuel in all of them is the same, and so is
    /// what a leaking valve pulls.
    pub(super) shared: f64,
}

/// Rate at which the leak fills the tank (Pa/s per √Pa) and the fuel's own rate, from the integral
/// form `p(t) - p(0) = k ∫ ±√|p| dt + g t`, which is linear in both and needs no derivative. A hole
/// pulls towards zero from either side; only the fuel's own rate can carry the pressure through it.
pub(super) fn rate(fitted: &Regressed) -> DecayRate {
    let rate =
        Estimate::from_standard_error(fitted.fit.coefficients[0], fitted.fit.standard_error(0));
    DecayRate { rate, shared: fitted.believed }
}

/// Speed, Pa/s, at which the running engine drew the sealed tank down through the shut valve, where it was
/// stopped within the hold.
pub(super) fn drawn(fitted: &Regressed) -> Option<Estimate> {
    let fit = &fitted.fit;
    let value = *fit.coefficients.get(DRAWN)?;
    Some(Estimate::from_standard_error(value, fit.standard_error(DRAWN).hypot(DRAWN_FLOOR)))
}

/// Where the leak stands among the columns of a hold whose engine was stopped, and what else may change
/// with the stop, Pa/s (common practice, no source).
const DRAWN: usize = 6;
const DRAWN_FLOOR: f64 = 0.3;

/// Several holds of one visit speak about one hole: their rates averaged by their weight. Where they
/// differ by more than their bounds allow, so much the wider (Birge 1932, Phys. Rev. 40:207). What they
/// share no averaging makes smaller.
pub(super) fn agreed(rates: &[DecayRate]) -> Option<Estimate> {
    // What the readings themselves decide of it is no doubt any more.
    let shared = |it: &DecayRate| it.shared.min(0.95 * it.rate.standard_error());
    let weight = |it: &DecayRate| (it.rate.standard_error().powi(2) - shared(it).powi(2)).recip();
    let total: f64 = rates.iter().map(weight).sum();
    if !(total > 0.0 && total.is_finite()) {
        return None;
    }
    let mean = rates.iter().map(|it| weight(it) * it.rate.value).sum::<f64>() / total;
    let scatter: f64 = rates.iter().map(|it| weight(it) * (it.rate.value - mean).powi(2)).sum();
    let birge = (scatter / (rates.len() as f64 - 1.0).max(1.0)).sqrt().max(1.0);
    let common = rates.iter().map(shared).fold(f64::INFINITY, f64::min);
    Some(Estimate::from_standard_error(mean, (birge / total.sqrt()).hypot(common)))
}

/// How many times the pull of a leaking valve, as the open vent showed it, it may be in a sealed tank.
const PULL_DOUBT: f64 = 2.0;

/// Speed at which a leaking purge valve draws a sealed tank down, Pa/s: what it holds against the open
/// vent, over the vent's time constant. It goes on while the engine runs.
fn pulled(examination: &Examination) -> f64 {
    match (examination.shut_valve(), examination.recovery) {
        (Some(flow), Some(tau)) if flow.effect.high < 0.0 => {
            flow.effect.value.abs() / tau.value.max(0.1)
        }
        _ => 0.0,
    }
}

/// The same with the columns that it was made of.
pub(super) fn regress(examination: &Examination, hold: &[usize], rest: f64) -> Option<Regressed> {
    let scene: &Scene = &examination.scene;
    if hold.len() < 5 {
        return None;
    }
    let group = hold.len().div_ceil(800);
    let times = group_means(&scene.times, hold, group);
    let pressure = group_means(&scene.pressure, hold, group);
    let roots: Vec<f64> =
        smoothed(&pressure).iter().map(|p| (rest - p).abs().sqrt().copysign(rest - p)).collect();
    let integral = running_integral(&times, &roots);
    // About the mean depth, where the rate is the line's: what is left to this column is the curve.
    let middle = pressure.iter().sum::<f64>() / pressure.len() as f64;
    // In kilopascals: columns of one size keep the normal equations solvable.
    let deeper: Vec<f64> = pressure.iter().map(|p| (middle - p) / 1_000.0).collect();
    let given_off = running_integral(&times, &deeper);
    let start = *times.first()?;
    let elapsed: Vec<f64> = times.iter().map(|time| time - start).collect();
    let ones = vec![1.0; times.len()];
    let stopped = sealed_leak::is_stopped(scene, hold);
    let believed = if stopped { WARMING } else { WARMING + PULL_DOUBT * pulled(examination) };
    // Neither is a leak.
    let relaxing: Vec<f64> = elapsed.iter().map(|t| (-t / RELAXATION).exp()).collect();
    let warming: Vec<f64> = elapsed.iter().map(|t| (-t / WARMS.0).exp()).collect();
    let deepest = pressure.iter().map(|p| p - rest).fold(0.0, f64::min);
    let of_depth = |share: f64| share * deepest.abs().max(1.0);
    let (amplitude, cooled) = (of_depth(RELAXATION_SHARE), of_depth(WARMS.1));
    // What fuel usually does is taken off beforehand, so that the belief about the rest is centred.
    let usual = |(t, g): (&f64, &f64)| USUAL_WARMING * t + USUAL_EVAPORATION * g;
    let taken_off: Vec<f64> = elapsed.iter().zip(&given_off).map(usual).collect();
    let beyond_usual: Vec<f64> = pressure.iter().zip(&taken_off).map(|(p, off)| p - off).collect();
    let mut columns = vec![integral, elapsed, relaxing, given_off, ones, warming];
    if stopped {
        let mut flows = vec![0.0; scene.times.len()];
        hold.iter().for_each(|&i| flows[i] = sealed_leak::leak_flow(scene, i, rest));
        let flow = group_means(&flows, hold, group);
        let supplied = flow.iter().map(|flow| f64::from(u8::from(*flow < 0.0))).collect();
        columns.extend([running_integral(&times, &flow), supplied]);
    }
    let of_columns: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    let fit = |believed: f64, evaporation: f64| {
        let precision = |deviation: f64| 1.0 / (deviation * deviation);
        let mut believed = vec![
            1e-9,
            precision(believed),
            precision(amplitude),
            precision(evaporation),
            0.0,
            precision(cooled),
        ];
        if stopped {
            believed.extend([1e-9, precision(sealed_leak::SUPPLY)]);
        }
        let floor = scene.noise_floor() / (group as f64).sqrt();
        drift_regression::fit(&times, &beyond_usual, &of_columns, &believed, floor)
    };
    let beyond = pressure.iter().map(|p| p - rest).fold(f64::NEG_INFINITY, f64::max);
    let (believed, evaporation) = if beyond < vacuum_floor(scene) {
        (believed, EVAPORATION)
    } else {
        let believed = BOILING.max(believed);
        let rate = (fit(believed, EVAPORATION)?.coefficients[1] + USUAL_WARMING).abs();
        (believed, EVAPORATION.max(rate / VAPOUR_PRESSURE))
    };
    let found = fit(believed, evaporation)?;
    // A belief that is off by its deviation moves the rate by so much, in every hold alike.
    let moved = |column: usize, deviation: f64| found.covariance[column] / deviation;
    let by_belief = moved(1, believed).hypot(moved(3, evaporation));
    Some(Regressed {
        times,
        data: beyond_usual,
        columns,
        fit: found,
        taken_off,
        believed: by_belief,
    })
}

/// Integral from the first time to each, by the trapezoidal rule.
fn running_integral(times: &[f64], values: &[f64]) -> Vec<f64> {
    let mut integral = vec![0.0];
    for (time, value) in times.windows(2).zip(values.windows(2)) {
        let last = integral.last().copied().unwrap_or(0.0);
        integral.push(last + (time[1] - time[0]) * (value[0] + value[1]) / 2.0);
    }
    integral
}

/// Running mean of five, shrinking at the ends.
fn smoothed(values: &[f64]) -> Vec<f64> {
    (0..values.len())
        .map(|i| {
            let reach = 2.min(i).min(values.len() - 1 - i);
            let window = &values[i - reach..=i + reach];
            window.iter().sum::<f64>() / window.len() as f64
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{DecayRate, agreed};
    use crate::units::Estimate;

    fn own(value: f64, shared: f64) -> DecayRate {
        DecayRate { rate: Estimate::from_standard_error(value, 0.1), shared }
    }

    /// Four rates of ± 0.1, of which ± 0.08 is one and the same: the rest, 0.06, is halved.
    #[test]
    fn what_holds_share_is_not_averaged_away() {
        let found = agreed(&[own(2.0, 0.08); 4]).unwrap();
        assert!((found.standard_error() - 0.03_f64.hypot(0.08)).abs() < 1e-9, "{found:?}");
    }

    /// Two rates of 1 ± 0.1 and 3 ± 0.1: their mean, and half their distance as its error.
    #[test]
    fn holds_that_disagree_widen_the_bounds() {
        let rate = |value| own(value, 0.0);
        let apart = agreed(&[rate(1.0), rate(3.0)]).unwrap();
        assert!((apart.value - 2.0).abs() < 1e-12 && (apart.standard_error() - 1.0).abs() < 1e-9);
        let alike = agreed(&[rate(2.0), rate(2.0)]).unwrap();
        assert!((alike.standard_error() - 0.1 / 2.0_f64.sqrt()).abs() < 1e-9);
        assert_eq!(agreed(&[]), None);
    }
}
