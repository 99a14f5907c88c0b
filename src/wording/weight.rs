use super::check::check_title;
use super::fault::with_hypothesis;
use super::language::{Language, Style};
use super::measure::measure_name;
use super::number::{measure_value, number};
use super::observation::observation;
use crate::diagnosis::{Hypothesis, Source, Weight};
use crate::evidence::MeasureName;

/// A factor of the verdict in words, the conclusion unnamed: “The tank took 0.4 s to come back: 30
/// times likelier if the conclusion holds.”
pub fn weight(weight: &Weight, style: &Style) -> String {
    line(weight, style.of("if the conclusion holds", "wenn das Urteil stimmt"), style)
}

/// A factor of the verdict in words, for the hypothesis that leads: “The tank took 0.4 s to come
/// back: 30 times likelier with a restricted vent path.”
pub fn weight_for(weight: &Weight, leading: Hypothesis, style: &Style) -> String {
    line(weight, with_hypothesis(leading, style.language), style)
}

/// How many times likelier, in words, with what it is likelier under; below 1 it speaks against.
pub fn factor(factor: f64, under: &str, language: Language) -> String {
    if factor.is_nan() || factor <= 0.0 {
        return match language {
            Language::English => format!("impossible {under}"),
            Language::German => format!("unmöglich {under}"),
        };
    }
    let times = times(factor.max(1.0 / factor), language);
    match (factor, language) {
        (0.8..=1.25, Language::English) => "says little either way".to_owned(),
        (0.8..=1.25, Language::German) => "sagt in keine Richtung viel".to_owned(),
        (1.0.., Language::English) => format!("{times} times likelier {under}"),
        (1.0.., Language::German) => format!("{times}-mal wahrscheinlicher {under}"),
        (_, Language::English) => format!("{times} times less likely {under}"),
        (_, Language::German) => format!("{times}-mal unwahrscheinlicher {under}"),
    }
}

/// What a factor comes from, as a clause without full stop.
pub fn weight_source(weight: &Weight, style: &Style) -> String {
    let language = style.language;
    match &weight.source {
        Source::Prior => language
            .of("Experience, before anything was read", "Erfahrung, bevor etwas gelesen wurde")
            .to_owned(),
        Source::Code(code) => match language {
            Language::English => format!("Trouble code {code}"),
            Language::German => format!("Fehlercode {code}"),
        },
        Source::Observation(seen) => observation(*seen, language).to_owned(),
        Source::Measure(check, name) => {
            let Some(estimate) = &weight.estimate else {
                let (check, name) = (check_title(*check, language), measure_name(*name, language));
                return format!("{check}, {}", lower_first(name, language));
            };
            let value = measure_value(*name, estimate, style);
            match fact(*name, language) {
                Some(fact) => fact.replace("{}", &value),
                None => {
                    let check = check_title(*check, language);
                    let name = lower_first(measure_name(*name, language), language);
                    format!("{check}, {name}: {value}")
                }
            }
        }
    }
}

fn line(weight: &Weight, under: &str, style: &Style) -> String {
    let source = weight_source(weight, style);
    format!("{source}: {}.", factor(weight.factor, under, style.language))
}

/// Two figures are more than the models behind a factor are good for.
fn times(factor: f64, language: Language) -> String {
    if factor > 1000.0 {
        let thousand = number(1000.0, 0, language);
        return match language {
            Language::English => format!("over {thousand}"),
            Language::German => format!("über {thousand}"),
        };
    }
    let step = if factor >= 100.0 { 10.0 } else { 1.0 };
    let tenths = (factor * 10.0).round();
    if factor < 3.0 && tenths % 10.0 != 0.0 {
        number(factor, 1, language)
    } else {
        number((factor / step).round() * step, 0, language)
    }
}

