use crate::diagnosis::VerdictOutcome;
use crate::evidence::{Check, Outcome};
use crate::jobs::{CheckState, LinkState, VisitCard};

/// What the main button of a visit does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NextAction {
    /// Picks an adapter.
    Connect,
    /// Asks the car.
    ReadCar,
    /// Makes a check.
    Start(Check),
    /// Goes back to the check that runs.
    Resume,
    /// Opens the verdict.
    SeeVerdict,
    /// Makes the checks again after the repair.
    Prove,
    /// Clears the codes.
    ClearCodes,
    /// Plans a look after the next fill-up.
    FollowUp,
    /// Writes the report.
    Report,
}

/// What comes next in a visit, in the order of the card.
pub(super) fn next_action(card: &VisitCard, link: Option<&LinkState>) -> NextAction {
    let linked = matches!(link, Some(LinkState::Linked { .. } | LinkState::Lost { .. }));
    let decided = card
        .verdict
        .as_ref()
        .is_some_and(|verdict| verdict.outcome != VerdictOutcome::Inconclusive);
    let next = card.checks.iter().find(|line| line.state == CheckState::Next);
    if card.checks.iter().any(|line| line.state == CheckState::Running) {
        return NextAction::Resume;
    }
    let proof = card.proof.as_ref().map(|proof| proof.result.outcome);
    if card.repair.is_some() && matches!(proof, None | Some(Outcome::Inconclusive)) {
        return match next {
            _ if !linked => NextAction::Connect,
            Some(line) => NextAction::Start(line.check),
            None => NextAction::Prove,
        };
    }
    if card.repair.is_some() && proof == Some(Outcome::Fail) {
        return NextAction::SeeVerdict;
    }
    if decided && card.repair.is_none() {
        return NextAction::SeeVerdict;
    }
    if card.proof.is_some() {
        let codes = card.car.as_ref().is_some_and(|car| !car.codes.is_empty());
        return match (card.cleared, card.follow_up) {
            (None, _) if codes && linked => NextAction::ClearCodes,
            (_, None) => NextAction::FollowUp,
            _ => NextAction::Report,
        };
    }
    if !linked {
        return NextAction::Connect;
    }
    if card.car.is_none() {
        return NextAction::ReadCar;
    }
    match next {
        Some(line) => NextAction::Start(line.check),
        None => NextAction::SeeVerdict,
    }
}
