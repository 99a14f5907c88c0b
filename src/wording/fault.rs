use super::language::Language;
use crate::diagnosis::Hypothesis;
use crate::vehicle::{Fault, Part};

/// A fault as a heading.
pub const fn fault_title(fault: Fault, language: Language) -> &'static str {
    match fault {
        Fault::PurgeValveLeaking => language.of("Purge valve leaks", "Regenerierventil undicht"),
        Fault::NoPurgeFlow => language.of("No purge flow", "Kein Spülstrom"),
        Fault::VentPathRestricted => language.of("Vent path restricted", "Belüftungsweg verengt"),
        Fault::TankSensorOffset => language.of("Tank sensor off zero", "Tankdrucksensor verstellt"),
        Fault::TankSensorSlow => language.of("Tank sensor slow", "Tankdrucksensor träge"),
        Fault::TankSensorStuck => language.of("Tank sensor stuck", "Tankdrucksensor steht"),
        Fault::VaporLeak => language.of("Leak to the outside", "Undichtigkeit nach außen"),
    }
}

/// A part as people ask for it.
pub const fn part_title(part: Part, language: Language) -> &'static str {
    match part {
        Part::PurgeValve => language.of("Purge valve", "Regenerierventil"),
        Part::VentValve => language.of("Vent valve", "Belüftungsventil"),
        Part::TankSensor => language.of("Tank pressure sensor", "Tankdrucksensor"),
        Part::FuelCap => language.of("Fuel cap", "Tankdeckel"),
    }
}

/// What may be the case, as a heading.
pub const fn hypothesis_title(hypothesis: Hypothesis, language: Language) -> &'static str {
    match hypothesis {
        Hypothesis::None => language.of("No fault", "Kein Fehler"),
        Hypothesis::Fault(fault) => fault_title(fault, language),
    }
}

/// The hypothesis as it follows “30 times likelier”.
pub const fn with_hypothesis(hypothesis: Hypothesis, language: Language) -> &'static str {
    let Hypothesis::Fault(fault) = hypothesis else {
        return language.of("with a sound system", "bei intaktem System");
    };
    match fault {
        Fault::PurgeValveLeaking => {
            language.of("with a leaking purge valve", "bei undichtem Regenerierventil")
        }
        Fault::NoPurgeFlow => {
            language.of("with no flow through the purge valve", "bei fehlendem Spülstrom")
        }
        Fault::VentPathRestricted => {
            language.of("with a restricted vent path", "bei verengtem Belüftungsweg")
        }
        Fault::TankSensorOffset => {
            language.of("with a tank sensor off zero", "bei verstelltem Tankdrucksensor")
        }
        Fault::TankSensorSlow => {
            language.of("with a slow tank sensor", "bei trägem Tankdrucksensor")
        }
        Fault::TankSensorStuck => {
            language.of("with a stuck tank sensor", "bei stehendem Tankdrucksensor")
        }
        Fault::VaporLeak => {
            language.of("with a leak to the outside", "bei Undichtigkeit nach außen")
        }
    }
}