/// The measures that stand most often behind a verdict, told as what happened. `{}` is the number
/// with its bounds.
const fn fact(name: MeasureName, language: Language) -> Option<&'static str> {
    use MeasureName as M;
    Some(match name {
        M::RestPressure => {
            language.of("At rest the sensor read {}", "In Ruhe zeigte der Sensor {}")
        }
        M::Movement => language
            .of("The reading moved by {} in all", "Die Anzeige bewegte sich insgesamt um {}"),
        M::ChangingReadings => language.of(
            "With the tank still, {} of the readings differed from the one before",
            "Bei ruhendem Tank wichen {} der Messwerte vom vorigen ab",
        ),
        M::IdleChange => language.of(
            "Starting the engine moved the tank by {}",
            "Der Motorstart bewegte den Tank um {}",
        ),
        M::PurgeVacuum => {
            language.of("Full purge moved the tank by {}", "Volle Spülung bewegte den Tank um {}")
        }
        M::ResponseTime => language.of(
            "The tank took {} to follow purge",
            "Bis der Tank der Spülung folgte, vergingen {}",
        ),
        M::Noise => {
            language.of("One reading differs from the next by {}", "Ein Messwert streut um {}")
        }
        M::RecoveryTime => language.of(
            "Unplugged, the tank took {} to come back",
            "Nach dem Abziehen vergingen {}, bis der Tank zurückkam",
        ),
        M::ResidualVacuum => language.of(
            "Unplugged, the tank stayed off rest by {}",
            "Nach dem Abziehen blieb der Tank um {} neben der Ruhe",
        ),
        M::VacuumWithPurgeShut => language.of(
            "With the purge shut, the engine moved the tank by {}",
            "Bei geschlossener Spülung bewegte der Motor den Tank um {}",
        ),
        M::CapOffPressure => language
            .of("With the cap off the sensor read {}", "Bei offenem Deckel zeigte der Sensor {}"),
        M::CapOffTime => language.of(
            "With the cap off the reading took {} to come back",
            "Bei offenem Deckel vergingen {}, bis die Anzeige zurückkam",
        ),
        M::SealedFlow => language.of(
            "Purging the sealed tank drew it down as a full flow of {} would",
            "Beim Spülen fiel der verschlossene Tank wie bei einem vollen Strom von {}",
        ),
        M::SealedMovement => language.of(
            "With the vent sealed the reading moved by {}",
            "Bei verschlossener Belüftung bewegte sich die Anzeige um {}",
        ),
        M::VentedTime => language.of(
            "With the vent open again the tank took {} to come back",
            "Mit wieder offener Belüftung vergingen {}, bis der Tank zurückkam",
        ),
        M::VentTime => language.of(
            "By how fast purge drew the sealed tank down, the vent alone takes {} to let it back",
            "So schnell wie die Spülung den verschlossenen Tank leerzog, braucht die Belüftung allein {} für die Rückkehr",
        ),
        M::GivenBack => language.of(
            "Of what the reading moved while sealed, it gave back {} once the vent was open",
            "Von ihrer Änderung im verschlossenen Tank gab die Anzeige beim Öffnen {} zurück",
        ),
        M::SealedPull => language.of(
            "Sealed and with the valve shut, the pressure moved by {}",
            "Verschlossen und bei geschlossenem Ventil änderte sich der Druck um {}",
        ),
        M::SealedLeak => language.of(
            "As stopping the engine showed, the shut valve let through {} of full purge",
            "Wie das Abstellen des Motors zeigte, ließ das geschlossene Ventil {} der vollen Spülung durch",
        ),
        M::SealedHole => language.of(
            "Sealed, the system lost vacuum as through a hole of {}",
            "Verschlossen verlor das System Unterdruck wie durch ein Loch von {}",
        ),
        M::SealedVacuum => language.of(
            "With the vent sealed the tank reached {}",
            "Bei verschlossener Belüftung erreichte der Tank {}",
        ),
        M::TrimExcursion => language.of(
            "After the fill-up the fuel trim moved by {}",
            "Nach dem Tanken bewegte sich die Gemischkorrektur um {}",
        ),
        M::TrimWithPurge => language.of(
            "With purge the fuel trim moved by {}",
            "Bei Spülung bewegte sich die Gemischkorrektur um {}",
        ),
        _ => return None,
    })
}

fn lower_first(title: &str, language: Language) -> String {
    match language {
        Language::German => title.to_owned(),
        Language::English => {
            let mut letters = title.chars();
            letters
                .next()
                .map_or(String::new(), |first| first.to_lowercase().chain(letters).collect())
        }
    }
}
