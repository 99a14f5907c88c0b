use crate::evidence::Check;
use crate::report::chart::{Overlay, overlay};
use crate::report::document::{Block, Figure, Table};
use crate::vehicle::Signal;
use crate::wording::{Language, Style, pressure_value, proof_caption, signal_name};

/// Points of a trace: seconds after the deed, tank pressure, Pa.
type Points<'a> = &'a [(f64, f64)];

/// An earlier trace under a later one, on one scale; `None` where one of them is empty.
pub(super) fn figure(
    (before, after): (Points, Points),
    (before_word, after_word): (&str, &str),
    deeds: (Check, Check),
    limit_pa: Option<f64>,
    alternative: String,
    style: &Style,
) -> Option<Block> {
    let language = style.language;
    let limit_pa = limit_pa.filter(|limit| has_rails(deeds) && limit.is_finite());
    let label = signal_name(Signal::TankPressure, language);
    let drawing =
        overlay(&Overlay { before, after, limit_pa, before_word, after_word, label, style })?;
    let mut caption = proof_caption(deeds, language).to_owned();
    if let Some(limit) = limit_pa {
        let limit = pressure_value(limit.abs(), style);
        caption = match language {
            Language::English => {
                format!("{caption} Still means within ±{limit}, between the rails.")
            }
            Language::German => {
                format!("{caption} Still heißt innerhalb ±{limit}, zwischen den Linien.")
            }
        };
    }
    Some(Block::Figure(Figure { drawing, caption, alternative }))
}

/// Whether the tank must stay between rails after these deeds: nothing may pull on it.
fn has_rails(deeds: (Check, Check)) -> bool {
    let still = [Check::ThrottleFollow, Check::IdleZero];
    still.contains(&deeds.0) && still.contains(&deeds.1)
}

/// Numbers side by side: what was measured, before, after, and what it must be. `None` without rows.
pub(super) fn table(
    (before, after): (&str, &str),
    rows: Vec<Vec<String>>,
    language: Language,
) -> Option<Block> {
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            head: vec![
                language.of("Measured", "Gemessen").to_owned(),
                before.to_owned(),
                after.to_owned(),
                language.of("Must be", "Muss sein").to_owned(),
            ],
            rows,
            widths: vec![0.28, 0.29, 0.28, 0.15],
            right: vec![false, true, true, true],
        })
    })
}
