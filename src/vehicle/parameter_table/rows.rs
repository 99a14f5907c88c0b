use super::{Content, Field, Parameter};
use crate::vehicle::Quantity as Q;

/// Every parameter of SAE J1979 / ISO 15031-5 service 01 that this program reads, by number.
///
/// Numbers, lengths and formulas from memory of the standard; most of those below 40 are also
/// printed alike in public tables. Each row is held against hand-written bytes in
/// `fixtures/bytes/parameters.csv`. Parameter 32 is two's complement in quarter pascals, 54 in
/// whole pascals: an open tank reads zero in both.
pub const PARAMETERS: &[Parameter] = &[
    bits(0x00, &[4], Content::SupportList),
    bits(0x01, &[4], Content::Readiness),
    bits(0x02, &[2], Content::TroubleCode),
    numbers(0x03, &[2], &[byte(Q::FuelSystemStatus, 0), byte(Q::FuelSystemStatus, 1).place(2)]),
    numbers(0x04, &[1], &[percent(Q::EngineLoad, 0)]),
    numbers(0x05, &[1], &[celsius(Q::Coolant, 0)]),
    numbers(0x06, &[1, 2], &[trim(Q::ShortTrim, 0), trim(Q::ShortTrim, 1).place(3)]),
    numbers(0x07, &[1, 2], &[trim(Q::LongTrim, 0), trim(Q::LongTrim, 1).place(3)]),
    numbers(0x08, &[1, 2], &[trim(Q::ShortTrim, 0).place(2), trim(Q::ShortTrim, 1).place(4)]),
    numbers(0x09, &[1, 2], &[trim(Q::LongTrim, 0).place(2), trim(Q::LongTrim, 1).place(4)]),
    numbers(0x0B, &[1], &[byte(Q::ManifoldPressure, 0)]),
    numbers(0x0C, &[2], &[word(Q::EngineSpeed, 0).scaled(1.0, 4.0)]),
    numbers(0x0D, &[1], &[byte(Q::VehicleSpeed, 0)]),
    numbers(0x0F, &[1], &[celsius(Q::IntakeAir, 0)]),
    numbers(0x10, &[2], &[word(Q::MassAirFlow, 0).scaled(1.0, 100.0)]),
    numbers(0x11, &[1], &[percent(Q::Throttle, 0)]),
    numbers(0x13, &[1], &[byte(Q::OxygenSensorsPresent, 0)]),
    numbers(0x14, &[2], &[oxygen_voltage(1), oxygen_trim(1)]),
    numbers(0x15, &[2], &[oxygen_voltage(2), oxygen_trim(2)]),
    numbers(0x16, &[2], &[oxygen_voltage(3), oxygen_trim(3)]),
    numbers(0x17, &[2], &[oxygen_voltage(4), oxygen_trim(4)]),
    numbers(0x18, &[2], &[oxygen_voltage(5), oxygen_trim(5)]),
    numbers(0x19, &[2], &[oxygen_voltage(6), oxygen_trim(6)]),
    numbers(0x1A, &[2], &[oxygen_voltage(7), oxygen_trim(7)]),
    numbers(0x1B, &[2], &[oxygen_voltage(8), oxygen_trim(8)]),
    numbers(0x1C, &[1], &[byte(Q::RequirementType, 0)]),
    numbers(0x1D, &[1], &[byte(Q::OxygenSensorsPresent, 0)]),
    numbers(0x1F, &[2], &[word(Q::TimeSinceStart, 0)]),
    bits(0x20, &[4], Content::SupportList),
    numbers(0x21, &[2], &[word(Q::DistanceWithLamp, 0)]),
    numbers(0x2C, &[1], &[percent(Q::EgrCommand, 0)]),
    numbers(0x2D, &[1], &[byte(Q::EgrError, 0).scaled(100.0, 128.0).plus(-100.0)]),
    numbers(0x2E, &[1], &[percent(Q::PurgeCommand, 0)]),
    numbers(0x2F, &[1], &[percent(Q::FuelLevel, 0)]),
    numbers(0x30, &[1], &[byte(Q::WarmUpsSinceClear, 0)]),
    numbers(0x31, &[2], &[word(Q::DistanceSinceClear, 0)]),
    numbers(0x32, &[2], &[word(Q::TankPressure, 0).scaled(1.0, 4.0).signed()]),
    numbers(0x33, &[1], &[byte(Q::BarometricPressure, 0)]),
    numbers(0x34, &[4], &[lambda(1), oxygen_current(1)]),
    numbers(0x35, &[4], &[lambda(2), oxygen_current(2)]),
    numbers(0x36, &[4], &[lambda(3), oxygen_current(3)]),
    numbers(0x37, &[4], &[lambda(4), oxygen_current(4)]),
    numbers(0x38, &[4], &[lambda(5), oxygen_current(5)]),
    numbers(0x39, &[4], &[lambda(6), oxygen_current(6)]),
    numbers(0x3A, &[4], &[lambda(7), oxygen_current(7)]),
    numbers(0x3B, &[4], &[lambda(8), oxygen_current(8)]),
    numbers(0x3C, &[2], &[word(Q::CatalystTemperature, 0).scaled(1.0, 10.0).plus(-40.0)]),
    numbers(0x3D, &[2], &[word(Q::CatalystTemperature, 0).scaled(1.0, 10.0).plus(-40.0).place(2)]),
    numbers(0x3E, &[2], &[word(Q::CatalystTemperature, 0).scaled(1.0, 10.0).plus(-40.0).place(3)]),
    numbers(0x3F, &[2], &[word(Q::CatalystTemperature, 0).scaled(1.0, 10.0).plus(-40.0).place(4)]),
    bits(0x40, &[4], Content::SupportList),
    bits(0x41, &[4], Content::Readiness),
    numbers(0x42, &[2], &[word(Q::Supply, 0).scaled(1.0, 1000.0)]),
    numbers(0x43, &[2], &[word(Q::AbsoluteLoad, 0).scaled(100.0, 255.0)]),
    numbers(0x44, &[2], &[word(Q::CommandedLambda, 0).scaled(1.0, 32768.0)]),
    numbers(0x45, &[1], &[percent(Q::RelativeThrottle, 0)]),
    numbers(0x46, &[1], &[celsius(Q::AmbientAir, 0)]),
    numbers(0x47, &[1], &[percent(Q::ThrottleB, 0)]),
    numbers(0x48, &[1], &[percent(Q::ThrottleC, 0)]),
    numbers(0x49, &[1], &[percent(Q::AcceleratorPedal, 0)]),
    numbers(0x4A, &[1], &[byte(Q::AcceleratorPedal, 0).scaled(100.0, 255.0).place(2)]),
    numbers(0x4B, &[1], &[byte(Q::AcceleratorPedal, 0).scaled(100.0, 255.0).place(3)]),
    numbers(0x4C, &[1], &[percent(Q::ThrottleCommand, 0)]),
    numbers(0x4D, &[2], &[word(Q::TimeWithLamp, 0)]),
    numbers(0x4E, &[2], &[word(Q::TimeSinceClear, 0)]),
    numbers(
        0x4F,
        &[4],
        &[
            byte(Q::MaximumLambda, 0),
            byte(Q::MaximumOxygenVoltage, 1),
            byte(Q::MaximumOxygenCurrent, 2),
            byte(Q::MaximumManifoldPressure, 3).scaled(10.0, 1.0),
        ],
    ),
    numbers(0x50, &[4], &[byte(Q::MaximumAirFlow, 0).scaled(10.0, 1.0)]),
    numbers(0x51, &[1], &[byte(Q::FuelType, 0)]),
    numbers(0x52, &[1], &[percent(Q::AlcoholShare, 0)]),
    numbers(0x53, &[2], &[word(Q::TankPressureAbsolute, 0).scaled(1.0, 200.0)]),
    numbers(0x54, &[2], &[word(Q::TankPressureWide, 0).signed()]),
    numbers(
        0x55,
        &[1, 2],
        &[trim(Q::SecondaryShortTrim, 0), trim(Q::SecondaryShortTrim, 1).place(3)],
    ),
    numbers(
        0x56,
        &[1, 2],
        &[trim(Q::SecondaryLongTrim, 0), trim(Q::SecondaryLongTrim, 1).place(3)],
    ),
    numbers(
        0x57,
        &[1, 2],
        &[trim(Q::SecondaryShortTrim, 0).place(2), trim(Q::SecondaryShortTrim, 1).place(4)],
    ),
    numbers(
        0x58,
        &[1, 2],
        &[trim(Q::SecondaryLongTrim, 0).place(2), trim(Q::SecondaryLongTrim, 1).place(4)],
    ),
    numbers(0x5E, &[2], &[word(Q::FuelRate, 0).scaled(1.0, 20.0)]),
    bits(0x60, &[4], Content::SupportList),
    numbers(
        0x66,
        &[5],
        &[
            word(Q::MassAirFlow, 1).scaled(1.0, 32.0).announced_by_bit(0),
            word(Q::MassAirFlow, 3).scaled(1.0, 32.0).announced_by_bit(1).place(2),
        ],
    ),
    numbers(
        0x67,
        &[3],
        &[
            celsius(Q::Coolant, 1).announced_by_bit(0),
            celsius(Q::Coolant, 2).announced_by_bit(1).place(2),
        ],
    ),
    numbers(
        0x68,
        &[7],
        &[
            celsius(Q::IntakeAir, 1).announced_by_bit(0),
            celsius(Q::IntakeAir, 2).announced_by_bit(1).place(2),
            celsius(Q::IntakeAir, 3).announced_by_bit(2).place(3),
            celsius(Q::IntakeAir, 4).announced_by_bit(3).place(4),
            celsius(Q::IntakeAir, 5).announced_by_bit(4).place(5),
            celsius(Q::IntakeAir, 6).announced_by_bit(5).place(6),
        ],
    ),
    bits(0x80, &[4], Content::SupportList),
    numbers(
        0x87,
        &[5],
        &[
            word(Q::ManifoldPressure, 1).scaled(1.0, 32.0).announced_by_bit(0),
            word(Q::ManifoldPressure, 3).scaled(1.0, 32.0).announced_by_bit(1).place(2),
        ],
    ),
    bits(0xA0, &[4], Content::SupportList),
    bits(0xC0, &[4], Content::SupportList),
    bits(0xE0, &[4], Content::SupportList),
];
const fn numbers(id: u8, lengths: &'static [usize], fields: &'static [Field]) -> Parameter {
    Parameter { id, lengths, content: Content::Numbers(fields) }
}

