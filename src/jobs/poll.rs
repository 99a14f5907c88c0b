use super::visit::Sample;
use crate::evidence::Check;
use crate::link::{Item, Link, LinkError, Reading, Rotation, UnitId, Wanted};
use crate::units::Instant;
use crate::vehicle::{
    ControlUnit, CustomSignal, Measured, Parameter, Quantity, Signal, TankSource, decode_parameter,
    gauge_pressure, parameter, parameter_for, unit_for,
};

/// How often a signal is wanted, readings a second, while no check has wishes of its own. What
/// moves within a second (pressures, throttle, purge) comes first; what takes minutes is asked
/// rarely, so that it costs the others little.
const USUAL_RATES: [(Signal, f64); 17] = [
    (Signal::TankPressure, 10.0),
    (Signal::ManifoldPressure, 8.0),
    (Signal::Throttle, 4.0),
    (Signal::PurgeCommand, 4.0),
    (Signal::EngineSpeed, 3.0),
    (Signal::EngineLoad, 0.5),
    (Signal::VehicleSpeed, 0.5),
    (Signal::ShortTrim1, 1.0),
    (Signal::LongTrim1, 0.2),
    (Signal::ShortTrim2, 0.2),
    (Signal::LongTrim2, 0.1),
    (Signal::BarometricPressure, 0.2),
    (Signal::Coolant, 0.1),
    (Signal::IntakeAir, 0.1),
    (Signal::AmbientAir, 0.05),
    (Signal::FuelLevel, 0.1),
    (Signal::Supply, 0.2),
];

/// Where a check wants another rate than usual.
const CHECK_RATES: [(Check, Signal, f64); 10] = [
    (Check::UnplugRecovery, Signal::TankPressure, 20.0),
    (Check::UnplugRecovery, Signal::ManifoldPressure, 3.0),
    (Check::UnplugRecovery, Signal::ShortTrim1, 0.2),
    (Check::CapOffZero, Signal::TankPressure, 20.0),
    (Check::CapOffZero, Signal::ManifoldPressure, 0.5),
    (Check::AfterFillUp, Signal::ShortTrim1, 5.0),
    (Check::AfterFillUp, Signal::EngineSpeed, 8.0),
    (Check::AfterFillUp, Signal::TankPressure, 3.0),
    (Check::ThrottleFollow, Signal::Throttle, 8.0),
    (Check::ThrottleFollow, Signal::ShortTrim1, 0.2),
];

/// What can be polled, and from where.
#[derive(Clone, Debug, Default)]
pub(super) struct Offer {
    /// The control units with their parameters.
    pub(super) units: Vec<ControlUnit>,
    /// Requests of the person's own.
    pub(super) own: Vec<CustomSignal>,
    /// Where tank pressure comes from; `None` if the car does not offer it by the standard.
    pub(super) tank: Option<TankSource>,
}

impl Offer {
    /// The signals that can be polled, in the order of [`Signal::ALL`].
    pub(super) fn signals(&self) -> Vec<Signal> {
        let offered = |signal: &Signal| {
            self.own.iter().any(|own| own.signal == *signal) || self.source(*signal).is_some()
        };
        Signal::ALL.into_iter().filter(offered).collect()
    }

    /// The parameter that gives a signal, and the unit to ask for it.
    fn source(&self, signal: Signal) -> Option<(&'static Parameter, &ControlUnit)> {
        let unit = unit_for(signal, &self.units)?;
        let row = match (signal, self.tank) {
            (Signal::TankPressure, Some(source)) => parameter(source.parameter()?),
            _ => parameter_for(signal, &unit.supported),
        };
        Some((row?, unit))
    }

    /// The rows to poll for a check.
    fn wanted(&self, check: Option<Check>) -> Vec<Wanted> {
        let standard = USUAL_RATES.iter().filter_map(|(signal, usual)| {
            if self.own.iter().any(|own| own.signal == *signal) {
                return None;
            }
            let (row, unit) = self.source(*signal)?;
            let length = u8::try_from(row.length()).ok()?;
            let wanted = Wanted::parameter(row.id, length, rate(*signal, *usual, check));
            Some(Wanted { unit: self.address(unit), ..wanted })
        });
        let own = self.own.iter().filter_map(|own| {
            let (service, data) = own.request();
            Some(Wanted {
                item: Item::Custom { service, data },
                length: u8::try_from(own.length).ok()?,
                rate_hz: own.rate_hz,
                unit: own.answered_by().map(UnitId),
            })
        });
        standard.chain(own).collect()
    }

    /// Whom to ask: everybody where only one answers, which saves the adapter a setting.
    fn address(&self, unit: &ControlUnit) -> Option<UnitId> {
        (self.units.len() > 1 && unit.address != UnitId::UNTOLD.0).then_some(UnitId(unit.address))
    }
}

/// Polls the signals that the car offers, each as often as the running check wants it.
pub(super) struct Poller {
    rotation: Rotation,
    own: Vec<CustomSignal>,
    tank: Option<&'static Parameter>,
    barometric_kpa: Option<f64>,
    tank_reference_kpa: Option<f64>,
    zeroed: Option<Instant>,
}

impl Poller {
    /// For what is offered and the check that runs, if any.
    pub(super) fn new(offer: &Offer, check: Option<Check>) -> Self {
        Self {
            rotation: Rotation::new(offer.wanted(check)),
            own: offer.own.clone(),
            tank: offer.source(Signal::TankPressure).map(|(row, _)| row),
            barometric_kpa: None,
            tank_reference_kpa: None,
            zeroed: None,
        }
    }

