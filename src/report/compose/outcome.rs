use super::section;
use crate::diagnosis::{Verdict, VerdictOutcome};
use crate::evidence::Check;
use crate::report::chart::circuit;
use crate::report::document::{Block, Figure, LeaderLine, Mark, Section, WeightLine};
use crate::report::visit::Visit;
use crate::wording::{
    Language, check_title, factor, hypothesis_title, percent, smallest_leak, verdict_outcome_word,
    verdict_sentence, weight_source, why_next, with_hypothesis,
};

/// A fault is named from this probability.
const NAMED_FROM: f64 = 0.95;

/// The verdict: stamp, sentence, certainty, smallest leak, circuit, what is next.
pub(super) fn verdict(visit: &Visit) -> Section {
    let style = &visit.style;
    let language = style.language;
    let title = language.of("Verdict", "Urteil");
    let Some(verdict) = &visit.verdict else {
        let text = language.of(
            "There is no verdict: no check was finished.",
            "Es gibt kein Urteil: Keine Prüfung wurde abgeschlossen.",
        );
        return section(title, vec![Block::Sentence(text.to_owned())]);
    };
    let mark = verdict_mark(verdict.outcome);
    let mut blocks = vec![
        Block::Stamp { mark, word: verdict_outcome_word(verdict.outcome, language).to_owned() },
        Block::Sentence(verdict_sentence(verdict, style)),
        Block::Certainty {
            share: verdict.probability.clamp(0.0, 1.0),
            named_from: NAMED_FROM,
            label: sure(verdict, visit),
            flag: language.of("named from 95\u{a0}%", "benannt ab 95\u{a0}%").to_owned(),
            mark,
        },
    ];
    let others = other_hypotheses(verdict, visit);
    if !others.is_empty() {
        blocks.push(Block::Leaders(others));
    }
    if let Some(leak) = smallest_leak(verdict, style) {
        let text = match language {
            Language::English => {
                format!(
                    "Smallest leak through the shut valve that this visit would have shown: {leak}."
                )
            }
            Language::German => format!(
                "Kleinstes Leck im geschlossenen Ventil, das dieser Besuch gezeigt hätte: {leak}."
            ),
        };
        blocks.push(Block::Text(text));
    }
    if verdict.outcome == VerdictOutcome::Inconclusive {
        let text = language.of(
            "No part is named: on what is known so far, replacing one would be a guess. Nothing needs to be replaced before the next check.",
            "Kein Teil ist benannt: Nach dem, was bisher bekannt ist, wäre ein Tausch geraten. Vor der nächsten Prüfung ist nichts zu tauschen.",
        );
        blocks.push(Block::Text(text.to_owned()));
    }
    blocks.push(Block::Figure(circuit_figure(verdict, visit)));
    let is_done = |check| check == Check::RepairProof && visit.proof.is_some();
    if let Some(next) = verdict.next_check.as_ref().filter(|next| !is_done(next.check)) {
        let next_title = check_title(next.check, language);
        let words = match language {
            Language::English => format!("Next: {next_title}"),
            Language::German => format!("Als Nächstes: {next_title}"),
        };
        blocks.push(Block::Subheading { text: words, outcome: None });
        blocks.push(Block::Text(why_next(next, language)));
    }
    section(title, blocks)
}

/// Why: every factor of the verdict, in the order they were multiplied.
pub(super) fn why(visit: &Visit) -> Option<Section> {
    let verdict = visit.verdict.as_ref().filter(|verdict| !verdict.weights.is_empty())?;
    let style = &visit.style;
    let language = style.language;
    let leading = verdict.leading();
    let under = with_hypothesis(leading, language);
    let (telling, silent): (Vec<_>, Vec<_>) =
        verdict.weights.iter().partition(|it| blocks_of(it.factor) != 0);
    let lines = telling.into_iter().map(|weight| WeightLine {
        text: weight_source(weight, style),
        odds: factor(weight.factor, under, language),
        blocks: blocks_of(weight.factor),
    });
    let heading = match language {
        Language::English => "Why this verdict",
        Language::German => "Warum dieses Urteil",
    };
    let weights = Block::Weights {
        against: language.of("against", "dagegen").to_owned(),
        supports: language.of("for", "dafür").to_owned(),
        lines: lines.collect(),
    };
    let note = match language {
        Language::English => format!(
            "For and against: {}. One block is a factor of about three; the factors multiply to the odds of the verdict.",
            hypothesis_title(leading, language)
        ),
        Language::German => format!(
            "Dafür und dagegen: {}. Ein Block ist etwa ein Faktor drei; die Faktoren multiplizieren sich zum Verhältnis des Urteils.",
            hypothesis_title(leading, language)
        ),
    };
    let mut blocks = vec![weights, Block::Small(note)];
    if !silent.is_empty() {
        let facts: Vec<String> = silent.into_iter().map(|it| weight_source(it, style)).collect();
        let head = language.of(
            "Taken into account as well, with factors below two:",
            "Ebenfalls berücksichtigt, mit Faktoren unter zwei:",
        );
        blocks.push(Block::Small(format!("{head} {}.", facts.join("; "))));
    }
    Some(section(heading, blocks))
}

