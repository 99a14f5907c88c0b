use std::collections::BTreeSet;

use super::*;
use crate::checks::{Caution, Step};
use crate::diagnosis::{Hypothesis, NextCheck, Source, Verdict, VerdictOutcome, Weight, WhyNext};
use crate::evidence::{
    Check, CheckResult, Measure, MeasureName, Observation, Outcome, Reason, Warning,
};
use crate::recording::Action;
use crate::units::{Estimate, Instant};
use crate::vehicle::{Fault, Signal};

const STEPS: [Step; 25] = [
    Step::TurnKeyOn,
    Step::WaitAtRest,
    Step::StartEngine,
    Step::WaitAtIdle,
    Step::WaitForPurge,
    Step::WatchPurge,
    Step::UnplugPurge,
    Step::KeepUnplugged,
    Step::PlugPurge,
    Step::KeepPlugged,
    Step::OpenThrottle,
    Step::ReleaseThrottle,
    Step::SettleAtIdle,
    Step::StopEngine,
    Step::OpenCap,
    Step::KeepCapOff,
    Step::CloseCap,
    Step::SealVent,
    Step::BuildVacuum,
    Step::HoldSealed,
    Step::OpenVent,
    Step::IdleBeforeFillUp,
    Step::FillTank,
    Step::WatchAfterFillUp,
    Step::Done,
];

const CAUTIONS: [Caution; 7] = [
    Caution::FuelVapour,
    Caution::BeltsAndFan,
    Caution::CarbonMonoxide,
    Caution::ParkAndChock,
    Caution::SetsCircuitCode,
    Caution::SealedTank,
    Caution::NotWhileDriving,
];

fn reasons() -> Vec<Reason> {
    vec![
        Reason::ReadsAtmospheric,
        Reason::ReadsOffAtmospheric,
        Reason::NeverMoves,
        Reason::StaysStill,
        Reason::MovesWhileShut,
        Reason::FollowsPurge,
        Reason::NoAnswerToPurge,
        Reason::PulledTooLow,
        Reason::ReturnsAtOnce,
        Reason::ReturnsSlowly,
        Reason::ReturnsPartly,
        Reason::DoesNotFollow,
        Reason::FollowsThrottle,
        Reason::Holds,
        Reason::LosesVacuum,
        Reason::PullsWhileSealed,
        Reason::BuildsNoVacuum,
        Reason::NoRichSpell,
        Reason::RichSpell,
        Reason::ProvenStill,
        Reason::StillMoves,
        Reason::TooFewSamples(Signal::TankPressure),
        Reason::SignalMissing(Signal::TankPressure),
        Reason::LimitTooCoarse,
        Reason::PurgeNeverCommanded,
        Reason::ThrottleNotOpened,
        Reason::TooLittleVacuum,
        Reason::PollingTooSlow,
        Reason::VehicleMoved,
        Reason::DriftTooLarge,
        Reason::NothingToCompare,
        Reason::BetweenLimits,
        Reason::ZeroTaken,
    ]
}

fn warnings() -> [Warning; 9] {
    [
        Warning::StaleValues(Signal::TankPressure),
        Warning::StoodIn { missing: Signal::ManifoldPressure, used: Signal::Throttle },
        Warning::CoarseStep,
        Warning::Driven,
        Warning::AltitudeChanged,
        Warning::FollowsSupply,
        Warning::Drift,
        Warning::Gap,
        Warning::PoorFit,
    ]
}

/// Non-empty, trimmed, only characters of the embedded font's plain text: no straight quotes, no
/// hyphen where a minus belongs, no double space, no leftover placeholder.
fn assert_clean(text: &str) {
    assert!(!text.is_empty() && text.trim() == text, "{text:?}");
    assert!(!text.contains("  ") && !text.contains(". .") && !text.contains(".."), "{text:?}");
    let allowed = |letter: char| {
        letter.is_alphanumeric() || " .,:;()%°/–−√'’-→\u{a0}\u{202f}".contains(letter)
    };
    assert!(text.chars().all(allowed), "{text:?}");
    let letters: Vec<char> = text.chars().collect();
    for pair in letters.windows(3) {
        let minus_for_hyphen = pair[1] == '-' && pair[0] == ' ' && pair[2].is_ascii_digit();
        assert!(!minus_for_hyphen, "{text:?}");
    }
}

