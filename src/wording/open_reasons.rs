use super::reason::{JUDGED, Row, plain};
use crate::evidence::{MeasureName, Reason};

/// The reasons of the fill-up, the proof and the checks that could not say.
pub(super) fn row(reason: Reason) -> Row {
    use MeasureName as M;
    match reason {
        Reason::NoRichSpell => Row {
            measures: &[M::TrimExcursion],
            english: (
                "After the fill-up the fuel trim moved by {}, no more than usual",
                "After the fill-up the fuel trim moved no more than usual",
            ),
            german: (
                "Nach dem Tanken bewegte sich die Gemischkorrektur um {}, nicht mehr als sonst",
                "Nach dem Tanken bewegte sich die Gemischkorrektur nicht mehr als sonst",
            ),
        },
        Reason::RichSpell => Row {
            measures: &[M::TrimExcursion],
            english: (
                "After the fill-up the engine ran rich with the purge shut; the fuel trim moved by {}",
                "After the fill-up the engine ran rich with the purge shut",
            ),
            german: (
                "Nach dem Tanken lief der Motor bei geschlossener Spülung fett; die Gemischkorrektur bewegte sich um {}",
                "Nach dem Tanken lief der Motor bei geschlossener Spülung fett",
            ),
        },
        Reason::ProvenStill => Row {
            measures: &[M::VacuumWithPurgeShut, M::ChangeAfterRepair],
            english: (
                "With the purge valve shut, the tank now stays still: {}",
                "With the purge valve shut, the tank now stays still",
            ),
            german: (
                "Bei geschlossenem Regenerierventil bleibt der Tank jetzt still: {}",
                "Bei geschlossenem Regenerierventil bleibt der Tank jetzt still",
            ),
        },
        Reason::StillMoves => Row {
            measures: &[M::VacuumWithPurgeShut, M::ChangeAfterRepair],
            english: (
                "After the repair the tank still moves by {} with the valve shut",
                "After the repair the tank still moves with the valve shut",
            ),
            german: (
                "Nach der Reparatur bewegt sich der Tank bei geschlossenem Ventil noch um {}",
                "Nach der Reparatur bewegt sich der Tank bei geschlossenem Ventil noch",
            ),
        },
        Reason::LimitTooCoarse => Row {
            measures: &[M::DetectionLimit],
            english: (
                "Only a leak from {} would have shown here, which is too coarse; open the throttle more often or poll faster",
                "A leak that matters might not have shown here; open the throttle more often or poll faster",
            ),
            german: (
                "Hier wäre erst ein Leck ab {} aufgefallen, das ist zu grob; öfter Gas geben oder schneller abfragen",
                "Ein Leck von Belang wäre hier vielleicht nicht aufgefallen; öfter Gas geben oder schneller abfragen",
            ),
        },
        Reason::PurgeNeverCommanded => plain(
            "The car never opened the purge valve; warm it up and let it idle longer",
            "Das Auto hat das Regenerierventil nie geöffnet; warm fahren und länger im Leerlauf lassen",
        ),
        Reason::ThrottleNotOpened => plain(
            "The throttle was never opened far enough; open it wide for a second",
            "Die Drosselklappe war nie weit genug offen; eine Sekunde lang Vollgas geben",
        ),
        Reason::TooLittleVacuum => plain(
            "There was too little vacuum before unplugging to time its return; wait for stronger purge",
            "Vor dem Abziehen war zu wenig Unterdruck da, um die Rückkehr zu messen; auf stärkere Spülung warten",
        ),
        Reason::PollingTooSlow => Row {
            measures: &[M::RecoveryTime, M::RecoveryT90, M::CapOffTime],
            english: (
                "Readings come too slowly to time the return; all that shows is a time constant of {}",
                "Readings come too slowly to time the return",
            ),
            german: (
                "Die Messwerte kommen zu langsam, um die Rückkehr zu messen; sichtbar ist nur eine Zeitkonstante von {}",
                "Die Messwerte kommen zu langsam, um die Rückkehr zu messen",
            ),
        },
        Reason::VehicleMoved => plain(
            "The vehicle moved during the check; repeat it parked",
            "Das Auto hat sich während der Prüfung bewegt; im Stand wiederholen",
        ),
        Reason::DriftTooLarge => Row {
            measures: &[M::RestDrift],
            english: (
                "The tank pressure drifts by {}, too much for a bound that helps; let the fuel cool and try again",
                "The tank pressure drifts too much for a bound that helps; let the fuel cool and try again",
            ),
            german: (
                "Der Tankdruck driftet um {}, zu viel für eine brauchbare Grenze; Kraftstoff abkühlen lassen und wiederholen",
                "Der Tankdruck driftet zu viel für eine brauchbare Grenze; Kraftstoff abkühlen lassen und wiederholen",
            ),
        },
        Reason::NothingToCompare => plain(
            "There are no two visits with the same check to compare",
            "Es gibt keine zwei Besuche mit derselben Prüfung zum Vergleichen",
        ),
        Reason::ZeroTaken => plain(
            "This car tells tank pressure against barometric pressure only to the kilopascal, so its first reading was taken for zero; a sensor that is wrong by less shows in its voltage alone",
            "Dieses Auto meldet den Tankdruck gegen den Luftdruck nur auf ein Kilopascal genau, deshalb gilt sein erster Messwert als null; ein Sensor, der um weniger falsch liegt, verrät sich nur in seiner Spannung",
        ),
        // `BetweenLimits`; a new reason reads as open until it has words of its own.
        _ => Row {
            measures: JUDGED,
            english: (
                "The number lies between sound and faulty: {}",
                "The number lies between sound and faulty",
            ),
            german: (
                "Die Zahl liegt zwischen gut und fehlerhaft: {}",
                "Die Zahl liegt zwischen gut und fehlerhaft",
            ),
        },
    }
}
