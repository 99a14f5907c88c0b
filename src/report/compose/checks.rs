use std::time::Duration;

use super::section;
use crate::checks::FitCurve;
use crate::evidence::{Check, CheckResult, MeasureName};
use crate::recording::{Action, ActionAt};
use crate::report::chart::{Lane, Strip, strip};
use crate::report::document::{Block, Figure, Section, Table};
use crate::report::visit::{CheckRecord, Visit};
use crate::units::Instant;
use crate::vehicle::Signal;
use crate::wording::{
    Language, check_title, measure_name, measure_value, outcome_word, reason, signal_name, warning,
};

/// Every check that was made: outcome, sentence, plot, numbers.
pub(super) fn checks(visit: &Visit) -> Option<Section> {
    let language = visit.style.language;
    let mut blocks = Vec::new();
    for record in &visit.checks {
        // The proof has its own section, with the overlay.
        if record.result.check == Check::RepairProof && visit.proof.is_some() {
            continue;
        }
        blocks.extend(check(visit, record));
    }
    if !visit.warnings.is_empty() && !blocks.is_empty() {
        let text =
            language.of("What weakens these numbers", "Was diese Zahlen schwächt").to_owned();
        blocks.push(Block::Subheading { text, outcome: None });
        let warnings = visit.warnings.iter().map(|it| warning(*it, &visit.style));
        blocks.push(Block::List(warnings.collect()));
    }
    (!blocks.is_empty()).then(|| section(language.of("Checks", "Prüfungen"), blocks))
}

fn check(visit: &Visit, record: &CheckRecord) -> Vec<Block> {
    let style = &visit.style;
    let language = style.language;
    let result = &record.result;
    let title = check_title(result.check, language);
    let word = outcome_word(result.outcome, language);
    let sentence = reason(result, style);
    let mut blocks = vec![
        Block::Subheading {
            text: title.to_owned(),
            outcome: Some((result.outcome.into(), word.to_owned())),
        },
        Block::Text(sentence.clone()),
    ];
    if let Some((drawing, watched)) = plot(visit, record) {
        let alternative = match language {
            Language::English => format!("Strip chart of {title}. {word}: {sentence}"),
            Language::German => format!("Streifenschrieb zu {title}. {word}: {sentence}"),
        };
        let mut caption = caption(watched, !record.rails.is_empty(), language);
        if watched == Signal::TankPressure {
            caption.extend(fit_caption(&record.fits, language));
        }
        let caption = caption.join(" ");
        blocks.push(Block::Figure(Figure { drawing, caption, alternative }));
    }
    blocks.extend(numbers(result, visit));
    blocks
}

/// The numbers of a check, in its own order. The detection limit stands among them.
pub(super) fn numbers(result: &CheckResult, visit: &Visit) -> Option<Block> {
    let style = &visit.style;
    let language = style.language;
    let rows: Vec<Vec<String>> = result
        .measures
        .iter()
        // A step of zero means that none was seen.
        .filter(|measure| measure.name != MeasureName::Step || measure.estimate.value > 0.0)
        .map(|measure| {
            let name = measure_name(measure.name, language).to_owned();
            vec![name, measure_value(measure.name, &measure.estimate, style)]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            head: vec![
                language.of("Measured", "Gemessen").to_owned(),
                language.of("Value (95\u{a0}% bounds)", "Wert (95-%-Grenzen)").to_owned(),
            ],
            rows,
            widths: vec![0.58, 0.42],
            right: vec![false, true],
        })
    })
}

fn caption(watched: Signal, has_rails: bool, language: Language) -> Vec<String> {
    let signal = signal_name(watched, language);
    let text = match (has_rails, language) {
        (true, Language::English) => {
            format!(
                "{signal}, time downwards. Between the two rails it counts as still; hatched: outside."
            )
        }
        (true, Language::German) => format!(
            "{signal}, Zeit nach unten. Zwischen den beiden Linien gilt er als still; schraffiert: außerhalb."
        ),
        (false, Language::English) => format!("{signal}, time downwards."),
        (false, Language::German) => format!("{signal}, Zeit nach unten."),
    };
    vec![text]
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

/// How early a vent may have been sealed before it was said.
const BEFORE_SEALING: Duration = Duration::from_secs(3);

/// What an opened vent takes to let the air in.
const AFTER_OPENING: Duration = Duration::from_secs(5);

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

fn plot(visit: &Visit, record: &CheckRecord) -> Option<(crate::report::Drawing, Signal)> {
    let result = &record.result;
    let (drive, preferred) = lanes(result.check);
    let has = |signal: Signal| visit.recording.series(signal).is_some();
    let watched =
        [preferred, Signal::TankPressure, Signal::TankSensor].into_iter().find(|s| has(*s))?;
    let (first, last) = open_span(visit.recording.actions(), result.check, result.window);
    // Nothing of what is judged touches the edge.
    let margin = Duration::from_millis(500);
    let strip = strip(&Strip {
        recording: &visit.recording,
        from: first - margin,
        to: last + margin,
        drive: drive.filter(|lane| has(lane.signal)),
        watched: Lane { signal: watched, at_least: least(watched, result) },
        rails: &record.rails,
        fits: if watched == Signal::TankPressure { &record.fits } else { &[] },
        style: &visit.style,
    })?;
    Some((strip, watched))
}

/// The part of a check's time that its plot shows: the vacuum of a sealed tank is many times deeper
/// than anything else and belongs to the sealed hold alone.
fn open_span(
    actions: &[ActionAt],
    check: Check,
    (first, last): (Instant, Instant),
) -> (Instant, Instant) {
    if check == Check::SealedHold {
        return (first, last);
    }
    let mut spans = Vec::new();
    let mut open_from = Some(first);
    for it in actions.iter().filter(|it| it.at > first && it.at < last) {
        match it.action {
            Action::VentSealed => {
                spans.extend(open_from.take().map(|from| (from, it.at - BEFORE_SEALING)))
            }
            Action::VentOpened => {
                open_from = open_from.or(Some(it.at + AFTER_OPENING)).filter(|from| *from < last);
            }
            _ => {}
        }
    }
    spans.extend(open_from.map(|from| (from, last)));
    let length = |span: &(Instant, Instant)| span.1.seconds_since(span.0);
    spans.into_iter().max_by(|a, b| length(a).total_cmp(&length(b))).unwrap_or((first, last))
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_sealed_hold_is_plotted_sealed() {
        let at = Instant::from_seconds;
        let actions = [(20.0, Action::VentSealed), (90.0, Action::VentOpened)]
            .map(|(time, action)| ActionAt { at: at(time), action });
        let window = (at(0.0), at(200.0));
        let shown = |check| open_span(&actions, check, window);
        assert_eq!(shown(Check::SealedHold), window);
        assert_eq!(shown(Check::PurgeResponse), (at(95.0), at(200.0)));
        assert_eq!(open_span(&[], Check::PurgeResponse, window), window);
        let early = (at(0.0), at(60.0));
        assert_eq!(open_span(&actions, Check::PurgeResponse, early), (at(0.0), at(17.0)));
    }
}
