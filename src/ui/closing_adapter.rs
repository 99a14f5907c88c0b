use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, SharedString, VecModel};

use super::dates;
use super::markup::{AppWindow, CodesAdapter, FollowUpAdapter};
use super::session::{Known, Session};
use crate::evidence::Outcome;
use crate::jobs::{Command, LinkState};
use crate::wording::{Language, Style};

/// Connects clearing and follow-up.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let to = Rc::downgrade(session);
    window.global::<CodesAdapter>().on_cleared(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<CodesAdapter>();
        // The consent is for this one request; another needs another.
        let consent = adapter.get_agreed();
        adapter.set_agreed(false);
        if consent {
            session.send(Command::ClearCodes { consent });
        }
    });
    let to = Rc::downgrade(session);
    window.global::<FollowUpAdapter>().on_planned_pressed(move |days| {
        if let (Some(session), Ok(days)) = (to.upgrade(), u16::try_from(days)) {
            session.send(Command::PlanFollowUp { days });
        }
    });
}

/// Shows both pages.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let style = &known.style;
    let note: SharedString = match style.language {
        Language::English => format!("{}, visit {}", card.vehicle.name, card.number),
        Language::German => format!("{}, Besuch {}", card.vehicle.name, card.number),
    }
    .into();
    let adapter = window.global::<FollowUpAdapter>();
    adapter.set_note(note.clone());
    let planned = card.follow_up.map(|at| {
        style
            .of("Planned for {}.", "Geplant für {}.")
            .replace("{}", &dates::day(at, style.language))
    });
    adapter.set_planned(planned.unwrap_or_default().into());
    adapter.set_advice(lines(&follow_up_advice(style)));
    window.global::<CodesAdapter>().set_note(note);
    show_codes(window, known, style);
}

fn lines(texts: &[&str]) -> ModelRc<SharedString> {
    ModelRc::new(VecModel::from(texts.iter().map(|text| (*text).into()).collect::<Vec<_>>()))
}

/// Common practice, no source.
fn follow_up_advice(style: &Style) -> [&'static str; 3] {
    [
        style.of(
            "Drive as usual until the monitors have run; several cold starts are needed.",
            "Wie gewohnt fahren, bis die Überwachungen gelaufen sind; dazu braucht es mehrere Kaltstarts.",
        ),
        style.of(
            "Fill the tank to the first click and note how the engine starts.",
            "Bis zum ersten Klicken tanken und darauf achten, wie der Motor anspringt.",
        ),
        style.of(
            "Then read the car again: codes gone, evaporative monitor ready.",
            "Dann das Auto wieder auslesen: Codes weg, Tankentlüftung bereit.",
        ),
    ]
}

fn show_codes(window: &AppWindow, known: &Known, style: &Style) {
    let Some(card) = &known.card else { return };
    let adapter = window.global::<CodesAdapter>();
    adapter.set_sentence(
        style
            .of(
                "Clear the codes last, after the proof.",
                "Codes zuletzt löschen, nach dem Nachweis.",
            )
            .into(),
    );
    let codes: Vec<&str> =
        card.car.iter().flat_map(|car| &car.codes).map(|l| l.code.as_str()).collect();
    let named = if codes.is_empty() {
        style
            .of("Stored and pending trouble codes", "Gespeicherte und vorläufige Fehlercodes")
            .to_owned()
    } else {
        style.of("Trouble codes: {}", "Fehlercodes: {}").replace("{}", &codes.join(", "))
    };
    let erases: Vec<SharedString> = vec![
        named.into(),
        style.of("The freeze frame that was stored with them", "Die Umgebungsdaten dazu").into(),
        style
            .of(
                "Readiness: every monitor starts over",
                "Die Bereitschaft: jede Überwachung beginnt von vorn",
            )
            .into(),
        style
            .of(
                "What the engine computer has learnt about fuel trim, on many cars",
                "Bei vielen Autos das Gelernte zur Gemischregelung",
            )
            .into(),
    ];
    adapter.set_erases(ModelRc::new(VecModel::from(erases)));
    adapter.set_inspection(
        style
            .of(
                "An inspection that asks for readiness will not pass until the monitors have run again, which can take days of ordinary driving.",
                "Eine Untersuchung, die Bereitschaft verlangt, gelingt erst, wenn die Überwachungen wieder gelaufen sind; das kann Tage gewöhnlicher Fahrt dauern.",
            )
            .into(),
    );
    let permanent =
        card.car.as_ref().is_some_and(|car| car.codes.iter().any(|line| line.permanent));
    adapter.set_permanent(
        if permanent {
            style.of(
                "The permanent code stays: only the car itself takes it away, once its monitor passes.",
                "Der permanente Code bleibt: Nur das Auto selbst nimmt ihn weg, sobald die Überwachung besteht.",
            )
        } else {
            ""
        }
        .into(),
    );
    let proven = card.proof.as_ref().is_some_and(|proof| proof.result.outcome == Outcome::Pass);
    adapter.set_warning(
        if proven || card.cleared.is_some() {
            ""
        } else {
            style.of(
                "The repair is not proven yet. Cleared now, the code that points to the fault is gone.",
                "Die Reparatur ist noch nicht nachgewiesen. Jetzt gelöscht, ist der Hinweis auf den Fehler weg.",
            )
        }
        .into(),
    );
    let linked = matches!(known.link, Some(LinkState::Linked { .. }));
    adapter.set_possible(linked);
    adapter.set_why_not(
        style
            .of(
                "Connect to the car first, key on, engine off.",
                "Erst mit dem Auto verbinden, Zündung ein, Motor aus.",
            )
            .into(),
    );
    let done = card
        .cleared
        .map(|at| style.of("Cleared at {}.", "Gelöscht um {}.").replace("{}", &dates::clock(at)));
    adapter.set_done(done.unwrap_or_default().into());
}
