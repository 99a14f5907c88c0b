//! Group-sequential boundaries against simulation, and detection limits that hold.

use stilltank::analysis::detection_limit::{self, Sides};
use stilltank::analysis::resampling::Generator;
use stilltank::analysis::sequential::{self, Spending};
use stilltank::analysis::{distribution, equivalence};

/// Share of walks that cross the upper and the lower boundary first.
fn crossings(fractions: &[f64], boundaries: &[f64], drift: f64, seed: u64) -> (f64, f64) {
    let mut generator = Generator::new(seed);
    let walks = 40_000;
    let (mut up, mut down) = (0, 0);
    for _ in 0..walks {
        let (mut at, mut position) = (0.0_f64, 0.0);
        for (fraction, boundary) in fractions.iter().zip(boundaries) {
            let step = fraction - at;
            position += drift * step + step.sqrt() * generator.normal();
            at = *fraction;
            let z = position / at.sqrt();
            if z.abs() > *boundary {
                if z > 0.0 {
                    up += 1
                } else {
                    down += 1
                }
                break;
            }
        }
    }
    (f64::from(up) / f64::from(walks), f64::from(down) / f64::from(walks))
}

#[test]
fn looking_five_times_finds_no_more_than_stated() {
    // Uneven looks, as cycles of unequal worth give them.
    let fractions = [0.15, 0.3, 0.55, 0.8, 1.0];
    for spending in [Spending::OBrienFleming, Spending::Pocock] {
        let found = sequential::boundaries(&fractions, 0.05, Sides::Two, spending);
        let found = found.expect("boundaries");
        let (up, down) = crossings(&fractions, &found, 0.0, 3);
        // 40,000 walks at 5 %: standard error 0.0011.
        assert!((up + down - 0.05).abs() < 0.0035, "{spending:?}: crossed {}", up + down);
        let crossed = sequential::crossing_probabilities(&fractions, &found, Sides::Two, 0.0);
        let level = 2.0 * crossed.expect("probabilities")[4];
        assert!((level - 0.05).abs() < 1e-7, "{spending:?}: integrated level {level}");
    }
}

#[test]
fn one_sided_boundaries_keep_their_level() {
    let fractions = [0.25, 0.5, 0.75, 1.0];
    let found = sequential::boundaries(&fractions, 0.025, Sides::One, Spending::OBrienFleming);
    let found = found.expect("boundaries");
    let crossed = sequential::crossing_probabilities(&fractions, &found, Sides::One, 0.0);
    assert!((crossed.expect("probabilities")[3] - 0.025).abs() < 1e-7);
    // Whoever looks once only uses the plain test.
    let once = sequential::boundaries(&[1.0], 0.025, Sides::One, Spending::OBrienFleming);
    assert!((once.expect("boundaries")[0] - 1.959_964).abs() < 1e-5);
}

#[test]
fn power_and_expected_length_are_as_simulated() {
    let fractions = [0.2, 0.4, 0.6, 0.8, 1.0];
    let found = sequential::boundaries(&fractions, 0.05, Sides::Two, Spending::OBrienFleming);
    let found = found.expect("boundaries");
    let drift = sequential::drift_for_power(&fractions, &found, Sides::Two, 0.9).expect("a drift");
    // A single look needs 1.960 + 1.282 = 3.242; five looks of this kind cost little more.
    assert!((3.25..3.36).contains(&drift), "drift {drift}");
    let (up, _) = crossings(&fractions, &found, drift, 5);
    assert!((up - 0.9).abs() < 0.006, "simulated power {up}");
    let early = sequential::expected_fraction(&fractions, &found, Sides::Two, drift);
    let early = early.expect("a fraction");
    assert!((0.6..0.85).contains(&early), "ends at {early}");
}

#[test]
fn boundaries_follow_the_looks_taken() {
    // Adding a later look must not change the earlier boundaries.
    let few = sequential::boundaries(&[0.3, 0.6], 0.05, Sides::Two, Spending::OBrienFleming);
    let more = sequential::boundaries(&[0.3, 0.6, 0.7], 0.05, Sides::Two, Spending::OBrienFleming);
    assert_eq!(few.expect("boundaries")[..], more.expect("boundaries")[..2]);
}

#[test]
fn the_smallest_effect_is_found_in_95_of_100() {
    let mut generator = Generator::new(77);
    let n = 8;
    let error = 1.0 / f64::from(n).sqrt();
    let effect = detection_limit::smallest_effect(error, 7.0, 0.05, 0.95, Sides::One);
    let effect = effect.expect("an effect");
    let trials = 4000;
    let mut seen = 0;
    for _ in 0..trials {
        let values: Vec<f64> = (0..n).map(|_| effect + generator.normal()).collect();
        let found = equivalence::one_sample(&values).expect("a mean");
        seen += i32::from(distribution::student_survival(found.t(), 7.0) < 0.05);
    }
    let share = f64::from(seen) / f64::from(trials);
    assert!((share - 0.95).abs() < 0.012, "seen in {share}");
}
