use super::language::Language;
use crate::checks::{Caution, Step};
use crate::evidence::Check;

/// What the person is asked to do: two imperative sentences, one a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Instruction {
    /// What to do.
    pub first: &'static str,
    /// What to watch, or what comes with it.
    pub second: &'static str,
}

/// The instruction of a step in this check.
pub const fn instruction(check: Check, step: Step, language: Language) -> Instruction {
    let (english, german) = match step {
        // What was sealed and unplugged before has to stay so, which nobody who stops an engine expects.
        Step::StopEngine if matches!(check, Check::SealedHold) => (
            ("Engine off, then key on.", "Leave the rest as it is."),
            ("Motor aus, Zündung an.", "Sonst alles so lassen."),
        ),
        Step::TurnKeyOn => (
            ("Turn the key on.", "Leave the engine off."),
            ("Zündung einschalten.", "Den Motor nicht starten."),
        ),
        Step::WaitAtRest => (
            ("Leave the car alone.", "Wait while it rests."),
            ("Das Auto in Ruhe lassen.", "Abwarten, solange es ruht."),
        ),
        Step::StartEngine => (
            ("Start the engine.", "Keep your foot off the pedal."),
            ("Den Motor starten.", "Kein Gas geben."),
        ),
        Step::WaitAtIdle => {
            (("Let it idle.", "Touch nothing."), ("Im Leerlauf laufen lassen.", "Nichts anfassen."))
        }
        Step::WaitForPurge => (
            ("Let it idle and warm up.", "Wait for the purge valve."),
            ("Im Leerlauf warm laufen lassen.", "Auf das Regenerierventil warten."),
        ),
        Step::WatchPurge => (
            ("Let the purge valve work.", "Watch the tank follow."),
            ("Das Regenerierventil arbeiten lassen.", "Beobachten, wie der Tank folgt."),
        ),
        Step::UnplugPurge => (
            ("Unplug the purge valve.", "Pull the connector, never the wires."),
            ("Das Regenerierventil abziehen.", "Am Stecker ziehen, nie an den Kabeln."),
        ),
        Step::KeepUnplugged => (
            ("Keep it unplugged.", "Watch the tank settle."),
            ("Abgezogen lassen.", "Beobachten, wie der Tank sich beruhigt."),
        ),
        Step::PlugPurge => (
            ("Plug the purge valve in.", "Push until the lock clicks."),
            ("Das Regenerierventil anstecken.", "Drücken, bis die Sicherung einrastet."),
        ),
        Step::KeepPlugged => (
            ("Leave it plugged in.", "Wait for the vacuum to build."),
            ("Angesteckt lassen.", "Warten, bis der Unterdruck steht."),
        ),
        Step::OpenThrottle => (
            ("Open the throttle wide for a second.", "Keep it in Park."),
            ("Eine Sekunde lang Vollgas geben.", "In Parkstellung oder im Leerlauf bleiben."),
        ),
        Step::ReleaseThrottle => (
            ("Let go of the throttle.", "Watch the tank."),
            ("Vom Gas gehen.", "Den Tank beobachten."),
        ),
        Step::SettleAtIdle => (
            ("Let it settle at idle.", "Wait for the next opening."),
            ("Im Leerlauf beruhigen lassen.", "Auf den nächsten Gasstoß warten."),
        ),
        Step::StopEngine => (
            ("Stop the engine.", "Turn the key on again."),
            ("Den Motor abstellen.", "Die Zündung wieder einschalten."),
        ),
        Step::OpenCap => (
            ("Open the fuel cap slowly.", "Keep sparks and flames away."),
            ("Den Tankdeckel langsam öffnen.", "Funken und Flammen fernhalten."),
        ),
        Step::KeepCapOff => (
            ("Leave the cap off.", "Watch the reading fall to zero."),
            ("Den Tankdeckel offen lassen.", "Beobachten, wie die Anzeige auf null geht."),
        ),
        Step::CloseCap => (
            ("Close the fuel cap.", "Turn it until it clicks."),
            ("Den Tankdeckel schließen.", "Drehen, bis er klickt."),
        ),
        Step::SealVent => (
            ("Seal the vent.", "Command the vent valve or cap the hose."),
            ("Die Belüftung verschließen.", "Das Ventil ansteuern oder den Schlauch zustopfen."),
        ),
        Step::BuildVacuum => (
            ("Let the vacuum build.", "Stop when the screen says so."),
            ("Den Unterdruck aufbauen lassen.", "Aufhören, sobald die Anzeige es sagt."),
        ),
        Step::HoldSealed => (
            ("Leave everything alone.", "Watch the vacuum hold."),
            ("Alles in Ruhe lassen.", "Den Druck beobachten."),
        ),
        Step::OpenVent => (
            ("Open the vent again.", "Take every plug out."),
            ("Die Belüftung wieder öffnen.", "Alle Stopfen entfernen."),
        ),
        Step::IdleBeforeFillUp => (
            ("Before you fill up, let it idle.", "If it is full already, say so below."),
            ("Vor dem Tanken im Leerlauf lassen.", "Wenn schon voll, unten sagen."),
        ),
        Step::FillTank => (
            (
                "Fill the tank, to the first click.",
                "Engine off. Start it again only for the watch.",
            ),
            (
                "Volltanken, bis zum ersten Klicken.",
                "Motor aus. Erst zum Beobachten wieder starten.",
            ),
        ),
        Step::WatchAfterFillUp => (
            ("Start it and let it idle.", "Watch for two minutes."),
            ("Starten und im Leerlauf lassen.", "Zwei Minuten beobachten."),
        ),
        Step::Done => (
            ("This check is done.", "Go back to the card."),
            ("Diese Prüfung ist fertig.", "Zurück zur Karte."),
        ),
    };
    let (first, second) = match language {
        Language::English => english,
        Language::German => german,
    };
    Instruction { first, second }
}

