use chrono::{DateTime, TimeDelta, Utc};
use rust_decimal::Decimal;

use super::{FillUpDraft, JobError, Workshop, repair};
use crate::recording::Action;
use crate::store::{FillUp, VehicleId};
use crate::units::{Currency, Money};

/// A fill-up that the person noted and the one that a check saw are one, if they are this close.
const SAME: TimeDelta = TimeDelta::hours(12);

impl Workshop {
    /// Notes that a tank was filled now.
    pub(super) fn add_fill_up(
        &mut self,
        vehicle: VehicleId,
        draft: &FillUpDraft,
    ) -> Result<(), JobError> {
        let fill_up = fill_up(draft, self.date())?;
        self.store.add_fill_up(vehicle, &fill_up)?;
        self.show_vehicle(vehicle)
    }

    /// After the check that looks at a fill-up: the fill-up stands on the vehicle's page, and what
    /// was planned for it is done.
    pub(super) fn note_fill_up(&mut self) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        if visit.recording.last_action(Action::Refuelled).is_none() {
            return Ok(());
        }
        let vehicle = visit.record.vehicle.id;
        let known = store.list_fill_ups(vehicle)?;
        if !known.iter().any(|(_, it)| (it.filled - date).abs() < SAME) {
            let fill_up =
                FillUp { filled: date, odometer_km: visit.record.odometer_km, ..FillUp::default() };
            store.add_fill_up(vehicle, &fill_up)?;
        }
        for planned in store.open_follow_ups()? {
            if planned.vehicle == vehicle {
                store.finish_follow_up(planned.id, date)?;
            }
        }
        visit.record.follow_up = store.load_visit(visit.id())?.follow_up;
        Ok(())
    }
}

/// What the person noted, with its numbers exact.
///
/// # Errors
/// [`JobError::NotAnAmount`] with the text that is no amount.
pub(super) fn fill_up(draft: &FillUpDraft, filled: DateTime<Utc>) -> Result<FillUp, JobError> {
    let not_an_amount = |text: &str| JobError::NotAnAmount { text: text.trim().to_owned() };
    let positive = |text: &str| match repair::amount(text)? {
        Some(amount) if amount.is_sign_negative() => Err(not_an_amount(text)),
        amount => Ok(amount),
    };
    let odometer = draft.odometer_km.trim();
    let cost = paid(&draft.cost, &draft.currency)?;
    Ok(FillUp {
        filled,
        litre: positive(&draft.litre)?,
        currency: cost.map(|cost| cost.currency().code().to_owned()).unwrap_or_default(),
        cost: cost.map(Money::amount),
        odometer_km: match odometer {
            "" => None,
            text => Some(text.parse().map_err(|_| not_an_amount(text))?),
        },
        note: draft.note.trim().to_owned(),
    })
}

