//! Comparisons, proportions, many tests, blocks and odds against independently computed values
//! (`stats_reference.json`), and group-sequential boundaries against published tables.

use super::{close, list, number, published_json};
use stilltank::analysis::detection_limit::Sides;
use stilltank::analysis::sequential::{self, Spending};
use stilltank::analysis::{bayes, equivalence, multiplicity, proportion, resampling};

#[test]
fn two_means_by_welch() {
    let reference = published_json("stats_reference.json");
    let entry = &reference["welch_t"];
    let (a, b) = (list(&entry["inputs"]["a"]), list(&entry["inputs"]["b"]));
    let found = equivalence::welch(&a, &b).expect("a difference");
    let outputs = &entry["outputs"];
    close(found.value, number(&outputs["diff_a_minus_b"]), 1e-12, "difference");
    close(found.t(), number(&outputs["t"]), 1e-12, "t");
    close(found.degrees_of_freedom, number(&outputs["df"]), 1e-12, "degrees of freedom");
    close(found.probability(), number(&outputs["p"]), 1e-10, "p");
    let bounds = found.bounds(0.95);
    close(bounds.low, list(&outputs["ci95"])[0], 1e-11, "low");
    close(bounds.high, list(&outputs["ci95"])[1], 1e-11, "high");
}

#[test]
fn paired_means() {
    let reference = published_json("stats_reference.json");
    let entry = &reference["paired"];
    let found = equivalence::paired(&list(&entry["before"]), &list(&entry["after"]));
    let found = found.expect("a difference");
    close(found.t(), number(&entry["outputs"]["t"]), 1e-11, "t");
    close(found.probability(), number(&entry["outputs"]["p"]), 1e-9, "p");
    let expected = list(&entry["outputs"]["ci95"]);
    close(found.bounds(0.95).low, expected[0], 1e-11, "low");
    close(found.bounds(0.95).high, expected[1], 1e-11, "high");
}

#[test]
fn equivalence_by_two_one_sided_tests() {
    // Schuirmann 1987.
    let reference = published_json("stats_reference.json");
    let entry = &reference["tost"];
    let (a, b) = (list(&entry["inputs"]["a"]), list(&entry["inputs"]["b_shifted"]));
    let difference = equivalence::welch(&a, &b).expect("a difference");
    let found = equivalence::within(&difference, -0.25, 0.25);
    let outputs = &entry["outputs"];
    close(found.lower.0, number(&outputs["lower"]["t"]), 1e-9, "t at the lower limit");
    close(found.upper.0, number(&outputs["upper"]["t"]), 1e-9, "t at the upper limit");
    close(found.probability(), number(&outputs["p"]), 1e-8, "p");
    let alone = equivalence::one_sample(&a).expect("a mean");
    let found = equivalence::within(&alone, -0.1, 0.1);
    let expected = &outputs["one_sample_a_within_0_1"];
    close(found.lower.0, number(&expected["t_low"]), 1e-11, "one sample, lower");
    close(found.upper.1, number(&expected["p_up"]), 1e-9, "one sample, upper");
    close(found.probability(), number(&expected["p"]), 1e-9, "one sample");
    for case in entry["correlation_tost"].as_array().expect("cases") {
        let (r, n) = (number(&case["r"]), number(&case["n"]));
        let found = equivalence::correlation_within(r, n, number(&case["delta"]));
        close(found.expect("a test").probability(), number(&case["p"]), 1e-10, "correlation");
    }
}

#[test]
fn proportions() {
    // Wilson 1927; Clopper & Pearson 1934; Jeffreys' prior.
    let reference = published_json("stats_reference.json");
    for (name, expected) in reference["proportions"].as_object().expect("by fraction") {
        let Some((k, n)) = name.split_once('/') else { continue };
        let (k, n): (usize, usize) = (k.parse().expect("a count"), n.parse().expect("a count"));
        let cases = [
            (proportion::wilson(k, n, 0.95), "wilson"),
            (proportion::clopper_pearson(k, n, 0.95), "clopper_pearson"),
            (proportion::jeffreys(k, n, 0.95), "jeffreys"),
        ];
        for (found, method) in cases {
            let (found, expected) = (found.expect("bounds"), list(&expected[method]));
            let what = format!("{method} {name}");
            assert!((found.low - expected[0]).abs() < 1e-11, "{what}: {found:?}");
            assert!((found.high - expected[1]).abs() < 1e-11, "{what}: {found:?}");
        }
    }
    let rule = &reference["proportions"]["rule_of_three_0_of_30"]["upper95_exact"];
    // A one-sided 95 % limit is the end of two-sided 90 % bounds.
    let found = proportion::clopper_pearson(0, 30, 0.90).expect("bounds");
    close(found.high, number(rule), 1e-12, "rule of three");
}