/// Every text is clean and no two of them are the same.
fn assert_distinct(texts: impl IntoIterator<Item = String>) {
    let mut seen = BTreeSet::new();
    for text in texts {
        assert_clean(&text);
        assert!(seen.insert(text.clone()), "twice: {text}");
    }
    assert!(!seen.is_empty());
}

fn result(reason: Reason, measures: Vec<Measure>) -> CheckResult {
    CheckResult {
        check: Check::ThrottleFollow,
        outcome: Outcome::Pass,
        reason,
        measures,
        window: (Instant::ZERO, Instant::from_seconds(30.0)),
    }
}

fn verdict(outcome: VerdictOutcome, shares: &[(Hypothesis, f64)]) -> Verdict {
    let probabilities: Vec<_> = Hypothesis::all()
        .map(|hypothesis| {
            let share = shares.iter().find(|(named, _)| *named == hypothesis);
            (hypothesis, share.map_or(0.0, |(_, share)| *share))
        })
        .collect();
    let (leading, probability) = shares[0];
    let fault = match (outcome, leading) {
        (VerdictOutcome::FaultFound, Hypothesis::Fault(fault)) => Some(fault),
        _ => None,
    };
    Verdict {
        outcome,
        fault,
        also: None,
        probability,
        probabilities,
        weights: Vec::new(),
        next_check: None,
        smallest_leak_percent: Some(1.9),
        smallest_leak_pa: Some(8.0),
    }
}

const ENGLISH: Style = Style { language: Language::English, pressure: PressureUnit::Pascal };
const GERMAN: Style = Style { language: Language::German, pressure: PressureUnit::Pascal };
const RANGE: Estimate = Estimate { value: -212.0, low: -219.0, high: -205.0 };

#[test]
fn every_value_has_words_of_its_own_in_both_languages() {
    for language in Language::ALL {
        let own = |text: &str| text.to_owned();
        assert_distinct(Check::ALL.map(|check| own(check_title(check, language))));
        assert_distinct(Check::ALL.map(|check| own(check_purpose(check, language))));
        assert_distinct(Fault::ALL.map(|fault| own(fault_title(fault, language))));
        assert_distinct(Hypothesis::all().map(|it| own(hypothesis_title(it, language))));
        assert_distinct(Hypothesis::all().map(|it| own(with_hypothesis(it, language))));
        assert_distinct(Observation::ALL.map(|it| own(observation(it, language))));
        assert_distinct(MeasureName::ALL.iter().map(|it| own(measure_name(*it, language))));
        assert_distinct(Signal::ALL.map(|it| own(signal_name(it, language))));
        assert_distinct(Action::ALL.map(|it| own(action_name(it, language))));
        let outcomes = [Outcome::Pass, Outcome::Fail, Outcome::Inconclusive];
        assert_distinct(outcomes.map(|it| own(outcome_word(it, language))));
        let verdicts = [
            VerdictOutcome::FaultFound,
            VerdictOutcome::NoFaultFound,
            VerdictOutcome::Inconclusive,
        ];
        assert_distinct(verdicts.map(|it| own(verdict_outcome_word(it, language))));
        let stop = (Check::SealedHold, Step::StopEngine);
        let steps = STEPS.map(|step| (Check::RestZero, step)).into_iter().chain([stop]);
        assert_distinct(steps.map(|(check, step)| {
            let Instruction { first, second } = instruction(check, step, language);
            assert_clean(first);
            assert_clean(second);
            assert!(first.ends_with('.') && second.ends_with('.'), "{first} {second}");
            format!("{first} {second}")
        }));
        let held = [(Step::StopEngine, false), (Step::HoldSealed, true)];
        assert_distinct(held.map(|(step, stopped)| {
            let kept = keep(Check::SealedHold, step, stopped, language).unwrap();
            assert_clean(kept);
            let why = step_purpose(Check::SealedHold, step, stopped, language);
            assert_ne!(why, check_purpose(Check::SealedHold, language));
            own(kept)
        }));
        assert_eq!(keep(Check::SealedHold, Step::HoldSealed, false, language), None);
        assert_distinct(CAUTIONS.map(|it| {
            let (strong, rest) = caution(it, language);
            assert!(strong.ends_with('.') && rest.ends_with('.'));
            format!("{strong} {rest}")
        }));
        let style = Style { language, pressure: PressureUnit::Pascal };
        assert_distinct(warnings().map(|it| warning(it, &style)));
        let whys = [
            WhyNext::TellsApart(Hypothesis::None, Hypothesis::Fault(Fault::VaporLeak)),
            WhyNext::NotYetMade,
            WhyNext::MoreOfIt,
            WhyNext::ProvesRepair,
        ];
        assert_distinct(whys.map(|why| {
            let next =
                NextCheck { check: Check::CapOffZero, why, expected_bits: 0.5, minutes: 2.0 };
            why_next(&next, language)
        }));
    }
}