const fn bits(id: u8, lengths: &'static [usize], content: Content) -> Parameter {
    Parameter { id, lengths, content }
}

const fn byte(quantity: Q, at: usize) -> Field {
    Field::new(quantity, at, 1)
}

const fn word(quantity: Q, at: usize) -> Field {
    Field::new(quantity, at, 2)
}

const fn percent(quantity: Q, at: usize) -> Field {
    byte(quantity, at).scaled(100.0, 255.0)
}

/// 80 is zero; positive adds fuel.
const fn trim(quantity: Q, at: usize) -> Field {
    byte(quantity, at).scaled(100.0, 128.0).plus(-100.0)
}

const fn celsius(quantity: Q, at: usize) -> Field {
    byte(quantity, at).plus(-40.0)
}

/// A trim of FF means that the sensor does not steer the mixture.
const fn oxygen_trim(place: u8) -> Field {
    trim(Q::OxygenTrim, 1).place(place).unused(0xFF)
}

const fn oxygen_voltage(place: u8) -> Field {
    byte(Q::OxygenVoltage, 0).scaled(1.0, 200.0).place(place)
}

const fn lambda(place: u8) -> Field {
    word(Q::Lambda, 0).scaled(1.0, 32768.0).place(place)
}

const fn oxygen_current(place: u8) -> Field {
    word(Q::OxygenCurrent, 2).scaled(1.0, 256.0).plus(-128.0).place(place)
}
