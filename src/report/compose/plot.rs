use std::time::Duration;

use super::stretch::{Stretch, deepest_return, quick_decay, stretch};
use crate::checks::FitCurve;
use crate::evidence::{Check, CheckResult, MeasureName, Outcome};
use crate::report::chart::{Lane, Strip, strip};
use crate::report::document::Figure;
use crate::report::visit::{CheckRecord, Visit};
use crate::units::Instant;
use crate::vehicle::Signal;
use crate::wording::{Language, measure_name, number, signal_name};

/// The plots of a check: what it judged and, where that hides how the tank returned, one return drawn
/// larger.
pub(super) fn plots(visit: &Visit, record: &CheckRecord, alternative: &str) -> Vec<Figure> {
    let language = visit.style.language;
    let result = &record.result;
    let (drive, preferred) = lanes(result.check);
    let has = |signal: Signal| visit.recording.series(signal).is_some();
    let known = [preferred, Signal::TankPressure, Signal::TankSensor].into_iter().find(|s| has(*s));
    let Some(watched) = known else { return Vec::new() };
    let fits: &[FitCurve] = if watched == Signal::TankPressure { &record.fits } else { &[] };
    let draw = |(from, to): Stretch, drive: Option<Lane>, fits: &[FitCurve]| {
        strip(&Strip {
            recording: &visit.recording,
            from,
            to,
            drive,
            watched: Lane { signal: watched, at_least: least(watched, result) },
            rails: &record.rails,
            fits,
            marks_outside: result.outcome == Outcome::Fail,
            style: &visit.style,
        })
    };
    let figure = |drawing, caption: Vec<String>| Figure {
        drawing,
        caption: caption.join(" "),
        alternative: alternative.to_owned(),
    };
    let ((first, last), count) = stretch(visit.recording.actions(), record);
    // Nothing of what is judged touches the edge.
    let margin = Duration::from_millis(500);
    let whole = (first - margin, last + margin);
    let inside = |fit: &&FitCurve| fit.points.iter().any(|it| it.0 >= whole.0 && it.0 <= whole.1);
    let shown: Vec<FitCurve> = fits.iter().filter(inside).cloned().collect();
    let Some(drawing) = draw(whole, drive.filter(|lane| has(lane.signal)), &shown) else {
        return Vec::new();
    };
    let mut words = vec![caption(watched, record, whole, language)];
    words.extend((count > 1).then(|| of_several(count, language)));
    words.extend(fit_caption(&shown, language));
    let mut figures = vec![figure(drawing, words)];
    let larger = |words: &str, (stretch, fit): (Stretch, FitCurve)| {
        let drawing = draw(stretch, None, std::slice::from_ref(&fit))?;
        let words = std::iter::once(words.to_owned()).chain(fit_caption(&[fit], language));
        Some(figure(drawing, words.collect()))
    };
    let decay = language.of(
        "How the vacuum was lost, drawn larger.",
        "Wie der Unterdruck verloren ging, vergrößert.",
    );
    let back = language
        .of("One return of the pressure, drawn larger.", "Eine Rückkehr des Drucks, vergrößert.");
    let found = quick_decay(&shown, whole).and_then(|it| larger(decay, it));
    figures.extend(found.or_else(|| larger(back, deepest_return(fits, whole)?)));
    figures
}

fn caption(watched: Signal, record: &CheckRecord, shown: Stretch, language: Language) -> String {
    let signal = signal_name(watched, language);
    let holds = |from: Instant, until: Option<Instant>| {
        from <= shown.1 && until.is_none_or(|until| until >= shown.0)
    };
    let has_rails = record.rails.iter().any(|it| holds(it.from, it.until));
    let hatched = has_rails && record.result.outcome == Outcome::Fail;
    match (has_rails, hatched, language) {
        (true, true, Language::English) => format!(
            "{signal}, time downwards. Between the two rails it counts as still; hatched: outside."
        ),
        (true, true, Language::German) => format!(
            "{signal}, Zeit nach unten. Zwischen den beiden Linien gilt er als still; schraffiert: außerhalb."
        ),
        (true, false, Language::English) => {
            format!("{signal}, time downwards. Between the two rails it counts as still.")
        }
        (true, false, Language::German) => {
            format!("{signal}, Zeit nach unten. Zwischen den beiden Linien gilt er als still.")
        }
        (false, _, Language::English) => format!("{signal}, time downwards."),
        (false, _, Language::German) => format!("{signal}, Zeit nach unten."),
    }
}

/// That the check was made several times, and the plot shows one.
fn of_several(count: usize, language: Language) -> String {
    let count = number(count as f64, 0, language);
    match language {
        Language::English => format!("Shown is one of {count} runs."),
        Language::German => format!("Gezeigt ist einer von {count} Durchgängen."),
    }
}

/// What the dashed and dotted lines are, and which number of the table they belong to.
fn fit_caption(fits: &[FitCurve], language: Language) -> Option<String> {
    let mut names: Vec<&str> = Vec::new();
    for fit in fits {
        let name = measure_name(fit.measure, language);
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let quoted = |(open, close): (&str, &str), and: &str| {
        names.iter().map(|name| format!("{open}{name}{close}")).collect::<Vec<_>>().join(and)
    };
    (!names.is_empty()).then(|| match language {
        Language::English => format!(
            "Dashed: the fit that gave {}; dotted: the same at that number's bounds.",
            quoted(("“", "”"), " and ")
        ),
        Language::German => format!(
            "Gestrichelt: die Anpassung, aus der {} stammt; gepunktet: dieselbe an den Grenzen dieser Zahl.",
            quoted(("„", "“"), " und ")
        ),
    })
}

/// What a check is plotted as: the driving signal and the watched one.
fn lanes(check: Check) -> (Option<Lane>, Signal) {
    let percent = |signal| Some(Lane { signal, at_least: Some((0.0, 100.0)) });
    match check {
        Check::ThrottleFollow => (percent(Signal::Throttle), Signal::TankPressure),
        Check::PurgeResponse | Check::UnplugRecovery => {
            (percent(Signal::PurgeCommand), Signal::TankPressure)
        }
        Check::SealedHold => (percent(Signal::PurgeCommand), Signal::TankPressure),
        Check::IdleZero => {
            (Some(Lane { signal: Signal::EngineSpeed, at_least: None }), Signal::TankPressure)
        }
        Check::AfterFillUp => (percent(Signal::PurgeCommand), Signal::ShortTrim1),
        Check::RestZero | Check::CapOffZero | Check::RepairProof => (None, Signal::TankPressure),
    }
}

/// A scale that shows a still signal as still: it spans a few times the noise at least.
fn least(watched: Signal, result: &CheckResult) -> Option<(f64, f64)> {
    match watched {
        Signal::TankPressure => {
            let noise = result.measure(MeasureName::Noise).map_or(4.0, |noise| noise.value.abs());
            Some((-6.0 * noise, 6.0 * noise))
        }
        Signal::ShortTrim1 => Some((-15.0, 5.0)),
        _ => None,
    }
}