#[test]
fn many_tests() {
    // Holm 1979; Benjamini & Hochberg 1995.
    let reference = published_json("stats_reference.json");
    let entry = &reference["multiple_tests"];
    let p = list(&entry["p"]);
    let cases = [
        (multiplicity::holm(&p), "holm"),
        (multiplicity::benjamini_hochberg(&p), "bh"),
        (multiplicity::bonferroni(&p), "bonferroni"),
    ];
    for (found, name) in cases {
        for (found, expected) in found.iter().zip(list(&entry[name])) {
            close(*found, expected, 1e-13, name);
        }
    }
}

#[test]
fn block_lengths() {
    // Politis & White 2004, corrected by Patton, Politis & White 2009.
    let reference = published_json("stats_reference.json");
    let x = list(&reference["effective_sample_size"]["inputs"]["x"]);
    let found = resampling::block_length(&x).expect("a length");
    let expected = &reference["bootstrap_block_length"]["outputs"];
    close(found.stationary, number(&expected["stationary"]), 1e-9, "stationary");
    close(found.circular, number(&expected["circular"]), 1e-9, "circular");
}

#[test]
fn odds_after_a_test() {
    let reference = published_json("stats_reference.json");
    let entry = &reference["bayes"];
    let (prior, sens, spec) =
        (number(&entry["prior"]), number(&entry["sens"]), number(&entry["spec"]));
    let (positive, negative) = bayes::after_test(prior, sens, spec);
    close(positive, number(&entry["ppv"]), 1e-13, "after a positive");
    close(negative, number(&entry["post_negative"]), 1e-13, "after a negative");
    let weights = bayes::posterior(&[prior, 1.0 - prior], &[sens.ln(), (1.0 - spec).ln()]);
    close(weights.expect("odds")[0], positive, 1e-13, "the same by logarithms");
}

#[test]
fn boundaries_of_lan_and_de_mets() {
    // Five equal looks, two-sided 0.05, the spending function of O'Brien–Fleming type: values as
    // printed in the tables of Lan & DeMets' program, from memory.
    let fifths = [0.2, 0.4, 0.6, 0.8, 1.0];
    let found = sequential::boundaries(&fifths, 0.05, Sides::Two, Spending::OBrienFleming);
    let expected = [4.8769, 3.3570, 2.6803, 2.2898, 2.0310];
    for (found, expected) in found.expect("boundaries").iter().zip(expected) {
        assert!((found - expected).abs() < 1e-4, "found {found}, printed {expected}");
    }
    // The same looks spent evenly (Pocock type), from memory of the same tables.
    let found = sequential::boundaries(&fifths, 0.05, Sides::Two, Spending::Pocock);
    let expected = [2.4380, 2.4268, 2.4101, 2.3966, 2.3859];
    for (found, expected) in found.expect("boundaries").iter().zip(expected) {
        assert!((found - expected).abs() < 1e-4, "found {found}, printed {expected}");
    }
}

#[test]
fn classic_boundaries_keep_their_level() {
    // O'Brien & Fleming's own constant for five looks, 2.040 √(5/k), and Pocock's 2.413, spend 0.05
    // in all (Jennison & Turnbull's tables 2.1 and 2.3, from memory, three decimals).
    let fifths = [0.2, 0.4, 0.6, 0.8, 1.0];
    let classic: Vec<f64> = fifths.iter().map(|t: &f64| 2.040 / t.sqrt()).collect();
    for boundaries in [classic, vec![2.413; 5]] {
        let crossed = sequential::crossing_probabilities(&fifths, &boundaries, Sides::Two, 0.0);
        let level = 2.0 * crossed.expect("probabilities")[4];
        assert!((level - 0.05).abs() < 1e-4, "level {level}");
    }
}
