use std::collections::BTreeMap;

use rust_decimal::Decimal;
use slint::{ComponentHandle, Model, ModelRc, VecModel};

use super::markup::{AppWindow, CostItem, PartItem, RepairAdapter};
use super::repair_adapter::{amount, written};
use super::session::Known;
use crate::jobs::{ToolReport, VisitCard, average_of_guessing};
use crate::vehicle::Part;
use crate::wording::{Language, Style, money, part_title, percent};

/// Shows the parts that a person who guesses would buy, but for the one behind the verdict, with
/// the prices kept. Prices that are being written stay.
pub(super) fn show_parts(adapter: &RepairAdapter<'_>, card: &VisitCard, style: &Style) {
    let verdict = card.verdict.as_ref();
    let own = verdict.and_then(|verdict| verdict.fault).map(Part::of);
    let kept = card.repair.as_ref().map(|repair| &repair.draft.part_prices);
    let written: BTreeMap<String, String> =
        adapter.get_parts().iter().map(|it| (it.key.into(), it.price.into())).collect();
    let parts = card.guess.iter().flat_map(|guess| &guess.parts);
    let items: Vec<PartItem> = parts
        .filter(|it| Some(it.part) != own)
        .map(|it| {
            let price = match kept {
                Some(kept) => kept.get(&it.part),
                None => written.get(it.part.name()),
            };
            PartItem {
                key: it.part.name().into(),
                name: part_title(it.part, style.language).into(),
                price: price.map(|it| money(it, style.language)).unwrap_or_default().into(),
            }
        })
        .collect();
    adapter.set_parts(ModelRc::new(VecModel::from(items)));
    adapter.set_guess_note(order_words(card, style).into());
}

/// In which order parts are bought by guess, and how likely each ends the fault.
fn order_words(card: &VisitCard, style: &Style) -> String {
    let parts = card.guess.iter().flat_map(|guess| &guess.parts);
    let named: Vec<String> = parts
        .map(|it| {
            let chance = percent(f64::from(it.per_mille) / 1000.0, style.language);
            format!("{} ({chance})", part_title(it.part, style.language))
        })
        .collect();
    let list = named.join(", ");
    match style.language {
        Language::English => format!(
            "Who guesses buys by the codes until the fault is gone: {list}. The share says how likely each ends it."
        ),
        Language::German => format!(
            "Wer rät, kauft nach den Codes, bis der Fehler weg ist: {list}. Der Anteil sagt, wie wahrscheinlich das Teil ihn beendet."
        ),
    }
}

/// The prices as written, those that are amounts.
pub(super) fn part_prices(adapter: &RepairAdapter<'_>) -> BTreeMap<Part, Decimal> {
    let priced = |it: PartItem| Some((Part::from_name(&it.key)?, amount(&it.price)?));
    adapter.get_parts().iter().filter_map(priced).collect()
}

/// The first price that is no amount.
pub(super) fn wrong_price(adapter: &RepairAdapter<'_>) -> Option<slint::SharedString> {
    let parts = adapter.get_parts();
    parts.iter().map(|it| it.price).find(|it| !it.trim().is_empty() && amount(it).is_none())
}

/// Shows what guessing would have cost, and how much of the adapter is paid back; `bought` is what
/// the part behind the verdict cost.
pub(super) fn show(window: &AppWindow, known: &Known, bought: Option<Decimal>) {
    let Some(card) = &known.card else { return };
    let (adapter, style) = (window.global::<RepairAdapter>(), &known.style);
    let mut prices = part_prices(&adapter);
    let own = card.verdict.as_ref().and_then(|verdict| verdict.fault).map(Part::of);
    if let (Some(own), Some(bought)) = (own, bought) {
        prices.insert(own, bought);
    }
    let order: Vec<(Part, u32)> = card
        .guess
        .iter()
        .flat_map(|guess| &guess.parts)
        .map(|it| (it.part, it.per_mille))
        .collect();
    let average = average_of_guessing(&order, &prices);
    let text = style.of("Guessing, on average", "Raten, im Mittel");
    let told = |value: Decimal| money(&written(value.round_dp(2)), style.language);
    let guessed = average.map_or_else(|| "–".to_owned(), told);
    let lines = if order.is_empty() {
        Vec::new()
    } else {
        vec![CostItem { text: text.into(), amount: guessed.into() }]
    };
    adapter.set_guess(ModelRc::new(VecModel::from(lines)));
    let saved = average.zip(bought).map(|(average, bought)| average - bought);
    let saved = saved.filter(|saved| *saved > Decimal::ZERO);
    let saved = saved.map(told);
    adapter.set_guess_saved(saved.unwrap_or_default().into());
    let tool = card.tool.as_ref().map(|tool| tool_words(tool, style));
    adapter.set_tool(tool.unwrap_or_default().into());
}

/// How much of the adapter is paid back, in one sentence.
pub(super) fn tool_words(tool: &ToolReport, style: &Style) -> String {
    let told = |amount: &String| money(amount, style.language);
    let ToolReport { currency, .. } = tool;
    let (cost, saved) = (told(&tool.cost), told(&tool.saved));
    match (tool.left.as_ref().map(told), style.language) {
        (Some(left), Language::English) => format!(
            "The adapter cost {cost} {currency}; diagnoses saved {saved} so far, {left} to go."
        ),
        (Some(left), Language::German) => format!(
            "Der Adapter kostete {cost} {currency}; Diagnosen sparten bisher {saved}, {left} fehlen noch."
        ),
        (None, Language::English) => format!(
            "The adapter cost {cost} {currency} and is paid back: diagnoses saved {saved} so far."
        ),
        (None, Language::German) => format!(
            "Der Adapter kostete {cost} {currency} und ist bezahlt: Diagnosen sparten bisher {saved}."
        ),
    }
}
