use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, SharedString, VecModel};

use super::known::show_card;
use super::markup::{
    AppWindow, ComparisonAdapter, EarlierVisit, OverlayLine, Page, ProofAdapter, StripPlace,
    VehicleAdapter,
};
use super::proof_adapter::{Overlaid, headed, overlay_strip, told, told_with_bounds};
use super::session::{Known, Session};
use super::vehicles_adapter::lower_first;
use super::{dates, visit_adapter};
use crate::evidence::{Check, Comparison, ComparisonEnd, MeasureName};
use crate::jobs::{
    Command, ComparedNumber, ComparedVisit, HistoryCommand, VisitCard, VisitComparison,
};
use crate::wording::{
    Language, Style, check_title, comparison_sentence, comparison_stamp, comparison_wants,
    fault_title, measure_name, measure_value, verdict_outcome_word,
};

/// Connects the page's callbacks, and the ways to it.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<ComparisonAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_visit_chosen(move |earlier| {
        let Some(session) = to.upgrade() else { return };
        let later = session.known().comparison.as_ref().map(|it| it.later.id);
        if let Some(later) = later {
            request(&session, later, Some(i64::from(earlier)));
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_check_chosen(move |place| {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        session.known_mut().compared_trace = usize::try_from(place).unwrap_or(0);
        show(&window, &session.known());
    });
    let to = Rc::downgrade(session);
    window.global::<VehicleAdapter>().on_compared(move || {
        let Some(session) = to.upgrade() else { return };
        let newest = {
            let known = session.known();
            known.vehicle.as_ref().and_then(|page| page.visits.first()).map(|visit| visit.id)
        };
        if let Some(newest) = newest {
            open(&session, newest);
        }
    });
    let to = Rc::downgrade(session);
    window.global::<ProofAdapter>().on_compared(move || {
        if let Some(session) = to.upgrade() {
            open_for_card(&session);
        }
    });
}

/// Whether an earlier visit can be laid under this one.
pub(super) const fn has_earlier(card: &VisitCard) -> bool {
    card.number > 1
}

/// Lays an earlier visit under the open one.
pub(super) fn open_for_card(session: &Session) {
    let visit = session.known().card.as_ref().map(|card| card.id);
    if let Some(visit) = visit {
        open(session, visit);
    }
}

fn open(session: &Session, later: i64) {
    session.known_mut().comparison = None;
    request(session, later, None);
    session.go(Page::Comparison);
}

fn request(session: &Session, later: i64, earlier: Option<i64>) {
    session.send(Command::Histories(HistoryCommand::CompareVisits { later, earlier }));
}

/// Asks for what a report of the open visit says of an earlier one.
pub(super) fn ask_for_report(session: &Session) {
    let visit = session.known().card.as_ref().filter(|card| has_earlier(card)).map(|card| card.id);
    session.known_mut().comparison = None;
    if let Some(visit) = visit {
        request(session, visit, None);
    }
}

/// What a report of this visit says of an earlier one, as a title and lines.
pub(super) fn section(card: &VisitCard, known: &Known) -> Option<(String, Vec<String>)> {
    let style = &known.style;
    let compared = known.comparison.as_ref()?;
    if compared.later.id != card.id || !compared.tells() {
        return None;
    }
    let title = style.of("Compared with {}", "Verglichen mit {}");
    let title = title.replace("{}", &lower_first(&short_name(&compared.earlier, style), style));
    let comparison = &compared.comparison;
    let stamp = comparison_stamp(comparison.end, style.language);
    let sentence = format!("{stamp}. {}", comparison_sentence(comparison, style));
    let numbers = compared.numbers.iter().map(|it| {
        let shown = |estimate| measure_value(it.name, estimate, style);
        let name = measure_name(it.name, style.language);
        format!("{name}: {} → {}", shown(&it.earlier), shown(&it.later))
    });
    Some((title, [sentence, repaired(compared, style)].into_iter().chain(numbers).collect()))
}

/// Takes note of what came and shows it.
pub(super) fn take(session: &Session, window: &AppWindow, compared: VisitComparison) {
    {
        let mut known = session.known_mut();
        known.comparison = Some(compared);
        known.compared_trace = 0;
    }
    show_card(window, &session.known());
}

/// Shows the two visits.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let (adapter, style) = (window.global::<ComparisonAdapter>(), &known.style);
    let language = style.language;
    adapter.set_ready(known.comparison.is_some());
    let Some(compared) = &known.comparison else { return };
    let comparison = &compared.comparison;
    adapter.set_note(compared.vehicle.name.as_str().into());
    adapter.set_virtual_car(compared.vehicle.is_virtual);
    adapter.set_mark(visit_adapter::check_look(comparison.outcome()).0);
    adapter.set_stamp(comparison_stamp(comparison.end, language).into());
    adapter.set_sentence(comparison_sentence(comparison, style).into());
    let proven = comparison.end == ComparisonEnd::Proven;
    let wants = comparison_wants(&comparison.missing, language).filter(|_| !proven);
    adapter.set_wants(wants.unwrap_or_default().into());
    adapter.set_repaired(repaired(compared, style).into());
    adapter.set_before(short_name(&compared.earlier, style).into());
    adapter.set_after(short_name(&compared.later, style).into());
    adapter.set_lines(model(compared.numbers.iter().map(|it| line(it, comparison, style))));
    let titles =
        compared.traces.iter().map(|it| pair_title((it.check, it.later_check), style).into());
    adapter.set_checks(model::<SharedString>(titles));
    let visits = compared.choices.iter().map(|it| EarlierVisit {
        id: i32::try_from(it.id).unwrap_or(0),
        title: dated_name(it, style).into(),
        note: verdict(it, style).into(),
        chosen: it.id == compared.earlier.id,
    });
    adapter.set_visits(model(visits));
    show_strip(window, compared, known);
}

