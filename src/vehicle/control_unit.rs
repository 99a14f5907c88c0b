use super::{
    CalibrationId, InUseCounters, Signal, SupportedParameters, VerificationNumber, parameter_for,
};

/// One control unit that answers, and what it says of itself.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ControlUnit {
    /// Address that its answers carry, such as 7E8.
    pub address: u32,
    /// Its name, if it gives one.
    pub name: Option<String>,
    /// Parameters it offers.
    pub supported: SupportedParameters,
    /// Software in it.
    pub calibrations: Vec<CalibrationId>,
    /// Checksums over that software, in the same order.
    pub verification_numbers: Vec<VerificationNumber>,
    /// How often its monitors ran.
    pub in_use: Option<InUseCounters>,
}

/// Signals that tell which unit runs the engine and the vapour system.
const ENGINE_SIGNALS: [Signal; 4] =
    [Signal::TankPressure, Signal::PurgeCommand, Signal::ManifoldPressure, Signal::EngineSpeed];

/// The unit that runs the engine: the one that offers most of what the checks look at, the lowest
/// address among equals. Several units answer on most cars, and a transmission's unit also knows
/// the engine speed. `None` if no unit offers any of it.
pub fn engine_unit(units: &[ControlUnit]) -> Option<&ControlUnit> {
    let offers = |unit: &ControlUnit| {
        ENGINE_SIGNALS
            .iter()
            .filter(|signal| parameter_for(**signal, &unit.supported).is_some())
            .count()
    };
    units
        .iter()
        .filter(|unit| offers(unit) > 0)
        .max_by_key(|unit| (offers(unit), std::cmp::Reverse(unit.address)))
}

/// The unit to ask for a signal: the engine's if it offers it, else the lowest address that does.
pub fn unit_for(signal: Signal, units: &[ControlUnit]) -> Option<&ControlUnit> {
    let offers = |unit: &&ControlUnit| parameter_for(signal, &unit.supported).is_some();
    engine_unit(units)
        .filter(offers)
        .or_else(|| units.iter().filter(offers).min_by_key(|unit| unit.address))
}

#[cfg(test)]
mod tests {
    use super::{ControlUnit, engine_unit, unit_for};
    use crate::vehicle::Signal;

    fn unit(address: u32, parameters: &[u8]) -> ControlUnit {
        let supported = parameters.iter().copied().collect();
        ControlUnit { address, supported, ..ControlUnit::default() }
    }

    #[test]
    fn the_unit_that_offers_most_of_the_engine_is_the_engines() {
        let units = [
            unit(0x7E9, &[0x0C, 0x0D]),
            unit(0x7E8, &[0x0B, 0x0C, 0x2E, 0x32]),
            unit(0x7EA, &[0x46]),
        ];
        let address = |unit: Option<&ControlUnit>| unit.map(|unit| unit.address);
        assert_eq!(address(engine_unit(&units)), Some(0x7E8));
        assert_eq!(address(unit_for(Signal::EngineSpeed, &units)), Some(0x7E8));
        assert_eq!(address(unit_for(Signal::VehicleSpeed, &units)), Some(0x7E9));
        assert_eq!(address(unit_for(Signal::AmbientAir, &units)), Some(0x7EA));
        assert_eq!(address(unit_for(Signal::FuelLevel, &units)), None);
    }

    #[test]
    fn among_equals_the_lowest_address_is_taken() {
        let units = [unit(0x7EB, &[0x0C]), unit(0x7E8, &[0x0C]), unit(0x7E9, &[0x0C])];
        assert_eq!(engine_unit(&units).map(|unit| unit.address), Some(0x7E8));
        assert_eq!(engine_unit(&[]), None);
        assert_eq!(engine_unit(&[unit(0x7E8, &[0x01])]), None);
    }
}
