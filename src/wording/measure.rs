use super::language::Language;
use crate::evidence::MeasureName;
use crate::recording::Action;
use crate::vehicle::Signal;

/// A measure as a label in a table.
pub const fn measure_name(name: MeasureName, language: Language) -> &'static str {
    use MeasureName as M;
    match name {
        M::RestPressure => language.of("Tank pressure at rest", "Tankdruck in Ruhe"),
        M::RestDrift => language.of("Drift at rest", "Drift in Ruhe"),
        M::Noise => language.of("Noise of one reading", "Rauschen eines Messwerts"),
        M::Step => language.of("Smallest step of the reading", "Kleinster Schritt der Anzeige"),
        M::Movement => language.of("Largest movement", "Größte Bewegung"),
        M::ChangingReadings => {
            language.of("Readings unlike the one before", "Messwerte anders als der vorige")
        }
        M::ManifoldAgainstBarometric => {
            language.of("Manifold less barometric pressure", "Saugrohrdruck minus Luftdruck")
        }
        M::IdleChange => language.of("Change from rest to idle", "Änderung von Ruhe zu Leerlauf"),
        M::PurgeVacuum => language.of("Pull of full purge", "Sog bei voller Spülung"),
        M::ResponseTime => {
            language.of("Time constant of the answer to purge", "Zeitkonstante der Spülantwort")
        }
        M::DeadBand => language.of("Purge command without flow", "Ansteuerung ohne Spülstrom"),
        M::PurgeDelay => language.of("Purge command to answer", "Ansteuerung bis Antwort"),
        M::RecoveryTime => language.of("Time constant of the return", "Zeitkonstante der Rückkehr"),
        M::RecoveryT90 => language.of("Time to nine tenths", "Zeit bis neun Zehntel"),
        M::RecoveryDelay => language.of("Unplugging to return", "Abziehen bis Rückkehr"),
        M::ResidualVacuum => language.of("Vacuum that stays", "Bleibender Unterdruck"),
        M::CycleSpread => language.of("Spread between cycles", "Streuung der Durchgänge"),
        M::VacuumWithPurgeShut => {
            language.of("Vacuum with the purge shut", "Unterdruck bei geschlossener Spülung")
        }
        M::ShareOfPurge => {
            language.of("Purge command of equal flow", "Ansteuerung mit gleichem Strom")
        }
        M::EquivalentHole => language.of("Hole of equal flow", "Loch mit gleichem Strom"),
        M::LeakFlow => {
            language.of("Flow through the shut valve", "Strom durchs geschlossene Ventil")
        }
        M::DetectionLimit => {
            language.of("Smallest leak that would show", "Kleinstes erkennbares Leck")
        }
        M::DetectionLimitShare => language.of(
            "Smallest leak that would show, as purge",
            "Kleinstes erkennbares Leck, als Spülung",
        ),
        M::CapOffPressure => language.of("Reading with the cap off", "Anzeige bei offenem Deckel"),
        M::CapOffTime => {
            language.of("Time constant with the cap off", "Zeitkonstante bei offenem Deckel")
        }
        M::SealedFlow => {
            language.of("Flow of full purge, sealed", "Strom voller Spülung, verschlossen")
        }
        M::SealedMovement => {
            language.of("Range of the reading, sealed", "Spanne der Anzeige, verschlossen")
        }
        M::SealedTime => language.of("Time sealed, all holds", "Zeit verschlossen, alle Proben"),
        M::SealedRise => {
            language.of("Rise of the reading, sealed", "Anstieg der Anzeige, verschlossen")
        }
        M::SealedStanding => {
            language.of("Time sealed with the engine off", "Zeit verschlossen bei stehendem Motor")
        }
        M::VentedTime => language.of(
            "Time constant with the vent open again",
            "Zeitkonstante nach dem Öffnen der Belüftung",
        ),
        M::VentTime => {
            language.of("Time constant of the vent alone", "Zeitkonstante der Belüftung allein")
        }
        M::GivenBack => language.of(
            "Share given back with the vent open again",
            "Nach dem Öffnen zurückgegebener Anteil",
        ),
        M::SealedPull => {
            language.of("Drift of the sealed vacuum", "Änderung des verschlossenen Unterdrucks")
        }
        M::SealedDraw => {
            language.of("Fall by full purge, sealed", "Abfall durch volle Spülung, verschlossen")
        }
        M::SealedLeak => language.of(
            "Leak of the shut valve, as a share of full purge",
            "Leck des geschlossenen Ventils, als Anteil voller Spülung",
        ),
        M::SealedDecay => language.of("Decay of the sealed vacuum", "Abnahme des Unterdrucks"),
        M::SealedHole => language.of("Hole to the outside", "Loch nach außen"),
        M::SealedHoleLimit => {
            language.of("Smallest hole that would show", "Kleinstes erkennbares Loch")
        }
        M::SealedVacuum => language.of("Lowest pressure, sealed", "Tiefster Druck, verschlossen"),
        M::TrimExcursion => {
            language.of("Fuel trim after the fill-up", "Gemischkorrektur nach dem Tanken")
        }
        M::TrimDecay => language.of("Return of the fuel trim", "Rückkehr der Gemischkorrektur"),
        M::SpeedRoughness => language.of("Roughness of engine speed", "Unruhe der Drehzahl"),
        M::TrimWithPurge => {
            language.of("Fuel trim's answer to purge", "Gemischkorrektur bei Spülung")
        }
        M::ChangeAfterRepair => {
            language.of("Change after the repair", "Änderung durch die Reparatur")
        }
    }
}

