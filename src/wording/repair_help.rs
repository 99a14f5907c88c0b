use super::language::Language;
use crate::checks::Caution;
use crate::vehicle::Fault;

/// One step of a repair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HelpStep {
    /// Hazards, shown before the step.
    pub cautions: &'static [Caution],
    /// What the step is about.
    pub title: &'static str,
    /// How it is done in general; the maker's manual decides.
    pub text: &'static str,
}

/// How a part is changed, in general terms.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RepairHelp {
    /// What goes before everything: the maker's manual and local rules.
    pub first: &'static str,
    /// The steps in order.
    pub steps: Vec<HelpStep>,
}

/// Help with the repair of a fault. Common practice, no source: no text here knows the car.
pub fn repair_help(fault: Fault, language: Language) -> RepairHelp {
    let own: &[Step] = match fault {
        Fault::PurgeValveLeaking | Fault::NoPurgeFlow => PURGE_VALVE,
        Fault::VentPathRestricted => VENT_PATH,
        Fault::TankSensorOffset | Fault::TankSensorSlow | Fault::TankSensorStuck => SENSOR,
        Fault::VaporLeak => LEAK,
    };
    let steps = own.iter().chain(AFTERWARDS).map(|step| HelpStep {
        cautions: step.cautions,
        title: language.of(step.title.0, step.title.1),
        text: language.of(step.text.0, step.text.1),
    });
    RepairHelp {
        first: language.of(
            "The manufacturer's manual and local rules come first; where they ask for a licensed workshop, leave the work to one.",
            "Das Handbuch des Herstellers und die örtlichen Vorschriften gehen vor; wo sie eine Fachwerkstatt verlangen, gehört die Arbeit dorthin.",
        ),
        steps: steps.collect(),
    }
}

/// A step in English and German.
struct Step {
    cautions: &'static [Caution],
    title: (&'static str, &'static str),
    text: (&'static str, &'static str),
}

const PURGE_VALVE: &[Step] = &[
    Step {
        cautions: &[Caution::BeltsAndFan, Caution::FuelVapour],
        title: ("Find the part", "Das Teil finden"),
        text: (
            "Key off, engine cool. The purge valve sits on the thin hose between the canister and the intake manifold, mostly in the engine bay; it has two hose ends and a two-pin connector.",
            "Zündung aus, Motor kalt. Das Regenerierventil sitzt in der dünnen Leitung zwischen Aktivkohlefilter und Saugrohr, meist im Motorraum; es hat zwei Schlauchenden und einen zweipoligen Stecker.",
        ),
    },
    CONNECTOR,
    FITTING,
    Step {
        cautions: &[],
        title: ("Test the new valve before it goes in", "Das neue Ventil vor dem Einbau prüfen"),
        text: (
            "Unpowered it must be closed: draw gently with a hand pump on the manifold side and see that it holds. Compare shape, connector and flow arrow with the old one.",
            "Stromlos muss es geschlossen sein: mit einer Handpumpe an der Saugrohrseite leicht ziehen und sehen, dass es hält. Form, Stecker und Pfeil mit dem alten vergleichen.",
        ),
    },
    RINGS,
    Step {
        cautions: &[],
        title: ("Route and clip", "Verlegen und befestigen"),
        text: (
            "Set the valve the way its arrow points, in its own holder. Lay hoses without a kink, clear of belts, exhaust and sharp edges, and close every clip that was opened.",
            "Das Ventil in Pfeilrichtung in seinen Halter setzen. Schläuche ohne Knick und fern von Riemen, Auspuff und scharfen Kanten verlegen und jeden geöffneten Halter wieder schließen.",
        ),
    },
];

const VENT_PATH: &[Step] = &[
    Step {
        cautions: &[Caution::ParkAndChock, Caution::FuelVapour],
        title: ("Find the part", "Das Teil finden"),
        text: (
            "Key off. Vent valve, filter and canister mostly sit near the tank. If the car must be lifted, use stands on the points in the manual, never the jack alone.",
            "Zündung aus. Belüftungsventil, Filter und Aktivkohlefilter sitzen meist beim Tank. Muss das Auto angehoben werden, dann auf Böcken an den Punkten aus dem Handbuch, nie nur auf dem Wagenheber.",
        ),
    },
    Step {
        cautions: &[],
        title: ("Look before changing anything", "Erst nachsehen, dann tauschen"),
        text: (
            "Look for mud, webs, dust and pinched hoses from the open end inwards. Part the path joint by joint and see at which joint air passes freely; the part behind it is the blocked one.",
            "Vom offenen Ende her nach Schlamm, Spinnweben, Staub und gequetschten Schläuchen suchen. Den Weg Verbindung für Verbindung trennen und sehen, ab wo Luft frei durchgeht; das Teil dahinter ist verstopft.",
        ),
    },
    CONNECTOR,
    FITTING,
    RINGS,
];

