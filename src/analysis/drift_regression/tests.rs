use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::fit;

fn normal(random: &mut impl Rng) -> f64 {
    let (u, v): (f64, f64) = (random.random(), random.random());
    (-2.0 * (1.0 - u).ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

/// Without wandering this is ordinary least squares; numbers of NIST StRD Norris are checked
/// against the plain regression elsewhere, here a line is recovered exactly.
#[test]
fn exact_line_is_recovered() {
    let times: Vec<f64> = (0..40).map(f64::from).collect();
    let ones = vec![1.0; 40];
    let data: Vec<f64> = times.iter().map(|t| 3.0 - 0.5 * t).collect();
    let found = fit(&times, &data, &[&ones, &times], &[0.0, 0.0], 1e-6).unwrap();
    assert!((found.coefficients[0] - 3.0).abs() < 1e-6);
    assert!((found.coefficients[1] + 0.5).abs() < 1e-6);
}

/// The bounds must hold their nominal level whether the baseline wanders or not: 400 data sets
/// each, 95 % bounds, binomial standard error 1.1 %.
#[test]
fn bounds_cover_with_and_without_wandering() {
    for wander in [0.0, 1.0, 6.0] {
        let mut covered = 0;
        for seed in 0..400 {
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            let (mut times, mut data, mut pulse) = (vec![], vec![], vec![]);
            let (mut time, mut level) = (0.0, 0.0);
            while time < 40.0 {
                let step = 0.05 + 0.15 * random.random::<f64>();
                time += step;
                level += wander * step.sqrt() * normal(&mut random);
                let on = if (time / 5.0) as i32 % 2 == 1 { 1.0 } else { 0.0 };
                times.push(time);
                pulse.push(on);
                data.push(level - 4.0 * on + 3.0 * normal(&mut random));
            }
            let ones = vec![1.0; times.len()];
            let found = fit(&times, &data, &[&ones, &pulse], &[0.0, 0.0], 0.1).unwrap();
            if (found.coefficients[1] + 4.0).abs() < 1.96 * found.standard_error(1) {
                covered += 1;
            }
        }
        assert!((365..=392).contains(&covered), "wander {wander}: {covered} of 400");
    }
}

/// Columns that are all but one line, whose priors alone part them: the noise is found, and the
/// coefficient that no prior holds stays small.
#[test]
fn columns_that_are_nearly_alike_do_not_blow_up() {
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let times: Vec<f64> = (0..600).map(|i| 0.1 * f64::from(i)).collect();
    let curve = |t: f64| -2000.0 + 280.0 * (1.0 - (-t / 25.0_f64).exp());
    let data: Vec<f64> = times.iter().map(|t| curve(*t) + normal(&mut random)).collect();
    let running = |value: &dyn Fn(f64) -> f64| -> Vec<f64> {
        let steps = times.iter().map(|t| 0.1 * value(curve(*t)));
        steps
            .scan(0.0, |sum, it| {
                *sum += it;
                Some(*sum)
            })
            .collect()
    };
    let roots = running(&|p| (-p).sqrt());
    let depths = running(&|p| -p / 1000.0);
    let ones = vec![1.0; times.len()];
    let columns: [&[f64]; 4] = [&roots, &times, &depths, &ones];
    let found = fit(&times, &data, &columns, &[1e-9, 0.16, 1.0, 0.0], 0.02).unwrap();
    assert!(found.noise > 0.5, "{found:?}");
    assert!(found.coefficients[0].abs() < 2.0, "{found:?}");
}

#[test]
fn undetermined_columns_are_refused() {
    let times: Vec<f64> = (0..20).map(f64::from).collect();
    let ones = vec![1.0; 20];
    assert_eq!(fit(&times, &times, &[&ones, &ones], &[0.0, 0.0], 1.0), None);
    assert_eq!(fit(&times, &times[1..], &[&ones], &[0.0], 1.0), None);
}