/// The mark of a verdict: a sound system passes, a fault fails.
pub(in crate::report) const fn verdict_mark(outcome: VerdictOutcome) -> Mark {
    match outcome {
        VerdictOutcome::FaultFound => Mark::Fail,
        VerdictOutcome::NoFaultFound => Mark::Pass,
        VerdictOutcome::Inconclusive => Mark::Inconclusive,
    }
}

fn sure(verdict: &Verdict, visit: &Visit) -> String {
    let language = visit.style.language;
    let share = percent(verdict.probability, language);
    let leading = hypothesis_title(verdict.leading(), language);
    match (verdict.outcome, language) {
        // What is not named is not sure.
        (VerdictOutcome::Inconclusive, Language::English) => {
            format!("{leading}: {share}, not enough to name it")
        }
        (VerdictOutcome::Inconclusive, Language::German) => {
            format!("{leading}: {share}, zu wenig, um es zu benennen")
        }
        (_, Language::English) => format!("{leading}: {share} sure"),
        (_, Language::German) => format!("{leading}: {share} sicher"),
    }
}

/// What else it could be, likeliest first; what is under half a per cent is left out.
fn other_hypotheses(verdict: &Verdict, visit: &Visit) -> Vec<LeaderLine> {
    let language = visit.style.language;
    let leading = verdict.leading();
    let mut others: Vec<_> = verdict
        .probabilities
        .iter()
        .filter(|(it, share)| *it != leading && *share >= 0.005)
        .collect();
    others.sort_by(|a, b| b.1.total_cmp(&a.1));
    let line = |(hypothesis, share): &(_, f64)| LeaderLine {
        text: hypothesis_title(*hypothesis, language).to_owned(),
        amount: percent(*share, language),
        is_total: false,
    };
    others.into_iter().map(line).collect()
}

fn circuit_figure(verdict: &Verdict, visit: &Visit) -> Figure {
    let language = visit.style.language;
    let (caption, alternative) = match verdict.fault {
        Some(fault) => {
            let fault = crate::wording::fault_title(fault, language);
            match language {
                Language::English => (
                    "The vapour circuit; hatched and crossed: where the fault is.".to_owned(),
                    format!("Drawing of the vapour circuit with the faulty part marked: {fault}."),
                ),
                Language::German => (
                    "Der Dampfkreis; schraffiert und angekreuzt: wo der Fehler sitzt.".to_owned(),
                    format!("Zeichnung des Dampfkreises mit markiertem Teil: {fault}."),
                ),
            }
        }
        None => (
            language
                .of(
                    "The vapour circuit; no part is named.",
                    "Der Dampfkreis; kein Teil ist benannt.",
                )
                .to_owned(),
            language
                .of(
                    "Drawing of the vapour circuit without any part marked.",
                    "Zeichnung des Dampfkreises ohne markiertes Teil.",
                )
                .to_owned(),
        ),
    };
    Figure { drawing: circuit(verdict.fault, language), caption, alternative }
}

/// About one block for each factor of three.
fn blocks_of(factor: f64) -> i8 {
    if !(factor > 0.0 && factor.is_finite()) {
        return if factor > 0.0 { 8 } else { -8 };
    }
    (factor.ln() / 3f64.ln()).round().clamp(-8.0, 8.0) as i8
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_is_a_factor_of_about_three() {
        assert_eq!(blocks_of(1.2), 0);
        assert_eq!(blocks_of(3.1), 1);
        assert_eq!(blocks_of(120.0), 4);
        assert_eq!(blocks_of(0.3), -1);
        assert_eq!(blocks_of(0.0), -8);
    }
}