/// A signal as a label, without its unit.
pub const fn signal_name(signal: Signal, language: Language) -> &'static str {
    match signal {
        Signal::TankPressure => language.of("Tank pressure", "Tankdruck"),
        Signal::TankSensor => language.of("Tank sensor voltage", "Spannung des Tankdrucksensors"),
        Signal::ManifoldPressure => language.of("Manifold pressure", "Saugrohrdruck"),
        Signal::BarometricPressure => language.of("Barometric pressure", "Luftdruck"),
        Signal::Throttle => language.of("Throttle", "Drosselklappe"),
        Signal::PurgeCommand => language.of("Purge command", "Ansteuerung der Spülung"),
        Signal::VentCommand => language.of("Vent command", "Ansteuerung der Belüftung"),
        Signal::EngineSpeed => language.of("Engine speed", "Drehzahl"),
        Signal::VehicleSpeed => language.of("Vehicle speed", "Geschwindigkeit"),
        Signal::EngineLoad => language.of("Engine load", "Motorlast"),
        Signal::Coolant => language.of("Coolant temperature", "Kühlmitteltemperatur"),
        Signal::IntakeAir => language.of("Intake air temperature", "Ansauglufttemperatur"),
        Signal::AmbientAir => language.of("Ambient air temperature", "Außentemperatur"),
        Signal::FuelLevel => language.of("Fuel level", "Tankfüllung"),
        Signal::ShortTrim1 => {
            language.of("Short-term fuel trim, bank 1", "Kurzzeit-Gemischkorrektur, Bank 1")
        }
        Signal::LongTrim1 => {
            language.of("Long-term fuel trim, bank 1", "Langzeit-Gemischkorrektur, Bank 1")
        }
        Signal::ShortTrim2 => {
            language.of("Short-term fuel trim, bank 2", "Kurzzeit-Gemischkorrektur, Bank 2")
        }
        Signal::LongTrim2 => {
            language.of("Long-term fuel trim, bank 2", "Langzeit-Gemischkorrektur, Bank 2")
        }
        Signal::Supply => language.of("Supply voltage", "Bordspannung"),
    }
}

/// An action as the words of an event on the chart.
pub const fn action_name(action: Action, language: Language) -> &'static str {
    match action {
        Action::KeyOn => language.of("Key on", "Zündung ein"),
        Action::EngineStarted => language.of("Engine started", "Motor gestartet"),
        Action::EngineStopped => language.of("Engine stopped", "Motor abgestellt"),
        Action::PurgeUnplugged => language.of("Unplugged", "Abgezogen"),
        Action::PurgePlugged => language.of("Plugged in", "Angesteckt"),
        Action::VentSealed => language.of("Vent sealed", "Belüftung verschlossen"),
        Action::VentOpened => language.of("Vent opened", "Belüftung geöffnet"),
        Action::CapOpened => language.of("Cap off", "Deckel offen"),
        Action::CapClosed => language.of("Cap on", "Deckel zu"),
        Action::ThrottleOpened => language.of("Opening", "Gasstoß"),
        Action::ThrottleReleased => language.of("Let go", "Losgelassen"),
        Action::Refuelled => language.of("Refuelled", "Getankt"),
        Action::PartReplaced => language.of("Part replaced", "Teil ersetzt"),
        Action::TankZeroed => language.of("Taken as zero", "Als null genommen"),
    }
}
