use super::*;
use crate::analysis::orifice_flow::psi;
use crate::checks::examine;
use crate::vehicle::Signal;

/// Repeatable noise between −1 and 1 (Park and Miller's minimal standard generator, CACM 31:1192,
/// 1988).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 = self.0 * 16807 % 2_147_483_647;
        self.0 as f64 / 1_073_741_823.5 - 1.0
    }
}

/// Key on, engine from 20 s on, purge of 380 Pa until the valve is unplugged at 40 s: the pressure
/// returns with `tau`. From 60 s on the throttle is opened four times over a valve that pulls `leak`.
fn visit(tau: f64, leak: f64) -> Recording {
    let mut recording = Recording::default();
    let mut noise = Noise(7);
    let mut pull = 0.0;
    for tick in 0..1000_u32 {
        let t = f64::from(tick) / 10.0;
        let at = Instant::from_seconds(t);
        let runs = t > 20.0;
        let open = t > 60.0 && t % 10.0 < 3.0;
        let purged = if (22.0..40.0).contains(&t) {
            -380.0
        } else if t >= 40.0 {
            -380.0 * (-(t - 40.0) / tau).exp()
        } else {
            0.0
        };
        let manifold = if !runs {
            101.3
        } else if open {
            98.0
        } else {
            35.0
        };
        let drawn = if runs { leak * psi(manifold / 101.3) } else { 0.0 };
        pull += (drawn - pull) * (1.0 - (-0.1 / tau).exp());
        recording.push(Signal::TankPressure, at, 5.0 + purged + pull + 2.0 * noise.next());
        recording.push(Signal::ManifoldPressure, at, manifold);
        recording.push(Signal::Throttle, at, if open { 82.0 } else { 4.0 });
        recording.push(Signal::BarometricPressure, at, 101.3);
        recording.push(Signal::EngineSpeed, at, if runs { 780.0 } else { 0.0 });
        let command = if (22.0..40.0).contains(&t) { 38.0 } else { 0.0 };
        recording.push(Signal::PurgeCommand, at, command);
    }
    recording.push_action(Instant::from_seconds(0.5), Action::KeyOn);
    recording.push_action(Instant::from_seconds(20.0), Action::EngineStarted);
    recording.push_action(Instant::from_seconds(40.0), Action::PurgeUnplugged);
    for opening in [60.0, 70.0, 80.0, 90.0] {
        recording.push_action(Instant::from_seconds(opening), Action::ThrottleOpened);
        recording.push_action(Instant::from_seconds(opening + 3.0), Action::ThrottleReleased);
    }
    recording
}

fn measured(recording: &Recording, check: Check, name: MeasureName) -> Estimate {
    examine(recording).measure(check, name).unwrap()
}

fn at(curve: &FitCurve, time: f64) -> Estimate {
    let distance = |it: &&(Instant, Estimate)| (it.0.seconds() - time).abs();
    curve.points.iter().min_by(|a, b| distance(a).total_cmp(&distance(b))).unwrap().1
}

/// One time constant after its start an exponential has 1/e of its way left.
#[test]
fn return_is_an_exponential_with_the_time_constant_of_the_result() {
    let recording = visit(1.3, 0.0);
    let tau = measured(&recording, Check::UnplugRecovery, MeasureName::RecoveryTime);
    assert!(tau.low < 1.3 && 1.3 < tau.high, "{tau:?}");
    let curves = fit_curves(&recording);
    let [curve] = curves[&Check::UnplugRecovery].as_slice() else { panic!("{curves:?}") };
    let (first, last) = (curve.points[0].1.value, at(curve, 60.0).value);
    assert!((first + 375.0).abs() < 2.0 && (last - 5.0).abs() < 2.0, "{first} {last}");
    let start = curve.points.iter().rfind(|it| it.1.value == first).unwrap().0.seconds();
    assert!((start - 40.0).abs() < 0.15, "{start}");
    let recovery = at(curve, start + tau.value);
    assert!((recovery.value - (last + (first - last) / std::f64::consts::E)).abs() < 0.5);
    // The slower bound has more left, the faster one less.
    let left = |tau_bound: f64| last + (first - last) * (-tau.value / tau_bound).exp();
    assert!((recovery.low - left(tau.high)).abs() < 0.5, "{recovery:?}");
    assert!((recovery.high - left(tau.low)).abs() < 0.5, "{recovery:?}");
}

#[test]
fn level_at_rest_is_the_number_with_its_bounds() {
    let recording = visit(0.5, 0.0);
    let rest = measured(&recording, Check::RestZero, MeasureName::RestPressure);
    let curve = &fit_curves(&recording)[&Check::RestZero][0];
    assert!(curve.points.iter().all(|it| it.1 == rest));
    assert!((rest.value - 5.0).abs() < 1.0);
    assert!(curve.points.last().unwrap().0.seconds() < 20.1);
}

/// At rest, at idle and wide open the fitted pressure lies on the pressure without its noise, which
/// moves by what the shut valve pulls.
#[test]
fn fitted_pressure_follows_the_throttle_by_what_the_valve_pulls() {
    let recording = visit(0.3, -60.0);
    let pulled = measured(&recording, Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut);
    assert!((pulled.value + 60.0).abs() < 8.0, "{pulled:?}");
    let curves = fit_curves(&recording);
    let fitted = curves[&Check::ThrottleFollow].iter().flat_map(|it| &it.points);
    let settled = |at: f64| {
        at < 20.0 || at > 50.0 && at % 10.0 > 5.0 || at > 62.0 && at % 10.0 < 3.0 && at % 10.0 > 2.0
    };
    let mut checked = 0;
    for (at, it) in fitted.filter(|it| settled(it.0.seconds())) {
        let manifold = recording.series(Signal::ManifoldPressure).unwrap().value_at(*at).unwrap();
        let runs = at.seconds() > 20.0;
        let truth = 5.0 + if runs { -60.0 * psi(manifold / 101.3) } else { 0.0 };
        assert!((it.value - truth).abs() < 2.5, "{at:?}: {it:?}, {truth}");
        checked += 1;
    }
    assert!(checked > 100);
}

#[test]
fn baseline_that_wanders_is_found_again() {
    let times: Vec<f64> = (0..400).map(|i| f64::from(i) / 10.0).collect();
    let slow = |t: f64| 20.0 * (t / 8.0).sin();
    let mut noise = Noise(3);
    let rest: Vec<f64> = times.iter().map(|t| slow(*t) + noise.next()).collect();
    let fit = DriftFit {
        coefficients: Vec::new(),
        covariance: Vec::new(),
        noise: 0.6,
        wander: 2.0,
        rate: 0.0,
        log_likelihood: 0.0,
        inflation: 1.0,
        samples: 400,
    };
    let found = baseline(&times, &rest, &fit);
    let error = |(t, b): (&f64, &f64)| (slow(*t) - b).powi(2);
    let mean = times.iter().zip(&found).map(error).sum::<f64>() / 400.0;
    assert!(mean.sqrt() < 0.5, "{mean}");
    for none in [DriftFit { wander: 0.0, ..fit.clone() }, DriftFit { rate: 3.0, ..fit }] {
        assert!(baseline(&times, &rest, &none).iter().all(|it| *it == 0.0));
    }
}
