use std::collections::BTreeMap;

use rust_decimal::{Decimal, RoundingStrategy};

use super::{GuessPart, GuessReport};
use crate::diagnosis::{Hypothesis, Verdict, VerdictOutcome, odds_of_codes};
use crate::store::RepairEntry;
use crate::units::Currency;
use crate::vehicle::Part;

/// A certain thing, in thousandths.
const CERTAIN: u32 = 1000;

/// What guessing would have cost. A person who guesses has the codes alone: buys the part that they
/// make likeliest, then the next, until the fault is gone. How soon that is, on average, say the
/// verdict's odds among the faults. `None` where the verdict points to no fault.
pub(super) fn guess(
    codes: &[String],
    verdict: &Verdict,
    repair: Option<&RepairEntry>,
) -> Option<GuessReport> {
    let order = order(codes, verdict)?;
    let prices = repair.map(|repair| prices(repair, verdict)).unwrap_or_default();
    let average = average_of_guessing(&order, &prices);
    let bought: Decimal = repair
        .iter()
        .flat_map(|it| &it.quotes)
        .filter(|quote| quote.chosen)
        .map(|quote| quote.amount)
        .sum();
    let saved = average.and_then(|average| average.checked_sub(bought));
    let currency = repair.and_then(|it| it.currency.parse().ok());
    let shown = |amount: Decimal| rounded(amount, currency).to_string();
    let parts = order.into_iter().map(|(part, per_mille)| GuessPart {
        part,
        per_mille,
        price: prices.get(&part).map(ToString::to_string),
    });
    Some(GuessReport {
        parts: parts.collect(),
        average: average.map(shown),
        saved: saved.filter(|_| bought > Decimal::ZERO).filter(|it| *it > Decimal::ZERO).map(shown),
    })
}

/// The average over the odds: each part counts by the chance that none before it ended the fault.
/// Exact; `None` while the price of a part that may be bought is missing.
pub fn average_of_guessing(
    order: &[(Part, u32)],
    prices: &BTreeMap<Part, Decimal>,
) -> Option<Decimal> {
    let mut left = CERTAIN;
    let mut sum = Decimal::ZERO;
    for (part, per_mille) in order {
        if left == 0 {
            break;
        }
        let price = prices.get(part)?;
        let share = price.checked_mul(Decimal::new(i64::from(left), 3))?;
        sum = sum.checked_add(share)?;
        left = left.saturating_sub(*per_mille);
    }
    (left < CERTAIN).then_some(sum)
}

/// An amount to the currency's smallest coin, as prices are rounded in shops.
pub(super) fn rounded(amount: Decimal, currency: Option<Currency>) -> Decimal {
    let decimals = currency.map_or(2, Currency::decimals);
    let mut rounded =
        amount.round_dp_with_strategy(decimals, RoundingStrategy::MidpointAwayFromZero);
    rounded.rescale(decimals);
    rounded
}

/// The parts in the order of buying, with the verdict's odds that each ends the fault.
fn order(codes: &[String], verdict: &Verdict) -> Option<Vec<(Part, u32)>> {
    if verdict.outcome == VerdictOutcome::NoFaultFound {
        return None;
    }
    let shares = by_part(&verdict.probabilities);
    let per_mille = thousandths(&shares)?;
    let told = by_part(&odds_of_codes(codes));
    let mut order: Vec<(Part, u32, f64)> = per_mille
        .into_iter()
        .map(|(part, count)| (part, count, told.get(&part).copied().unwrap_or_default()))
        .collect();
    order.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.0.cmp(&b.0)));
    Some(order.into_iter().map(|(part, count, _)| (part, count)).collect())
}

fn by_part(odds: &[(Hypothesis, f64)]) -> BTreeMap<Part, f64> {
    let mut shares: BTreeMap<Part, f64> = BTreeMap::new();
    for (hypothesis, odds) in odds {
        if let Hypothesis::Fault(fault) = hypothesis {
            *shares.entry(Part::of(*fault)).or_default() += odds;
        }
    }
    shares
}

/// Shares as whole thousandths that add up to exactly one thousand: the largest remainders get what
/// rounding down leaves. From here on money is computed without a binary fraction.
fn thousandths(shares: &BTreeMap<Part, f64>) -> Option<BTreeMap<Part, u32>> {
    let total: f64 = shares.values().sum();
    if !(total.is_finite() && total > 0.0) {
        return None;
    }
    let mut rows: Vec<(Part, u32, f64)> = shares
        .iter()
        .map(|(part, share)| {
            let exact = share / total * f64::from(CERTAIN);
            (*part, exact.floor() as u32, exact.fract())
        })
        .collect();
    rows.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.0.cmp(&b.0)));
    let given: u32 = rows.iter().map(|row| row.1).sum();
    let left = CERTAIN.saturating_sub(given) as usize;
    rows.iter_mut().take(left).for_each(|row| row.1 += 1);
    Some(rows.into_iter().map(|(part, count, _)| (part, count)).collect())
}