fn show_strip(window: &AppWindow, compared: &VisitComparison, known: &Known) {
    let adapter = window.global::<ComparisonAdapter>();
    let style = &known.style;
    let place = known.compared_trace.min(compared.traces.len().saturating_sub(1));
    adapter.set_check(i32::try_from(place).unwrap_or(0));
    let traces = compared.traces.get(place);
    adapter.set_has_strip(traces.is_some());
    let Some(traces) = traces else { return };
    let deeds = (traces.check, traces.later_check);
    adapter.set_caption(pair_title(deeds, style).into());
    let deed = pair_deed(deeds, style.language);
    let overlaid = Overlaid {
        before: &traces.earlier,
        after: &traces.later,
        names: (short_name(&compared.earlier, style), short_name(&compared.later, style)),
        limit_pa: traces.limit_pa,
        deed: deed.as_deref(),
    };
    if let Some(view) = overlay_strip(window, StripPlace::Comparison, &overlaid, known) {
        adapter.set_strip(view);
    }
}

fn model<T: Clone + 'static>(items: impl Iterator<Item = T>) -> ModelRc<T> {
    ModelRc::new(VecModel::from(items.collect::<Vec<T>>()))
}

/// The visit's number alone, as a column and a trace are named.
fn short_name(visit: &ComparedVisit, style: &Style) -> String {
    style.of("Visit {}", "Besuch {}").replace("{}", &visit.number.to_string())
}

fn dated_name(visit: &ComparedVisit, style: &Style) -> String {
    let day = dates::short_day(visit.started, style.language);
    format!("{}, {day}", short_name(visit, style))
}

fn verdict(visit: &ComparedVisit, style: &Style) -> String {
    match visit.verdict {
        Some((_, Some(fault), _)) => lower_first(fault_title(fault, style.language), style),
        Some((outcome, None, _)) => {
            lower_first(verdict_outcome_word(outcome, style.language), style)
        }
        None => "–".to_owned(),
    }
}

/// Which visits these are, and what was replaced at them.
fn repaired(compared: &VisitComparison, style: &Style) -> String {
    let (earlier, later) =
        (dated_name(&compared.earlier, style), dated_name(&compared.later, style));
    let earlier = lower_first(&earlier, style);
    let part = compared.later.repaired.as_ref().or(compared.earlier.repaired.as_ref());
    let words = match part {
        Some(_) => style.of("{}, against {}. Replaced: {}.", "{}, gegen {}. Erneuert: {}."),
        None => style.of(
            "{}, against {}. No repair was noted at them.",
            "{}, gegen {}. Dabei ist keine Reparatur vermerkt.",
        ),
    };
    let part = part.map(String::as_str).unwrap_or_default();
    words.replacen("{}", &later, 1).replacen("{}", &earlier, 1).replacen("{}", part, 1)
}

fn line(it: &ComparedNumber, comparison: &Comparison, style: &Style) -> OverlayLine {
    // Only what a shut valve lets through has a limit that was stated beforehand.
    let limit = comparison.proof.as_ref().and_then(|it| it.measure(MeasureName::DetectionLimit));
    let limit = limit.filter(|_| it.name == MeasureName::VacuumWithPurgeShut);
    let limit =
        limit.map(|limit| format!("±{}", told(MeasureName::DetectionLimit, limit, style).0));
    OverlayLine {
        name: headed(it.name, style).into(),
        before: told(it.name, it.earlier, style).0.into(),
        after: told_with_bounds(it.name, it.later, style).into(),
        limit: limit.unwrap_or_default().into(),
        mark: visit_adapter::check_look(it.outcome).0,
    }
}

/// The check that both traces are of, or the two, the earlier first.
pub(super) fn pair_title((earlier, later): (Check, Check), style: &Style) -> String {
    let title = |check| check_title(check, style.language);
    if earlier == later {
        return title(later).to_owned();
    }
    format!("{} · {}", title(earlier), title(later))
}

/// What was done at the moment that both traces are laid at; for two checks what was at either.
pub(super) fn pair_deed((earlier, later): (Check, Check), language: Language) -> Option<String> {
    let (first, second) = (deed(earlier, language)?, deed(later, language)?);
    Some(if first == second { first.to_owned() } else { format!("{first} · {second}") })
}

/// What was done at the moment that a trace of this check is laid at.
const fn deed(check: Check, language: Language) -> Option<&'static str> {
    Some(match check {
        Check::ThrottleFollow => language.of("Throttle opened", "Gas gegeben"),
        Check::IdleZero | Check::RestZero => language.of("Engine started", "Motor gestartet"),
        Check::UnplugRecovery => language.of("Unplugged", "Abgezogen"),
        Check::CapOffZero => language.of("Cap off", "Deckel ab"),
        Check::SealedHold => language.of("Vent sealed", "Belüftung zu"),
        Check::PurgeResponse => language.of("Purge opens", "Spülung öffnet"),
        Check::AfterFillUp | Check::RepairProof => return None,
    })
}