#[test]
fn every_reason_is_a_clean_sentence_with_and_without_its_numbers() {
    for style in [ENGLISH, GERMAN] {
        assert_distinct(reasons().into_iter().map(|it| reason(&result(it, Vec::new()), &style)));
        let all: Vec<Measure> =
            MeasureName::ALL.iter().map(|name| Measure { name: *name, estimate: RANGE }).collect();
        assert_distinct(reasons().into_iter().map(|it| {
            let text = reason(&result(it, all.clone()), &style);
            assert!(text.ends_with('.') && !text.contains(". "), "{text}");
            text
        }));
    }
}

#[test]
fn languages_differ() {
    for check in Check::ALL {
        assert_ne!(check_purpose(check, Language::English), check_purpose(check, Language::German));
    }
    for fault in Fault::ALL {
        let english = repair_help(fault, Language::English);
        let german = repair_help(fault, Language::German);
        assert_eq!(english.steps.len(), german.steps.len());
        for (one, other) in english.steps.iter().zip(&german.steps) {
            assert_clean(one.text);
            assert_clean(other.text);
            assert_ne!(one.text, other.text);
            assert_eq!(one.cautions, other.cautions);
        }
    }
}

#[test]
fn pass_states_what_would_have_shown() {
    let measures = vec![
        Measure {
            name: MeasureName::VacuumWithPurgeShut,
            estimate: Estimate { value: -2.0, low: -6.0, high: 3.0 },
        },
        Measure {
            name: MeasureName::DetectionLimit,
            estimate: Estimate { value: 8.0, low: 8.0, high: 8.0 },
        },
    ];
    let result = result(Reason::DoesNotFollow, measures);
    assert_eq!(
        reason(&result, &ENGLISH).replace('\u{a0}', " "),
        "With the valve unplugged the tank does not follow the throttle: −2 Pa (−6 to 3); a leak of 8.0 Pa or more would have shown."
    );
    let water = Style { pressure: PressureUnit::InchOfWater, ..GERMAN };
    assert_eq!(
        reason(&result, &water).replace('\u{a0}', " "),
        "Bei abgezogenem Ventil folgt der Tank dem Gas nicht: −0,01 inH2O (−0,02 bis 0,01); ein Leck ab 0,032 inH2O wäre aufgefallen."
    );
}

#[test]
fn verdict_is_one_sentence() {
    let leaking = Hypothesis::Fault(Fault::PurgeValveLeaking);
    let found = verdict(VerdictOutcome::FaultFound, &[(leaking, 0.984), (Hypothesis::None, 0.016)]);
    let said = |verdict: &Verdict, style| verdict_sentence(verdict, style).replace('\u{a0}', " ");
    assert_eq!(said(&found, &ENGLISH), "The purge valve leaks when it should be shut (98 % sure).");
    let mut open =
        verdict(VerdictOutcome::Inconclusive, &[(leaking, 0.62), (Hypothesis::None, 0.38)]);
    assert_eq!(
        said(&open, &GERMAN),
        "Noch nicht sicher: Regenerierventil undicht 62 %, kein Fehler 38 %; keine weitere Prüfung entscheidet es, deshalb das Teil selbst ausgebaut prüfen."
    );
    open.next_check = Some(NextCheck {
        check: Check::CapOffZero,
        why: WhyNext::NotYetMade,
        expected_bits: 0.4,
        minutes: 2.0,
    });
    assert_eq!(
        said(&open, &ENGLISH),
        "Not certain yet: purge valve leaks 62 %, no fault 38 %; make this check next: Cap off."
    );
    let sound = verdict(VerdictOutcome::NoFaultFound, &[(Hypothesis::None, 0.9999)]);
    assert_eq!(
        said(&sound, &ENGLISH),
        "No fault was found in the vapour system (over 99 % sure); a leak through the shut valve of 1.9 % of purge (8.0 Pa) or more would have shown."
    );
}

