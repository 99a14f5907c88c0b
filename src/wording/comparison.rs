use super::check::check_title;
use super::language::{Language, Style};
use super::number::pressure_value;
use super::proof::proof_sentence;
use super::reason::reason;
use crate::evidence::{Check, Comparison, ComparisonEnd, MeasureName, Reason};

/// How two visits compare, in the words of a stamp.
pub const fn comparison_stamp(end: ComparisonEnd, language: Language) -> &'static str {
    match end {
        ComparisonEnd::Proven => language.of("Repair proven", "Reparatur nachgewiesen"),
        ComparisonEnd::NotProven => language.of("Not proven", "Nicht nachgewiesen"),
        ComparisonEnd::Worse => language.of("Got worse", "Schlechter geworden"),
        ComparisonEnd::StillSound => language.of("Still sound", "Weiter in Ordnung"),
    }
}

/// What two visits say of each other, in one or two plain sentences.
pub fn comparison_sentence(comparison: &Comparison, style: &Style) -> String {
    let Some(proof) = &comparison.proof else {
        return style
            .of(
                "One of the two visits recorded no tank pressure, so there is nothing to lay over.",
                "Einer der beiden Besuche hat keinen Tankdruck aufgezeichnet; es gibt nichts übereinanderzulegen.",
            )
            .to_owned();
    };
    match comparison.end {
        ComparisonEnd::Proven => proof_sentence(proof, comparison.fault, style),
        ComparisonEnd::StillSound => style
            .of(
                "Nothing failed at the earlier visit, and nothing fails now.",
                "Beim früheren Besuch fiel nichts durch, und jetzt auch nicht.",
            )
            .to_owned(),
        ComparisonEnd::Worse => worse(comparison, style),
        ComparisonEnd::NotProven if proof.reason == Reason::NothingToCompare => {
            if comparison.missing.is_empty() {
                style
                    .of(
                        "The two visits have no check in common that could tell.",
                        "Die beiden Besuche haben keine Prüfung gemeinsam, die es zeigen könnte.",
                    )
                    .to_owned()
            } else {
                style
                    .of(
                        "What failed at the earlier visit was not looked at again.",
                        "Was beim früheren Besuch durchfiel, wurde nicht wieder geprüft.",
                    )
                    .to_owned()
            }
        }
        ComparisonEnd::NotProven if proof.reason == Reason::StillMoves => {
            let moved = proof.measure(MeasureName::VacuumWithPurgeShut);
            let by = moved.map(|it| pressure_value(it.value.abs(), style)).unwrap_or_default();
            style
                .of(
                    "With the purge valve shut the tank still moves by {}, as it did before.",
                    "Bei geschlossenem Regenerierventil bewegt sich der Tank noch immer um {}.",
                )
                .replace("{}", &by)
        }
        ComparisonEnd::NotProven => proof_sentence(proof, comparison.fault, style),
    }
}

fn worse(comparison: &Comparison, style: &Style) -> String {
    let language = style.language;
    if let Some(failing) = comparison.newly_failing.first() {
        return style
            .of(
                "“{}” passed at the earlier visit and fails now.",
                "„{}“ bestand beim früheren Besuch und fällt jetzt durch.",
            )
            .replace("{}", check_title(failing.check, language))
            + " "
            + &reason(failing, style);
    }
    let change =
        comparison.proof.as_ref().and_then(|it| it.measure(MeasureName::ChangeAfterRepair));
    let by = change.map(|it| pressure_value(it.value.abs(), style)).unwrap_or_default();
    style
        .of(
            "With the purge valve shut the tank moves by {} more than at the earlier visit.",
            "Bei geschlossenem Regenerierventil bewegt sich der Tank um {} mehr als beim früheren Besuch.",
        )
        .replace("{}", &by)
}

/// What is missing to compare, in a sentence; nothing where nothing is.
pub fn comparison_wants(missing: &[Check], language: Language) -> Option<String> {
    let titles: Vec<String> = missing
        .iter()
        .map(|check| language.of("“{}”", "„{}“").replace("{}", check_title(*check, language)))
        .collect();
    let words =
        language.of("Still to make for the proof: {}.", "Für den Nachweis noch zu machen: {}.");
    (!titles.is_empty()).then(|| words.replace("{}", &titles.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::{CheckResult, Measure, Outcome};
    use crate::units::{Estimate, Instant};
    use crate::vehicle::Fault;

    fn result(check: Check, outcome: Outcome, reason: Reason, vacuum: f64) -> CheckResult {
        let estimate = Estimate { value: vacuum, low: vacuum - 7.0, high: vacuum + 7.0 };
        CheckResult {
            check,
            outcome,
            reason,
            measures: vec![Measure { name: MeasureName::VacuumWithPurgeShut, estimate }],
            window: (Instant::ZERO, Instant::ZERO),
        }
    }

    fn compared(end: ComparisonEnd, proof: Option<CheckResult>) -> Comparison {
        let fault = Some(Fault::PurgeValveLeaking);
        Comparison { end, fault, proof, newly_failing: Vec::new(), missing: Vec::new() }
    }

    #[test]
    fn each_end_says_something_of_its_own_in_both_languages() {
        let proof =
            |outcome, reason, vacuum| Some(result(Check::RepairProof, outcome, reason, vacuum));
        for language in Language::ALL {
            let style = Style { language, ..Style::default() };
            let mut newly =
                compared(ComparisonEnd::Worse, proof(Outcome::Pass, Reason::ProvenStill, -2.0));
            newly.newly_failing =
                vec![result(Check::SealedHold, Outcome::Fail, Reason::LosesVacuum, -2.0)];
            let told = [
                compared(ComparisonEnd::Proven, proof(Outcome::Pass, Reason::ProvenStill, -2.0)),
                compared(
                    ComparisonEnd::NotProven,
                    proof(Outcome::Fail, Reason::StillMoves, -209.0),
                ),
                compared(
                    ComparisonEnd::NotProven,
                    proof(Outcome::Inconclusive, Reason::NothingToCompare, -2.0),
                ),
                compared(ComparisonEnd::NotProven, None),
                compared(ComparisonEnd::Worse, proof(Outcome::Fail, Reason::StillMoves, -309.0)),
                compared(
                    ComparisonEnd::StillSound,
                    proof(Outcome::Pass, Reason::ProvenStill, -2.0),
                ),
                newly,
            ]
            .map(|it| comparison_sentence(&it, &style));
            let distinct: std::collections::BTreeSet<_> = told.iter().collect();
            assert_eq!(distinct.len(), told.len(), "{told:?}");
            assert!(told[1].contains("209"), "{told:?}");
            assert!(told[6].contains(check_title(Check::SealedHold, language)), "{told:?}");
            assert!(told.iter().all(|it| it.ends_with('.') && !it.contains("{}")), "{told:?}");
        }
    }

    #[test]
    fn what_is_missing_is_named_and_nothing_is_said_where_nothing_is() {
        assert_eq!(comparison_wants(&[], Language::English), None);
        let missing = [Check::ThrottleFollow, Check::SealedHold];
        assert_eq!(
            comparison_wants(&missing, Language::English).as_deref(),
            Some("Still to make for the proof: “Throttle follow”, “Sealed hold”.")
        );
    }
}
