use slint::{ModelRc, VecModel};

use super::dates;
use super::markup::{AxisFigure, LanePoint, LaneView, Mark, TimelineItem, Tone};

use super::strip::{nice_step, ticks};
use super::vehicles_adapter::{lower_first, outcome_look};
use crate::diagnosis::VerdictOutcome;
use crate::jobs::{FillUpRow, VehiclePage, VisitRow};
use crate::units::Estimate;
use crate::wording::{Language, Style, fault_title, money, number, percent, verdict_outcome_word};

/// Widths of the lanes on the tablet, logical pixels: axis figures are spaced for them.
const LANE: f64 = 372.0;
const TRIM_LANE: f64 = 176.0;

/// An interval is drawn only when wider than this, logical pixels.
const NARROW: f64 = 16.0;

/// The two numbers that the rows of a vehicle's page show over time, each on one scale for all.
pub(super) struct Lanes<'a> {
    pub(super) style: &'a Style,
    /// Ends of the lanes, in the person's unit of pressure and in per cent.
    pressure: (f64, f64),
    trim: (f64, f64),
    trim_limit: f64,
}

impl<'a> Lanes<'a> {
    pub(super) fn new(page: &VehiclePage, style: &'a Style) -> Self {
        let factor = 1.0 / style.pressure.pascal();
        let ends = |estimate: Option<Estimate>| {
            estimate.into_iter().flat_map(|e| [e.low, e.value, e.high]).collect::<Vec<_>>()
        };
        let pressures = page.visits.iter().flat_map(|row| {
            let band = row.band.into_iter().flat_map(|band| [-band * 2.0, band * 2.0]);
            ends(row.shut_vacuum).into_iter().chain(band).map(|value| value * factor)
        });
        let trims = page.visits.iter().map(|row| row.trim);
        let trims = trims.chain(page.fill_ups.iter().map(|it| it.trim));
        let least = 1.5 * page.trim_limit;
        let (low, high) = trims
            .flat_map(ends)
            .fold((-4.0 * page.trim_limit, least), |(low, high), it| (low.min(it), high.max(it)));
        let pad = (high - low) * 0.06;
        Self {
            style,
            pressure: super::plot_model::span(pressures, factor),
            trim: (low - pad, high + pad),
            trim_limit: page.trim_limit,
        }
    }

    pub(super) fn pressure_view(&self, page: &VehiclePage) -> LaneView {
        let style = self.style;
        let label = style.of("Tank with the purge shut, {}", "Tank bei geschlossener Spülung, {}");
        let step = nice_step(LANE / (self.pressure.1 - self.pressure.0), 70.0);
        let band = page.visits.iter().find_map(|row| row.band).or(page.vehicle.band);
        let band = band.map(|band| band / style.pressure.pascal());
        LaneView {
            label: label.replace("{}", style.pressure.symbol()).into(),
            axis: axis(self.pressure, step, style),
            known: band.is_some(),
            low: share(-band.unwrap_or_default(), self.pressure),
            high: share(band.unwrap_or_default(), self.pressure),
        }
    }

    pub(super) fn trim_view(&self, page: &VehiclePage) -> LaneView {
        let step = nice_step(TRIM_LANE / (self.trim.1 - self.trim.0), 44.0);
        LaneView {
            label: self.style.of("Trim after a fill-up, %", "Gemisch nach dem Tanken, %").into(),
            axis: axis(self.trim, step, self.style),
            known: true,
            low: share(-page.trim_limit, self.trim),
            high: share(page.trim_limit, self.trim),
        }
    }

    pub(super) fn visit_row(&self, row: &VisitRow, trim: Option<Estimate>) -> TimelineItem {
        let language = self.style.language;
        let (mark, tone, word) = match row.verdict {
            Some((outcome, ..)) => {
                let (mark, tone) = outcome_look(outcome);
                (mark, tone, lower_first(verdict_outcome_word(outcome, language), self.style))
            }
            None => (Mark::Empty, Tone::Soft, self.style.of("open", "offen").to_owned()),
        };
        let title = match language {
            Language::English => format!("Visit {}: {word}", row.number),
            Language::German => format!("Besuch {}: {word}", row.number),
        };
        let pressure = self.pressure_point(row);
        TimelineItem {
            visit: i32::try_from(row.id).unwrap_or(0),
            date: dates::short_day(row.started, language).into(),
            mark,
            title: title.into(),
            tone,
            note: self.visit_note(row).into(),
            cost: "–".into(),
            figure: pressure.figure.clone(),
            figure_tone: tone_of(&pressure),
            pressure,
            trim: self.trim_point(trim),
            ..TimelineItem::default()
        }
    }

