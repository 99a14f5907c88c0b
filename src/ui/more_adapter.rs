use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, VecModel};

use super::check_adapter;
use super::markup::{AppWindow, CheckItem, Mark, MoreAdapter, ObservationItem, Tone};
use super::session::{Known, Session};
use super::visit_adapter::check_look;
use crate::evidence::{Check, Observation};
use crate::jobs::Command;
use crate::wording::{Language, check_purpose, check_title, observation, outcome_word};

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<MoreAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_started(move |index| {
        let Some(session) = to.upgrade() else { return };
        let check = usize::try_from(index).ok().and_then(|index| Check::ALL.get(index));
        if let Some(check) = check {
            check_adapter::begin(&session, *check);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_observed(move |index, holds| {
        let Some(session) = to.upgrade() else { return };
        let seen = usize::try_from(index).ok().and_then(|index| Observation::ALL.get(index));
        if let Some(observation) = seen {
            session.send(Command::Observe { observation: *observation, holds });
        }
    });
}

/// Shows every check and every observation.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let (adapter, style) = (window.global::<MoreAdapter>(), &known.style);
    let language = style.language;
    let note = match language {
        Language::English => format!("{}, visit {}", card.vehicle.name, card.number),
        Language::German => format!("{}, Besuch {}", card.vehicle.name, card.number),
    };
    adapter.set_note(note.into());
    let impossible = card.car.as_ref().map(|car| car.impossible.as_slice()).unwrap_or_default();
    let checks: Vec<CheckItem> = Check::ALL
        .into_iter()
        .enumerate()
        .map(|(index, check)| {
            let result = card.results.iter().find(|result| result.check == check);
            let (mark, tone) =
                result.map_or((Mark::Expected, Tone::Soft), |r| check_look(r.outcome));
            let trailing = match result {
                Some(result) => outcome_word(result.outcome, language),
                None if impossible.contains(&check) => style.of("not offered", "nicht möglich"),
                None => "",
            };
            CheckItem {
                id: i32::try_from(index).unwrap_or(0),
                name: check_title(check, language).into(),
                reason: check_purpose(check, language).into(),
                trailing: trailing.into(),
                tone,
                strong: result.is_some(),
                mark,
                next: false,
                again: result.is_some(),
                telling: false,
            }
        })
        .collect();
    adapter.set_checks(ModelRc::new(VecModel::from(checks)));
    let observations: Vec<ObservationItem> = Observation::ALL
        .into_iter()
        .map(|seen| ObservationItem {
            text: observation(seen, language).into(),
            holds: card.observations.contains(&seen),
        })
        .collect();
    adapter.set_observations(ModelRc::new(VecModel::from(observations)));
}
