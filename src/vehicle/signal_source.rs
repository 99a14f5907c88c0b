use super::{Parameter, Signal, SupportedParameters, parameter_table};

/// Where a signal can come from in service 01, the better source first.
#[derive(Clone, Copy, Debug)]
pub struct SignalSource {
    /// The signal.
    pub signal: Signal,
    /// Parameters that give it, the finest or most direct first.
    pub parameters: &'static [u8],
}

/// Sources of the signals, from the contract's list: fine manifold pressure before coarse, the
/// throttle itself before its stand-ins. For tank pressure this is only the order of resolution;
/// [`TankSource`](super::TankSource) looks at the values before it is believed.
pub const SIGNAL_SOURCES: &[SignalSource] = &[
    row(Signal::TankPressure, &[0x32, 0x54, 0x53]),
    row(Signal::ManifoldPressure, &[0x87, 0x0B]),
    row(Signal::BarometricPressure, &[0x33]),
    row(Signal::Throttle, &[0x11, 0x45, 0x47, 0x4C]),
    row(Signal::PurgeCommand, &[0x2E]),
    row(Signal::EngineSpeed, &[0x0C]),
    row(Signal::VehicleSpeed, &[0x0D]),
    row(Signal::EngineLoad, &[0x04]),
    row(Signal::Coolant, &[0x05, 0x67]),
    row(Signal::IntakeAir, &[0x0F, 0x68]),
    row(Signal::AmbientAir, &[0x46]),
    row(Signal::FuelLevel, &[0x2F]),
    row(Signal::ShortTrim1, &[0x06]),
    row(Signal::LongTrim1, &[0x07]),
    row(Signal::ShortTrim2, &[0x08]),
    row(Signal::LongTrim2, &[0x09]),
    row(Signal::Supply, &[0x42]),
];

/// The best listed parameter for a signal.
pub fn parameter_for(
    signal: Signal,
    supported: &SupportedParameters,
) -> Option<&'static Parameter> {
    let row = SIGNAL_SOURCES.iter().find(|row| row.signal == signal)?;
    let best = row.parameters.iter().copied().find(|id| {
        supported.contains(*id)
            // An absolute tank pressure means nothing without a barometric pressure.
            && (*id != ABSOLUTE_TANK_PRESSURE || supported.contains(BAROMETRIC_PRESSURE))
    })?;
    parameter_table::parameter(best)
}

const ABSOLUTE_TANK_PRESSURE: u8 = 0x53;
const BAROMETRIC_PRESSURE: u8 = 0x33;

const fn row(signal: Signal, parameters: &'static [u8]) -> SignalSource {
    SignalSource { signal, parameters }
}

#[cfg(test)]
mod tests {
    use super::{SIGNAL_SOURCES, parameter_for};
    use crate::vehicle::{Quantity, Signal, SupportedParameters, parameter_table};

    #[test]
    fn every_source_is_in_the_table_and_gives_its_signal() {
        for row in SIGNAL_SOURCES {
            for id in row.parameters {
                let fields = parameter_table::parameter(*id).unwrap().fields();
                let gives = fields.iter().any(|field| {
                    let measured = parameter_table::Measured {
                        quantity: field.quantity,
                        place: field.place,
                        value: 0.0,
                    };
                    measured.signal() == Some(row.signal)
                        || field.quantity == Quantity::TankPressureAbsolute
                });
                assert!(gives, "{:02X} does not give {:?}", id, row.signal);
            }
        }
    }

    #[test]
    fn the_better_source_is_taken() {
        let best = |ids: &[u8], signal| {
            let supported: SupportedParameters = ids.iter().copied().collect();
            parameter_for(signal, &supported).map(|row| row.id)
        };
        assert_eq!(best(&[0x0B, 0x87], Signal::ManifoldPressure), Some(0x87));
        assert_eq!(best(&[0x0B], Signal::ManifoldPressure), Some(0x0B));
        assert_eq!(best(&[0x54, 0x32], Signal::TankPressure), Some(0x32));
        assert_eq!(best(&[0x53], Signal::TankPressure), None);
        assert_eq!(best(&[0x53, 0x33], Signal::TankPressure), Some(0x53));
        assert_eq!(best(&[0x4C], Signal::Throttle), Some(0x4C));
        assert_eq!(best(&[0x4C], Signal::VentCommand), None);
    }
}