    fn visit_note(&self, row: &VisitRow) -> String {
        let language = self.style.language;
        match row.verdict {
            Some((VerdictOutcome::FaultFound, Some(fault), probability)) => {
                let sure = percent(probability, language);
                let fault = fault_title(fault, language);
                self.style
                    .of("{}, {} sure", "{}, {} sicher")
                    .replacen("{}", fault, 1)
                    .replacen("{}", &sure, 1)
            }
            _ if !row.codes.is_empty() => row.codes.join(", "),
            _ => row.complaint.clone(),
        }
    }

    pub(super) fn fill_up_row(&self, it: &FillUpRow, currency: &str) -> TimelineItem {
        let language = self.style.language;
        let title = match &it.litre {
            Some(litre) => {
                let litre = match language {
                    Language::English => litre.clone(),
                    Language::German => litre.replace('.', ","),
                };
                self.style.of("Fill-up, {} L", "Getankt, {} L").replace("{}", &litre)
            }
            None => self.style.of("Fill-up", "Getankt").to_owned(),
        };
        let trim = self.trim_point(it.trim);
        let note = match (it.note.is_empty(), trim.reading) {
            (false, _) => it.note.as_str(),
            (true, 1) => self.style.of("Ran clean afterwards", "Lief danach sauber"),
            (true, 2) => self.style.of("Ran rich afterwards", "Lief danach zu fett"),
            _ => "",
        };
        let words = self.style.of("Trim {} %", "Gemisch {} %").replace("{}", &trim.figure);
        TimelineItem {
            date: dates::short_day(it.filled, language).into(),
            fill_up: true,
            title: title.into(),
            note: note.into(),
            cost: match &it.cost {
                None => "–".to_owned(),
                Some((amount, code)) if code == currency => money(amount, language),
                Some((amount, code)) => format!("{code} {}", money(amount, language)),
            }
            .into(),
            figure: if trim.reading == 0 { String::new() } else { words }.into(),
            figure_tone: tone_of(&trim),
            trim,
            ..TimelineItem::default()
        }
    }

    fn pressure_point(&self, row: &VisitRow) -> LanePoint {
        let factor = 1.0 / self.style.pressure.pascal();
        let decimals = if factor == 1.0 { 0 } else { 2 };
        let shown = |value: f64| number(value * factor, decimals, self.style.language);
        let open = !matches!(
            row.verdict,
            Some((VerdictOutcome::FaultFound | VerdictOutcome::NoFaultFound, ..))
        );
        let Some(e) = row.shut_vacuum else { return LanePoint::default() };
        let (reading, figure) = match row.band {
            _ if open => (3, format!("{} ± {}", shown(e.value), shown(e.half_width()))),
            Some(band) if e.value.abs() > band => (2, shown(e.value)),
            _ => (1, shown(e.value)),
        };
        let scaled =
            Estimate { value: e.value * factor, low: e.low * factor, high: e.high * factor };
        point(reading, &figure, scaled, self.pressure, LANE)
    }

    fn trim_point(&self, trim: Option<Estimate>) -> LanePoint {
        let Some(e) = trim else { return LanePoint::default() };
        let limit = self.trim_limit;
        let reading = if e.high < -limit || e.low > limit {
            2
        } else if e.value.abs() <= limit {
            1
        } else {
            3
        };
        point(reading, &number(e.value, 0, self.style.language), e, self.trim, TRIM_LANE)
    }
}

fn point(reading: i32, figure: &str, e: Estimate, scale: (f64, f64), width: f64) -> LanePoint {
    let (low, high) = (share(e.low, scale), share(e.high, scale));
    LanePoint {
        reading,
        at: share(e.value, scale),
        low,
        high,
        interval: f64::from(high - low) * width > NARROW,
        figure: figure.into(),
    }
}

fn tone_of(point: &LanePoint) -> Tone {
    match point.reading {
        2 => Tone::Fail,
        3 => Tone::Inconclusive,
        _ => Tone::Ink,
    }
}

fn share(value: f64, scale: (f64, f64)) -> f32 {
    ((value - scale.0) / (scale.1 - scale.0)).clamp(0.0, 1.0) as f32
}

fn axis(scale: (f64, f64), step: f64, style: &Style) -> ModelRc<AxisFigure> {
    let decimals = if step < 1.0 { 2 } else { 0 };
    let figures: Vec<AxisFigure> = ticks(scale.0, scale.1, step)
        .into_iter()
        .map(|value| AxisFigure {
            text: number(value, decimals, style.language).into(),
            at: share(value, scale),
        })
        .collect();
    ModelRc::new(VecModel::from(figures))
}
