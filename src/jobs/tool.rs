use std::str::FromStr;

use rust_decimal::Decimal;

use super::guess::rounded;
use super::{JobError, ToolReport};
use crate::store::Store;

/// Setting: what the adapter cost, an exact decimal as text.
pub const TOOL_COST: &str = "tool_cost";

/// Setting: the ISO 4217 code of that amount.
pub const TOOL_CURRENCY: &str = "tool_currency";

/// How much of what the adapter cost has been saved back: what every repair saved against a shop's
/// diagnosis, in the same currency. `None` where nobody said what it cost.
pub(super) fn tool(store: &Store) -> Result<Option<ToolReport>, JobError> {
    let cost = store.setting(TOOL_COST)?.unwrap_or_default().replace(',', ".");
    let Ok(cost) = Decimal::from_str(cost.trim()) else { return Ok(None) };
    if cost <= Decimal::ZERO {
        return Ok(None);
    }
    let currency = store.setting(TOOL_CURRENCY)?.unwrap_or_default();
    let sums = store.diagnosis_saved()?;
    let sum = sums.get(&currency).copied().unwrap_or_default();
    let coin = currency.parse().ok();
    let left = cost.checked_sub(sum.amount).filter(|left| *left > Decimal::ZERO);
    Ok(Some(ToolReport {
        cost: rounded(cost, coin).to_string(),
        saved: rounded(sum.amount, coin).to_string(),
        left: left.map(|left| rounded(left, coin).to_string()),
        currency,
        repairs: sum.repairs,
    }))
}

#[cfg(test)]
mod tests {
    use chrono::DateTime;

    use super::{TOOL_COST, TOOL_CURRENCY, tool};
    use crate::store::{NewVehicle, RepairEntry, Store};

    #[test]
    fn what_repairs_of_real_cars_saved_in_the_same_currency_pays_the_adapter() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::open(&folder.path().join("garage.db")).unwrap();
        let now = DateTime::UNIX_EPOCH;
        assert_eq!(tool(&store).unwrap(), None);
        store.set_setting(TOOL_COST, "49,90").unwrap();
        store.set_setting(TOOL_CURRENCY, "EUR").unwrap();
        for (is_virtual, currency, shop, own) in [
            (false, "EUR", Some("30.10"), Some("0.20")),
            (false, "EUR", None, Some("5.00")),
            (false, "USD", Some("900.00"), None),
            (true, "EUR", Some("500.00"), None),
        ] {
            let vehicle = NewVehicle { is_virtual, ..NewVehicle::default() };
            let vehicle = store.add_vehicle(&vehicle, now).unwrap();
            let visit = store.start_visit(vehicle, now).unwrap();
            let repair = RepairEntry {
                currency: currency.to_owned(),
                shop_diagnosis: shop.map(|it| it.parse().unwrap()),
                diagnosis: own.map(|it| it.parse().unwrap()),
                ..RepairEntry::default()
            };
            store.add_repair(visit, &repair, now).unwrap();
        }
        let report = tool(&store).unwrap().unwrap();
        assert_eq!((report.cost.as_str(), report.saved.as_str()), ("49.90", "29.90"));
        assert_eq!((report.left.as_deref(), report.repairs), (Some("20.00"), 1));
        store.set_setting(TOOL_COST, "29.90").unwrap();
        assert_eq!(tool(&store).unwrap().unwrap().left, None);
        store.set_setting(TOOL_COST, "much").unwrap();
        assert_eq!(tool(&store).unwrap(), None);
    }
}