/// An amount that was paid, with the currency's own decimals and no less than nothing.
fn paid(text: &str, currency: &str) -> Result<Option<Money>, JobError> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    let not_an_amount = || JobError::NotAnAmount { text: format!("{text} {currency}") };
    let currency: Currency = currency.trim().parse().map_err(|_| not_an_amount())?;
    let paid = Money::parse(text, currency).map_err(|_| not_an_amount())?;
    if paid.amount() < Decimal::ZERO { Err(not_an_amount()) } else { Ok(Some(paid)) }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use super::*;
    use crate::evidence::{Check, MeasureName};
    use crate::jobs::{Command, Event, FillUpRow, LinkAddress, VehiclePage};
    use crate::vehicle::Fault;
    use crate::wording::Style;

    fn page(workshop: &Workshop, vehicle: VehicleId) -> VehiclePage {
        crate::jobs::card::vehicle_page(&workshop.store, vehicle).unwrap()
    }

    #[test]
    fn a_fill_up_is_noted_with_what_is_known_of_it() {
        let folder = tempfile::tempdir().unwrap();
        let (events, heard) = channel();
        let mut workshop =
            Workshop::open(&folder.path().join("a.db"), Style::default(), events).unwrap();
        let name = "Blue estate".to_owned();
        let add = Command::AddVehicle { name, vin: String::new(), notes: String::new() };
        workshop.attempt(add).unwrap();
        let add = |litre: &str, cost: &str| Command::AddFillUp {
            vehicle: 1,
            fill_up: FillUpDraft {
                litre: litre.to_owned(),
                cost: cost.to_owned(),
                currency: "eur".to_owned(),
                odometer_km: "87412".to_owned(),
                note: " rough for a minute ".to_owned(),
            },
        };
        workshop.attempt(add("38,2", "67,1")).unwrap();
        workshop.attempt(add("", "")).unwrap();
        for (litre, cost) in [("much", ""), ("-3", ""), ("3", "-1"), ("3", "1.999"), ("3", "all")] {
            assert!(workshop.attempt(add(litre, cost)).is_err(), "{litre} {cost}");
        }
        let shown = heard.try_iter().filter(|it| matches!(it, Event::Vehicle(_))).count();
        assert!(shown >= 2, "{shown}");
        let rows = page(&workshop, VehicleId(1)).fill_ups;
        let litres: Vec<Option<&str>> = rows.iter().map(|it| it.litre.as_deref()).collect();
        assert_eq!(litres, [None, Some("38.2")]);
        assert_eq!(rows[1].note, "rough for a minute");
        let cost = |row: &FillUpRow| row.cost.clone();
        let paid = Some(("67.10".to_owned(), "EUR".to_owned()));
        assert_eq!((cost(&rows[0]), cost(&rows[1])), (None, paid), "unknown is not zero");
        assert_eq!(rows[1].odometer_km, Some(87_412));
        assert_eq!(rows[1].trim, None, "nobody looked");
    }

    /// The whole recheck with the virtual car: a measure before, the tank filled, a look after.
    #[test]
    fn a_recheck_measures_before_and_after_and_ends_what_was_planned() {
        for (fault, rich) in [(Some(Fault::PurgeValveLeaking), true), (None, false)] {
            let folder = tempfile::tempdir().unwrap();
            let (events, _heard) = channel();
            let mut workshop =
                Workshop::open(&folder.path().join("a.db"), Style::default(), events).unwrap();
            let name = "Blue estate".to_owned();
            let add = Command::AddVehicle { name, vin: String::new(), notes: String::new() };
            workshop.attempt(add).unwrap();
            workshop.attempt(Command::StartVisit { vehicle: 1 }).unwrap();
            let link = LinkAddress::Virtual { fault, seed: 3, real_time: false };
            workshop.attempt(Command::Connect(link)).unwrap();
            workshop.attempt(Command::PlanFollowUp { days: 7 }).unwrap();
            assert!(page(&workshop, VehicleId(1)).vehicle.follow_up.is_some());
            workshop.attempt(Command::StartCheck(Check::AfterFillUp)).unwrap();
            for _ in 0..20_000 {
                if workshop.running.is_none() {
                    break;
                }
                workshop.turn();
            }
            assert!(workshop.running.is_none(), "the check ends");
            let visit = workshop.visit.as_ref().unwrap();
            let filled = visit.recording.actions().iter().find(|it| it.action == Action::Refuelled);
            assert!(filled.is_some_and(|it| it.at.seconds() > 45.0), "measured before");
            let findings = &visit.judgement.findings;
            let trim = findings.measure(Check::AfterFillUp, MeasureName::TrimExcursion);
            let trim = trim.unwrap_or_else(|| panic!("{:?}", visit.result(Check::AfterFillUp)));
            assert_eq!(trim.value < -6.0, rich, "{trim:?}");
            let page = page(&workshop, VehicleId(1));
            assert_eq!(page.fill_ups.len(), 1);
            assert_eq!(page.fill_ups[0].trim.map(|it| it.value), Some(trim.value));
            assert_eq!(page.vehicle.follow_up, None, "done");
        }
    }
}