/// What each part costs: what the person wrote for it, and for the part of the verdict what was
/// paid for it.
fn prices(repair: &RepairEntry, verdict: &Verdict) -> BTreeMap<Part, Decimal> {
    let mut prices = repair.part_prices.clone();
    let bought = repair.quotes.iter().find(|quote| quote.chosen);
    if let (Some(fault), Some(bought)) = (verdict.fault, bought) {
        prices.insert(Part::of(fault), bought.amount);
    }
    prices
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use rust_decimal::Decimal;

    use super::{average_of_guessing, guess};
    use crate::diagnosis::{Hypothesis, Verdict, VerdictOutcome};
    use crate::store::{Quote, RepairEntry};
    use crate::vehicle::{Fault, Part};

    fn money(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    fn verdict(outcome: VerdictOutcome, odds: &[(Fault, f64)]) -> Verdict {
        let chance = |hypothesis| match hypothesis {
            Hypothesis::Fault(fault) => odds.iter().find(|it| it.0 == fault).map_or(0.0, |it| it.1),
            Hypothesis::None => 1.0 - odds.iter().map(|it| it.1).sum::<f64>(),
        };
        Verdict {
            outcome,
            fault: (outcome == VerdictOutcome::FaultFound).then(|| odds[0].0),
            also: None,
            probability: odds[0].1,
            probabilities: Hypothesis::all().map(|it| (it, chance(it))).collect(),
            weights: Vec::new(),
            next_check: None,
            smallest_leak_percent: None,
            smallest_leak_pa: None,
        }
    }

    fn repair() -> RepairEntry {
        RepairEntry {
            currency: "EUR".to_owned(),
            quotes: vec![Quote {
                seller: "Corner shop".to_owned(),
                note: String::new(),
                amount: money("64.90"),
                chosen: true,
            }],
            part_prices: [
                (Part::FuelCap, money("18.90")),
                (Part::VentValve, money("52.30")),
                (Part::TankSensor, money("71.10")),
            ]
            .into(),
            ..RepairEntry::default()
        }
    }

    #[test]
    fn each_part_counts_by_the_chance_that_none_before_ended_the_fault() {
        let order = [(Part::FuelCap, 200), (Part::PurgeValve, 700), (Part::VentValve, 100)];
        let prices: BTreeMap<Part, Decimal> = [
            (Part::FuelCap, money("18.90")),
            (Part::PurgeValve, money("64.90")),
            (Part::VentValve, money("52.30")),
        ]
        .into();
        // By hand: 18.90 + 0.8 · 64.90 + 0.1 · 52.30 = 18.90 + 51.92 + 5.23.
        assert_eq!(average_of_guessing(&order, &prices), Some(money("76.050")));
    }

    #[test]
    fn a_missing_price_is_unknown_unless_the_part_is_never_bought() {
        let prices: BTreeMap<Part, Decimal> = [(Part::FuelCap, money("18.90"))].into();
        let sure = [(Part::FuelCap, 1000), (Part::VentValve, 0)];
        assert_eq!(average_of_guessing(&sure, &prices), Some(money("18.900")));
        let open = [(Part::FuelCap, 999), (Part::VentValve, 1)];
        assert_eq!(average_of_guessing(&open, &prices), None);
        assert_eq!(average_of_guessing(&[], &prices), None);
    }

    #[test]
    fn who_guesses_goes_by_the_code_and_pays_by_the_verdict() {
        let found = verdict(VerdictOutcome::FaultFound, &[(Fault::PurgeValveLeaking, 0.98)]);
        // By hand, from the priors and factors of `diagnosis::prior`: purge valve 0.075 · 3 + 0.05 ·
        // 2, cap 0.019 · 10, sensor 3 · 0.03, vent valve 0.05.
        let report = guess(&["P0457".to_owned()], &found, Some(&repair())).unwrap();
        let parts: Vec<Part> = report.parts.iter().map(|it| it.part).collect();
        assert_eq!(parts, [Part::PurgeValve, Part::FuelCap, Part::TankSensor, Part::VentValve]);
        assert_eq!(report.average.as_deref(), Some("64.90"));
        assert_eq!(report.saved, None);
        // The code of the sensor sends them to the sensor, and the valve is bought second:
        // 71.10 + 64.90.
        let report = guess(&["P0452".to_owned()], &found, Some(&repair())).unwrap();
        assert_eq!(report.parts[0].part, Part::TankSensor);
        assert_eq!(report.average.as_deref(), Some("136.00"));
        assert_eq!(report.saved.as_deref(), Some("71.10"));
    }

    #[test]
    fn a_sound_car_and_unknown_prices_give_no_amount() {
        let sound = verdict(VerdictOutcome::NoFaultFound, &[(Fault::VaporLeak, 0.01)]);
        assert_eq!(guess(&[], &sound, Some(&repair())), None);
        let open = verdict(VerdictOutcome::Inconclusive, &[(Fault::VaporLeak, 0.6)]);
        let report = guess(&[], &open, None).unwrap();
        assert_eq!((report.parts.len(), report.average), (4, None));
    }

    #[test]
    fn thousandths_add_up_to_one() {
        for third in [0.1, 0.2, 1.0 / 3.0, 0.3217] {
            let odds = [
                (Fault::PurgeValveLeaking, third),
                (Fault::VentPathRestricted, third),
                (Fault::VaporLeak, third * 0.7),
            ];
            let open = verdict(VerdictOutcome::Inconclusive, &odds);
            let report = guess(&[], &open, None).unwrap();
            assert_eq!(report.parts.iter().map(|it| it.per_mille).sum::<u32>(), 1000);
        }
    }
}