    /// The same poller with the pressures that `earlier` held tank pressure against, so that one
    /// visit stays on one scale.
    pub(super) fn with_reference_of(mut self, earlier: &Self) -> Self {
        self.barometric_kpa = earlier.barometric_kpa;
        self.tank_reference_kpa = earlier.tank_reference_kpa;
        self
    }

    /// Makes the next exchange and returns its samples on the link's clock.
    pub(super) fn poll(&mut self, link: &mut Link) -> Result<Vec<Sample>, LinkError> {
        let readings = link.poll(&mut self.rotation)?;
        Ok(readings.iter().flat_map(|reading| self.samples(reading)).collect())
    }

    /// When a reading was taken for atmospheric, once.
    pub(super) fn take_zeroed(&mut self) -> Option<Instant> {
        self.zeroed.take()
    }

    /// Readings a second, all signals together.
    pub(super) fn readings_per_second(&self) -> Option<f64> {
        self.rotation.rate_report().readings_per_second
    }

    /// Readings a second of tank pressure.
    pub(super) fn tank_rate(&self) -> Option<f64> {
        let report = self.rotation.rate_report();
        let own = self.own.iter().find(|own| own.signal == Signal::TankPressure);
        let item = match own.map(CustomSignal::request) {
            Some((service, data)) => Item::Custom { service, data },
            None => Item::Parameter(self.tank?.id),
        };
        report.rows.iter().find(|row| row.item == item)?.reached_hz
    }

    /// A reading's samples. Data that mean nothing are left out: the gap shows as what it is.
    fn samples(&mut self, reading: &Reading) -> Vec<Sample> {
        match &reading.item {
            Item::Parameter(id) => {
                let measured = decode_parameter(*id, &reading.data).unwrap_or_default();
                measured.iter().filter_map(|it| self.sample(it, reading.at)).collect()
            }
            Item::Custom { service, data } => {
                let asked = (*service, data.clone());
                let own = self.own.iter().find(|own| own.request() == asked);
                let value = own.and_then(|own| own.decode_data(&reading.data).ok().flatten());
                own.zip(value)
                    .map(|(own, value)| (own.signal, reading.at, value))
                    .into_iter()
                    .collect()
            }
        }
    }

    fn sample(&mut self, measured: &Measured, at: Instant) -> Option<Sample> {
        if measured.quantity == Quantity::TankPressureAbsolute {
            // The barometric parameter's step of 1 kPa hides half a kilopascal either way: within
            // that, the first reading is taken for atmospheric, and what moves is what counts.
            let known = self.barometric_kpa?;
            let within = (measured.value - known).abs() < 0.65;
            if within && self.tank_reference_kpa.is_none() {
                self.zeroed = Some(at);
            }
            let reference =
                *self.tank_reference_kpa.get_or_insert(if within { measured.value } else { known });
            let gauge = gauge_pressure(measured.value, reference);
            return Some((Signal::TankPressure, at, gauge.0));
        }
        let signal = measured.signal()?;
        if signal == Signal::BarometricPressure {
            self.barometric_kpa.get_or_insert(measured.value);
        }
        Some((signal, at, measured.value))
    }
}

fn rate(signal: Signal, usual: f64, check: Option<Check>) -> f64 {
    let special = CHECK_RATES.iter().find(|row| Some(row.0) == check && row.1 == signal);
    special.map_or(usual, |row| row.2)
}

#[cfg(test)]
mod tests {
    use super::{Offer, rate};
    use crate::evidence::Check;
    use crate::link::{Item, UnitId};
    use crate::vehicle::{ControlUnit, CustomSignal, Signal};

    fn unit(address: u32, parameters: &[u8]) -> ControlUnit {
        let supported = parameters.iter().copied().collect();
        ControlUnit { address, supported, ..ControlUnit::default() }
    }

    #[test]
    fn a_check_speeds_up_what_it_looks_at() {
        assert_eq!(rate(Signal::ShortTrim1, 1.0, Some(Check::AfterFillUp)), 5.0);
        assert_eq!(rate(Signal::ShortTrim1, 1.0, None), 1.0);
    }

    #[test]
    fn one_unit_needs_no_address_and_two_do() {
        let mut offer = Offer { units: vec![unit(0x7E8, &[0x0C, 0x32])], ..Offer::default() };
        assert!(offer.wanted(None).iter().all(|row| row.unit.is_none()));
        offer.units.push(unit(0x7E9, &[0x0C, 0x0D]));
        let rows = offer.wanted(None);
        let asked =
            |id| rows.iter().find(|row| row.item == Item::Parameter(id)).map(|row| row.unit);
        assert_eq!(asked(0x0C), Some(Some(UnitId(0x7E8))));
        assert_eq!(asked(0x0D), Some(Some(UnitId(0x7E9))));
    }

    #[test]
    fn a_request_of_ones_own_replaces_the_standard_one() {
        let own = CustomSignal::read_all(
            "[[signal]]\nsignal = \"tank_pressure_pa\"\nservice = \"22\"\nidentifier = \"1234\"\n\
             length = 2\nsigned = true\nscale = 1.0\n",
        )
        .unwrap();
        let offer = Offer { units: vec![unit(0x7E8, &[0x0C, 0x32])], own, tank: None };
        let rows = offer.wanted(None);
        assert!(rows.iter().all(|row| row.item != Item::Parameter(0x32)));
        let custom = Item::Custom { service: 0x22, data: vec![0x12, 0x34] };
        assert!(rows.iter().any(|row| row.item == custom));
        assert_eq!(offer.signals(), [Signal::TankPressure, Signal::EngineSpeed]);
    }
}
