use super::error::ReportError;
use super::visit::Visit;
use crate::units::Estimate;

/// The visit's numbers as rows: `section,name,outcome,value,low,high,unit,text`. SI units and
/// stable names, whatever language and units the person reads; bounds hold 95 %.
///
/// # Errors
/// When a row cannot be written.
pub fn csv(visit: &Visit) -> Result<Vec<u8>, ReportError> {
    let mut rows = Rows(::csv::Writer::from_writer(Vec::new()));
    rows.write(["section", "name", "outcome", "value", "low", "high", "unit", "text"])?;
    rows.text("visit", "vehicle", &visit.shown_text(&visit.vehicle.name))?;
    rows.text("visit", "vin", &visit.shown_vin().unwrap_or_default())?;
    rows.text("visit", "is_virtual", if visit.vehicle.is_virtual { "true" } else { "false" })?;
    rows.text("visit", "number", &visit.number.to_string())?;
    rows.text("visit", "started", &visit.started.to_rfc3339())?;
    if let Some(km) = visit.vehicle.odometer_km {
        rows.write(["visit", "odometer", "", &km.to_string(), "", "", "km", ""])?;
    }
    if let Some(verdict) = &visit.verdict {
        let fault = verdict.fault.map_or("", |fault| fault.name());
        let probability = verdict.probability.to_string();
        rows.write(["verdict", fault, verdict.outcome.name(), &probability, "", "", "", ""])?;
        for (hypothesis, share) in &verdict.probabilities {
            let share = share.to_string();
            rows.write(["probability", hypothesis.name(), "", &share, "", "", "", ""])?;
        }
        for (name, unit, value) in [
            ("smallest_leak_percent", "%", verdict.smallest_leak_percent),
            ("smallest_leak_pa", "Pa", verdict.smallest_leak_pa),
        ] {
            if let Some(value) = value {
                rows.write(["verdict", name, "", &value.to_string(), "", "", unit, ""])?;
            }
        }
    }
    for record in &visit.checks {
        let result = &record.result;
        let check = result.check.name();
        rows.write([check, "", result.outcome.name(), "", "", "", "", ""])?;
        for measure in &result.measures {
            rows.estimate(check, measure.name.name(), &measure.estimate, measure.name.unit())?;
        }
    }
    if let Some(proof) = &visit.proof {
        rows.write(["proof", "", proof.result.outcome.name(), "", "", "", "", ""])?;
        rows.write(["proof", "limit", "", &proof.limit_pa.to_string(), "", "", "Pa", ""])?;
        if let Some((before, after)) = &proof.shut_vacuum {
            rows.estimate("proof", "before", before, "Pa")?;
            rows.estimate("proof", "after", after, "Pa")?;
        }
        for number in &proof.numbers {
            let (name, unit) = (number.name.name(), number.name.unit());
            if let Some(before) = &number.before {
                rows.estimate("proof_before", name, before, unit)?;
            }
            rows.estimate("proof_after", name, &number.after, unit)?;
        }
    }
    for (section, codes) in
        [("code_before", &visit.codes_before), ("code_after", &visit.codes_after)]
    {
        for code in codes.iter().flatten() {
            rows.text(section, &code.code, &code.meaning)?;
        }
    }
    if let Some(repair) = &visit.repair {
        rows.text("repair", "part", &visit.shown_text(&repair.part))?;
        for line in &repair.lines {
            let text = cell(&visit.shown_text(&line.text));
            rows.write(["repair", "cost", "", &line.amount, "", "", &repair.currency, &text])?;
        }
        rows.write(["repair", "total", "", &repair.total, "", "", &repair.currency, ""])?;
        if let Some(saved) = &repair.saved {
            rows.write(["repair", "saved", "", saved, "", "", &repair.currency, ""])?;
        }
    }
    rows.0.into_inner().map_err(|error| ReportError::Csv(error.into_error().into()))
}

struct Rows(::csv::Writer<Vec<u8>>);

impl Rows {
    fn write<T: AsRef<[u8]>>(&mut self, row: [T; 8]) -> Result<(), ReportError> {
        Ok(self.0.write_record(row)?)
    }

    fn text(&mut self, section: &str, name: &str, text: &str) -> Result<(), ReportError> {
        let (name, text) = (cell(name), cell(text));
        self.write([section, &name, "", "", "", "", "", &text])
    }

    /// A bound that the data do not give stays blank.
    fn estimate(
        &mut self,
        section: &str,
        name: &str,
        estimate: &Estimate,
        unit: &str,
    ) -> Result<(), ReportError> {
        let shown = |value: f64| if value.is_finite() { value.to_string() } else { String::new() };
        let Estimate { value, low, high } = *estimate;
        self.write([section, name, "", &shown(value), &shown(low), &shown(high), unit, ""])
    }
}

/// Free text that no spreadsheet takes for a formula.
pub(super) fn cell(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}
