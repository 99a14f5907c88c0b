use super::Fleet;
use crate::evidence::Outcome;
use crate::report::csv::cell;
use crate::report::error::ReportError;
use crate::report::visit::masked;

/// The fleet's numbers, one row a vehicle. SI units and stable names; bounds hold 95 %.
///
/// # Errors
/// When a row cannot be written.
pub fn fleet_csv(fleet: &Fleet) -> Result<Vec<u8>, ReportError> {
    let mut rows = ::csv::Writer::from_writer(Vec::new());
    rows.write_record([
        "vehicle",
        "vin",
        "is_virtual",
        "visits",
        "last_visit",
        "verdict",
        "fault",
        "probability",
        "codes",
        "vacuum_with_purge_shut_pa",
        "low",
        "high",
        "band_pa",
        "repairs",
        "cost",
        "currency",
        "follow_up",
        "repair_proof",
    ])?;
    for vehicle in &fleet.vehicles {
        let vin = vehicle
            .vin
            .as_deref()
            .map(|vin| if fleet.private { masked(vin) } else { vin.to_owned() });
        let number = |value: Option<f64>| {
            value.filter(|value| value.is_finite()).map_or_else(String::new, |v| v.to_string())
        };
        let vacuum = vehicle.shut_vacuum;
        let (currencies, costs): (Vec<_>, Vec<_>) = vehicle.costs.iter().cloned().unzip();
        let outcome = vehicle.verdict.map_or("", |(outcome, _, _)| outcome.name());
        let fault = vehicle.verdict.and_then(|(_, fault, _)| fault);
        rows.write_record([
            cell(&vehicle.name),
            cell(&vin.unwrap_or_default()),
            vehicle.is_virtual.to_string(),
            vehicle.visits.to_string(),
            vehicle.last_visit.map_or_else(String::new, |at| at.to_rfc3339()),
            outcome.to_owned(),
            fault.map_or("", crate::vehicle::Fault::name).to_owned(),
            number(vehicle.verdict.map(|(_, _, probability)| probability)),
            cell(&vehicle.codes.join(" ")),
            number(vacuum.map(|it| it.value)),
            number(vacuum.map(|it| it.low)),
            number(vacuum.map(|it| it.high)),
            number(vehicle.band),
            cell(&vehicle.repairs.join("; ")),
            costs.join("; "),
            cell(&currencies.join("; ")),
            vehicle.follow_up.map_or_else(String::new, |at| at.to_rfc3339()),
            vehicle.proof.map_or("", Outcome::name).to_owned(),
        ])?;
    }
    rows.into_inner().map_err(|error| ReportError::Csv(error.into_error().into()))
}