#[test]
fn weight_says_for_and_against() {
    let estimate = Estimate { value: 0.44, low: 0.4, high: 0.48 };
    let mut fact = Weight {
        source: Source::Measure(Check::UnplugRecovery, MeasureName::RecoveryTime),
        factor: 30.2,
        estimate: Some(estimate),
    };
    let leading = Hypothesis::Fault(Fault::PurgeValveLeaking);
    let said = |fact: &Weight, style| weight_for(fact, leading, style).replace('\u{a0}', " ");
    assert_eq!(
        said(&fact, &ENGLISH),
        "Unplugged, the tank took 0.44 s (0.40 to 0.48) to come back: 30 times likelier with a leaking purge valve."
    );
    fact.factor = 0.5;
    assert_eq!(
        said(&fact, &GERMAN),
        "Nach dem Abziehen vergingen 0,44 s (0,40 bis 0,48), bis der Tank zurückkam: 2-mal unwahrscheinlicher bei undichtem Regenerierventil."
    );
    fact.factor = 0.9;
    assert!(weight(&fact, &ENGLISH).ends_with("says little either way."));
    fact.source = Source::Code("P0496".to_owned());
    fact.factor = 4321.0;
    assert_eq!(
        said(&fact, &ENGLISH),
        "Trouble code P0496: over 1000 times likelier with a leaking purge valve."
    );
}

#[test]
fn numbers_are_set_as_on_the_form() {
    assert_eq!(number(-212.4, 0, Language::English), "−212");
    assert_eq!(number(-0.2, 0, Language::English), "0");
    assert_eq!(number(87_412.0, 0, Language::German), "87\u{202f}412");
    assert_eq!(number(0.1234, 2, Language::German), "0,12");
    assert_eq!(number(f64::NAN, 2, Language::German), "–");
    assert_eq!(estimate(&RANGE, "Pa", Language::English), "−212\u{a0}Pa (−219 to −205)");
    let bound = Estimate { value: 0.5, low: f64::NEG_INFINITY, high: 0.9 };
    assert_eq!(estimate(&bound, "s", Language::German), "höchstens 0,90\u{a0}s");
    let little = Estimate { value: 0.26, low: -0.9, high: 1.4 };
    assert_eq!(estimate(&little, "%", Language::English), "0\u{a0}% (−1 to 1)");
    let leak = measure_value(MeasureName::SealedLeak, &little, &GERMAN);
    assert_eq!(leak, "0,3\u{a0}% (−0,9 bis 1,4)");
    assert_eq!(percent(0.9549, Language::English), "95\u{a0}%");
    assert_eq!(percent(0.9999, Language::English), "over 99\u{a0}%");
}

#[test]
fn a_leak_that_the_engines_stop_showed_claims_no_growing_vacuum() {
    let pull = Measure { name: MeasureName::SealedPull, estimate: RANGE };
    let share = Estimate { value: 0.8, low: 0.6, high: 1.0 };
    let leak = Measure { name: MeasureName::SealedLeak, estimate: share };
    let held = |measures| reason(&result(Reason::PullsWhileSealed, measures), &ENGLISH);
    assert!(held(vec![pull]).contains("the vacuum still grows, by −212"));
    let stopped = "As stopping the engine showed, the shut valve lets through 0.8\u{a0}% (0.6 to 1.0) of full purge.";
    assert_eq!(held(vec![pull, leak]), stopped);
}