/// What has to stay as it is while a step of this check lasts, where that is not plain; `stopped` says
/// whether the engine was stopped for it.
pub const fn keep(
    check: Check,
    step: Step,
    stopped: bool,
    language: Language,
) -> Option<&'static str> {
    match (check, step) {
        (Check::SealedHold, Step::StopEngine) => Some(language.of(
            "Vent stays sealed, valve unplugged. The car answers only with the key on.",
            "Belüftung bleibt zu, Ventil abgezogen. Nur mit Zündung antwortet das Auto.",
        )),
        (Check::SealedHold, Step::HoldSealed) if stopped => Some(language.of(
            "Key on, vent sealed, valve unplugged.",
            "Zündung an, Belüftung zu, Ventil abgezogen.",
        )),
        _ => None,
    }
}

/// A hazard: the first clause, set strong, and the rest. Both are whole sentences.
pub const fn caution(caution: Caution, language: Language) -> (&'static str, &'static str) {
    let (english, german) = match caution {
        Caution::FuelVapour => (
            (
                "Fuel vapour burns.",
                "Work in the open air; no flame, spark, heater or cigarette. Vapour is heavier than air and gathers low. Never open a hot tank.",
            ),
            (
                "Kraftstoffdampf ist brennbar.",
                "Im Freien arbeiten; keine Flammen, Funken, Heizgeräte oder Zigaretten. Der Dampf ist schwerer als Luft und sammelt sich am Boden. Nie einen heißen Tank öffnen.",
            ),
        ),
        Caution::BeltsAndFan => (
            (
                "Belts turn, fans start unasked.",
                "The exhaust is hot. Keep hands, hair and sleeves clear.",
            ),
            (
                "Riemen laufen, Lüfter springen von selbst an.",
                "Der Auspuff ist heiß. Hände, Haare und Ärmel fernhalten.",
            ),
        ),
        Caution::CarbonMonoxide => (
            (
                "Run the engine outdoors only.",
                "Exhaust holds carbon monoxide, which kills without a smell. A closed or half-open garage is not outdoors.",
            ),
            (
                "Den Motor nur im Freien laufen lassen.",
                "Abgas enthält Kohlenmonoxid, das geruchlos tötet. Eine halb offene Garage ist nicht im Freien.",
            ),
        ),
        Caution::ParkAndChock => (
            ("Park, brake on, wheels chocked.", "Nobody stands in front of or behind the car."),
            (
                "Parkstellung, Bremse fest, Räder verkeilt.",
                "Niemand steht vor oder hinter dem Auto.",
            ),
        ),
        Caution::SetsCircuitCode => (
            (
                "Unplugging stores a circuit code.",
                "Plug it back in afterwards and drive with it plugged in; disabling emission parts is against the law in many places.",
            ),
            (
                "Das Abziehen speichert einen Fehlercode.",
                "Danach wieder anstecken und nur so fahren; Abgastechnik stillzulegen ist vielerorts verboten.",
            ),
        ),
        Caution::SealedTank => (
            (
                "Never pressurise a tank.",
                "Never blow into it. Open the vent as soon as the screen asks, and stop at the pressure in the manual.",
            ),
            (
                "Einen Tank nie unter Überdruck setzen.",
                "Nie hineinblasen. Die Belüftung öffnen, sobald die Anzeige es sagt, und beim Druck aus dem Handbuch aufhören.",
            ),
        ),
        Caution::NotWhileDriving => (
            ("Never read this screen while driving.", "Let a passenger do it, or stop first."),
            (
                "Diese Anzeige nie während der Fahrt ablesen.",
                "Das macht der Beifahrer, oder erst anhalten.",
            ),
        ),
    };
    match language {
        Language::English => english,
        Language::German => german,
    }
}
