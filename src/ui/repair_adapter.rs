use std::rc::Rc;

use rust_decimal::Decimal;
use slint::{ComponentHandle, Model, ModelRc, SharedString, VecModel};

use super::markup::{
    AppWindow, CostItem, HelpItem, Navigation, Page, PartItem, QuoteItem, RepairAdapter,
    SettingsAdapter,
};
use super::repair_savings::{self, part_prices, wrong_price};
use super::session::{Known, Session};
use crate::jobs::{Command, Quote, RepairDraft, VisitCard};
use crate::vehicle::Part;
use crate::wording::{Language, Style, caution, money, part_title, repair_help};

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<RepairAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_chosen(move |index| {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<RepairAdapter>();
        let place = usize::try_from(index).unwrap_or(usize::MAX);
        let quotes: Vec<QuoteItem> = adapter
            .get_quotes()
            .iter()
            .enumerate()
            .map(|(at, quote)| QuoteItem { chosen: at == place, ..quote })
            .collect();
        adapter.set_quotes(ModelRc::new(VecModel::from(quotes)));
        show_sum(&window, &session.known());
    });
    let to = Rc::downgrade(session);
    adapter.on_quoted(move || {
        if let Some(session) = to.upgrade() {
            add_quote(&session);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_edited(move || {
        let Some(session) = to.upgrade() else { return };
        if let Some(window) = session.window() {
            show_sum(&window, &session.known());
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_part_priced(move |index, text| {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let parts = window.global::<RepairAdapter>().get_parts();
        let place = usize::try_from(index).unwrap_or(usize::MAX);
        if let Some(item) = parts.row_data(place) {
            parts.set_row_data(place, PartItem { price: text, ..item });
            show_sum(&window, &session.known());
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_saved_pressed(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        if wrong_amount(&window).is_none() {
            let draft = draft(&window, &session.known().currency);
            session.send(Command::SaveRepair(draft));
            window.global::<Navigation>().invoke_go(Page::Visit);
        }
    });
}

fn add_quote(session: &Session) {
    let Some(window) = session.window() else { return };
    let adapter = window.global::<RepairAdapter>();
    let seller = adapter.get_new_seller().trim().to_owned();
    let amount = amount(&adapter.get_new_amount());
    let (Some(amount), false) = (amount, seller.is_empty()) else {
        let problem = session.known().style.of(
            "A seller and a price, such as 38.50, are needed.",
            "Es braucht einen Verkäufer und einen Preis wie 38,50.",
        );
        adapter.set_problem(problem.into());
        return;
    };
    let mut quotes: Vec<QuoteItem> = adapter.get_quotes().iter().collect();
    let chosen = !quotes.iter().any(|quote| quote.chosen);
    quotes.push(QuoteItem {
        seller: seller.into(),
        note: adapter.get_new_note().trim().into(),
        amount: money(&written(amount), session.known().style.language).into(),
        chosen,
    });
    adapter.set_quotes(ModelRc::new(VecModel::from(quotes)));
    adapter.set_new_seller(SharedString::new());
    adapter.set_new_amount(SharedString::new());
    adapter.set_new_note(SharedString::new());
    adapter.set_adding(false);
    show_sum(&window, &session.known());
}

/// An amount as people write it: point or comma before the cents.
pub(super) fn amount(text: &str) -> Option<Decimal> {
    let text = text.trim().replace(',', ".");
    let amount = text.parse::<Decimal>().ok()?;
    (amount >= Decimal::ZERO && amount.scale() <= 3).then_some(amount)
}

pub(super) fn written(amount: Decimal) -> String {
    let amount = if amount.scale() < 2 { with_cents(amount) } else { amount };
    amount.to_string()
}

fn with_cents(mut amount: Decimal) -> Decimal {
    amount.rescale(2);
    amount
}

/// The first field that holds something other than an amount.
fn wrong_amount(window: &AppWindow) -> Option<SharedString> {
    let adapter = window.global::<RepairAdapter>();
    let fields = [
        adapter.get_labour(),
        adapter.get_extra(),
        adapter.get_tax(),
        adapter.get_shop_diagnosis(),
    ];
    let wrong = fields.into_iter().find(|text| !text.trim().is_empty() && amount(text).is_none());
    wrong.or_else(|| wrong_price(&adapter))
}

fn draft(window: &AppWindow, currency: &str) -> RepairDraft {
    let adapter = window.global::<RepairAdapter>();
    let exact = |text: SharedString| amount(&text).map(written).unwrap_or_default();
    RepairDraft {
        part: adapter.get_part().trim().to_owned(),
        quotes: adapter
            .get_quotes()
            .iter()
            .map(|quote| Quote {
                seller: quote.seller.to_string(),
                note: quote.note.to_string(),
                amount: exact(quote.amount),
                chosen: quote.chosen,
            })
            .collect(),
        currency: currency.to_owned(),
        labour: exact(adapter.get_labour()),
        diagnosis: exact(adapter.get_extra()),
        shop_diagnosis: exact(adapter.get_shop_diagnosis()),
        tax: exact(adapter.get_tax()),
        part_prices: part_prices(&adapter)
            .iter()
            .map(|(it, price)| (*it, written(*price)))
            .collect(),
        notes: adapter.get_notes().trim().to_owned(),
    }
}

/// Fills the page from the card, when another visit's repair is shown.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let (adapter, style) = (window.global::<RepairAdapter>(), &known.style);
    let note = match style.language {
        Language::English => format!("{}, visit {}", card.vehicle.name, card.number),
        Language::German => format!("{}, Besuch {}", card.vehicle.name, card.number),
    };
    adapter.set_note(note.into());
    adapter.set_virtual_car(card.vehicle.is_virtual);
    if let Some(repair) = &card.repair {
        fill(&adapter, &repair.draft, style.language);
    } else if adapter.get_part().is_empty() {
        adapter.set_part(part(card, style).into());
        // An hour of a shop is what its diagnosis takes at least (common practice, no source).
        adapter.set_shop_diagnosis(window.global::<SettingsAdapter>().get_labour_rate());
    }
    let photos = card.photos.len();
    adapter.set_photos(if photos == 0 { String::new() } else { photos.to_string() }.into());
    repair_savings::show_parts(&adapter, card, style);
    show_help(&adapter, card, style);
    show_sum(window, known);
}

/// Empties the page for another visit.
pub(super) fn clear(window: &AppWindow) {
    let adapter = window.global::<RepairAdapter>();
    fill(&adapter, &RepairDraft::default(), Language::default());
    adapter.set_adding(false);
    adapter.set_help_open(false);
}

fn fill(adapter: &RepairAdapter<'_>, draft: &RepairDraft, language: Language) {
    let shown = |amount: &str| SharedString::from(money(amount, language));
    adapter.set_part(draft.part.as_str().into());
    let quotes: Vec<QuoteItem> = draft
        .quotes
        .iter()
        .map(|quote| QuoteItem {
            seller: quote.seller.as_str().into(),
            note: quote.note.as_str().into(),
            amount: shown(&quote.amount),
            chosen: quote.chosen,
        })
        .collect();
    adapter.set_quotes(ModelRc::new(VecModel::from(quotes)));
    adapter.set_labour(shown(&draft.labour));
    adapter.set_extra(shown(&draft.diagnosis));
    adapter.set_shop_diagnosis(shown(&draft.shop_diagnosis));
    adapter.set_tax(shown(&draft.tax));
    adapter.set_notes(draft.notes.as_str().into());
}

fn show_help(adapter: &RepairAdapter<'_>, card: &VisitCard, style: &Style) {
    let fault = card.verdict.as_ref().and_then(|verdict| verdict.fault);
    let help = fault.map(|fault| repair_help(fault, style.language));
    adapter.set_help_first(help.as_ref().map_or("", |help| help.first).into());
    let steps: Vec<HelpItem> = help
        .iter()
        .flat_map(|help| &help.steps)
        .map(|step| HelpItem {
            caution: step
                .cautions
                .iter()
                .map(|hazard| caution(*hazard, style.language).0)
                .collect::<Vec<_>>()
                .join(" ")
                .into(),
            title: step.title.into(),
            text: step.text.into(),
        })
        .collect();
    adapter.set_help(ModelRc::new(VecModel::from(steps)));
}

/// The part behind the verdict.
fn part(card: &VisitCard, style: &Style) -> &'static str {
    let fault = card.verdict.as_ref().and_then(|verdict| verdict.fault);
    fault.map_or("", |fault| part_title(Part::of(fault), style.language))
}

/// What was paid, exact decimals.
fn show_sum(window: &AppWindow, known: &Known) {
    let (adapter, style) = (window.global::<RepairAdapter>(), &known.style);
    let part = adapter.get_part();
    let head = match (part.is_empty(), style.language) {
        (true, _) => style.of("What was done?", "Was wurde gemacht?").to_owned(),
        (false, Language::English) => format!("{part}, replaced"),
        (false, Language::German) => format!("{part}, erneuert"),
    };
    adapter.set_head(head.into());
    let shown = |value: Decimal| money(&written(value), style.language);
    let currency = &known.currency;
    let words = style.of("Prices asked, {}", "Preise, {}").replace("{}", currency);
    adapter.set_currency_words(words.into());
    let bought = adapter.get_quotes().iter().find(|quote| quote.chosen);
    let mut lines: Vec<(String, Decimal)> = Vec::new();
    let price = bought.as_ref().and_then(|quote| Some((quote, amount(&quote.amount)?)));
    if let Some((quote, price)) = price {
        lines.push((format!("{part}, {}", quote.seller), price));
    }
    let fields = [
        (style.of("Labour", "Arbeit"), adapter.get_labour()),
        (style.of("Diagnosis, own", "Eigene Diagnose"), adapter.get_extra()),
        (style.of("Tax and fees", "Steuern und Gebühren"), adapter.get_tax()),
    ];
    for (name, text) in fields {
        if let Some(value) = amount(&text) {
            lines.push((name.to_owned(), value));
        }
    }
    let total: Decimal = lines.iter().map(|(_, value)| *value).sum();
    let items: Vec<CostItem> = lines
        .iter()
        .map(|(text, value)| CostItem { text: text.as_str().into(), amount: shown(*value).into() })
        .collect();
    adapter.set_paid(ModelRc::new(VecModel::from(items)));
    adapter.set_total(shown(total).into());
    let shop = amount(&adapter.get_shop_diagnosis());
    let own = amount(&adapter.get_extra()).unwrap_or_default();
    let shop_lines: Vec<CostItem> = shop
        .iter()
        .map(|value| CostItem {
            text: style.of("A shop’s diagnosis", "Werkstattdiagnose").into(),
            amount: shown(*value).into(),
        })
        .collect();
    adapter.set_shop(ModelRc::new(VecModel::from(shop_lines)));
    let saved = shop.map(|shop| shop - own).filter(|saved| *saved > Decimal::ZERO);
    adapter.set_saved(saved.map(shown).unwrap_or_default().into());
    repair_savings::show(window, known, price.as_ref().map(|(_, price)| *price));
    let problem = wrong_amount(window).map(|text| {
        style.of("“{}” is not an amount.", "„{}“ ist kein Betrag.").replace("{}", &text)
    });
    adapter.set_problem(problem.unwrap_or_default().into());
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_amount_is_shown_as_the_language_writes_it_and_read_back_the_same() {
        for (language, text) in [(Language::English, "1234.50"), (Language::German, "1234,50")] {
            assert_eq!(money("1234.50", language), text);
            assert_eq!(amount(text).map(written).as_deref(), Some("1234.50"));
        }
    }

    #[test]
    fn amounts_are_exact_and_take_comma_or_point() {
        assert_eq!(amount("38,50").map(written).as_deref(), Some("38.50"));
        assert_eq!(amount(" 7 ").map(written).as_deref(), Some("7.00"));
        assert_eq!(
            amount("0.1").zip(amount("0.2")).map(|(a, b)| written(a + b)).as_deref(),
            Some("0.30")
        );
        assert_eq!(amount("-3"), None);
        assert_eq!(amount("about 5"), None);
    }
}