const SENSOR: &[Step] = &[
    Step {
        cautions: &[Caution::FuelVapour],
        title: ("Find the part", "Das Teil finden"),
        text: (
            "Key off. The tank pressure sensor sits on top of the tank, on the canister or in the vapour line; it has three pins and one small port.",
            "Zündung aus. Der Tankdrucksensor sitzt oben auf dem Tank, am Aktivkohlefilter oder in der Dampfleitung; er hat drei Pole und einen kleinen Anschluss.",
        ),
    },
    Step {
        cautions: &[],
        title: ("Check its wires and port first", "Zuerst Kabel und Anschluss prüfen"),
        text: (
            "A bad ground or supply reads like a bad sensor: measure both at the connector with the key on and compare with the manual. See that the small port is not blocked.",
            "Schlechte Masse oder Versorgung sieht aus wie ein schlechter Sensor: beide bei eingeschalteter Zündung am Stecker messen und mit dem Handbuch vergleichen. Nachsehen, ob der kleine Anschluss frei ist.",
        ),
    },
    CONNECTOR,
    RINGS,
];

const LEAK: &[Step] = &[
    Step {
        cautions: &[Caution::FuelVapour],
        title: ("Start with the cap", "Mit dem Deckel anfangen"),
        text: (
            "Wipe the cap's seal and the filler neck; look for cracks, rust and grit. A cap is the cheapest part of this list and the one most often at fault.",
            "Dichtung des Deckels und Einfüllstutzen abwischen; nach Rissen, Rost und Schmutz sehen. Der Deckel ist das billigste Teil der Liste und am häufigsten schuld.",
        ),
    },
    Step {
        cautions: &[Caution::SealedTank],
        title: ("Find the leak", "Das Leck finden"),
        text: (
            "Follow every hose from filler neck to canister to purge valve with eye and hand. A smoke test finds the rest; it needs regulated low pressure and belongs in a workshop that has it.",
            "Jeden Schlauch vom Einfüllstutzen über den Aktivkohlefilter bis zum Regenerierventil mit Auge und Hand verfolgen. Den Rest findet ein Rauchtest; er braucht geregelten niedrigen Druck und gehört in eine Werkstatt, die ihn hat.",
        ),
    },
    FITTING,
    RINGS,
];

const CONNECTOR: Step = Step {
    cautions: &[Caution::FuelVapour],
    title: ("Release the connector", "Den Stecker lösen"),
    text: (
        "Slide the locking tab back first, if there is one, then press the latch and pull the housing, never the wires. An old latch breaks when cold or forced: push the connector in a little, press, then pull.",
        "Zuerst die Sicherung zurückschieben, falls vorhanden, dann die Raste drücken und am Gehäuse ziehen, nie an den Kabeln. Alte Rasten brechen kalt oder mit Gewalt: Stecker etwas hineindrücken, Raste drücken, dann ziehen.",
    ),
};

const FITTING: Step = Step {
    cautions: &[Caution::FuelVapour],
    title: ("Release the quick-connect fittings", "Die Schnellkupplungen lösen"),
    text: (
        "Clean dirt off first. Push the fitting towards the part, press both tabs or the ring, then pull straight; twist a little if it sticks, never lever. Cap open ends at once.",
        "Zuerst den Schmutz entfernen. Die Kupplung zum Teil hin drücken, beide Laschen oder den Ring drücken, dann gerade abziehen; sitzt sie fest, leicht drehen, nie hebeln. Offene Enden sofort verschließen.",
    ),
};

const RINGS: Step = Step {
    cautions: &[],
    title: ("Grease the O-rings, no sealant", "O-Ringe fetten, keine Dichtmasse"),
    text: (
        "Put a thin film of silicone (dielectric) grease on new O-rings so that they slide and seal. Never use sealant, and never mineral grease. Push each fitting until it clicks, then pull to prove it.",
        "Neue O-Ringe mit einem dünnen Film Silikonfett (dielektrischem Fett) bestreichen, damit sie gleiten und dichten. Nie Dichtmasse, nie Mineralfett. Jede Kupplung drücken, bis sie einrastet, dann zur Probe ziehen.",
    ),
};

const AFTERWARDS: &[Step] = &[
    Step {
        cautions: &[Caution::FuelVapour],
        title: ("Before the engine starts", "Bevor der Motor startet"),
        text: (
            "Every hose, clip and connector back in place, cap on, no smell of fuel, no tool or rag left behind, nothing near a belt or fan.",
            "Jeder Schlauch, Halter und Stecker sitzt, Deckel zu, kein Benzingeruch, kein Werkzeug oder Lappen vergessen, nichts in der Nähe von Riemen oder Lüfter.",
        ),
    },
    Step {
        cautions: &[Caution::CarbonMonoxide, Caution::BeltsAndFan],
        title: ("Prove it", "Den Nachweis führen"),
        text: (
            "Make the same checks again before clearing any code: only the comparison shows that the repair worked.",
            "Dieselben Prüfungen noch einmal machen, bevor ein Code gelöscht wird: Nur der Vergleich zeigt, dass die Reparatur gewirkt hat.",
        ),
    },
];
