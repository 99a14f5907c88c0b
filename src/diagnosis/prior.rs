//! How common the faults are before anything was measured, and what trouble codes change in that.

use super::Hypothesis;
use crate::vehicle::Fault;

/// Odds of the hypotheses for a car whose light is on and of which nothing else is known. Common
/// practice, no source: on cars that come with a stored fault many are found sound once looked at,
/// and leaks outnumber sensors. No single fault can be named on its prior.
pub(super) fn prior(hypothesis: Hypothesis) -> f64 {
    match hypothesis {
        Hypothesis::None => 0.70,
        Hypothesis::Fault(PurgeValveLeaking) => 0.075,
        Hypothesis::Fault(VaporLeak) => 0.019,
        Hypothesis::Fault(NoPurgeFlow | VentPathRestricted) => 0.05,
        Hypothesis::Fault(TankSensorOffset | TankSensorSlow | TankSensorStuck) => 0.03,
    }
}

/// How much likelier a code makes a fault, by what the code's test looks at.
struct Row {
    codes: &'static [&'static str],
    favours: &'static [(Fault, f64)],
    /// The same for a sound car: codes linger, but seldom come from nothing.
    none: f64,
}

use Fault::{
    NoPurgeFlow, PurgeValveLeaking, TankSensorOffset, TankSensorSlow, TankSensorStuck, VaporLeak,
    VentPathRestricted,
};

/// Codes by family (SAE J2012; what each family's test can be fooled by is common practice, no
/// source). Everything not listed keeps a factor of one.
const ROWS: [Row; 9] = [
    Row {
        codes: &["P0442", "P0455", "P0456", "P0457"],
        favours: &[(VaporLeak, 10.0), (PurgeValveLeaking, 3.0), (NoPurgeFlow, 2.0)],
        none: 0.5,
    },
    Row {
        codes: &["P0496"],
        favours: &[(PurgeValveLeaking, 20.0), (TankSensorOffset, 3.0)],
        none: 0.4,
    },
    Row {
        codes: &["P0441"],
        favours: &[(NoPurgeFlow, 9.0), (PurgeValveLeaking, 8.0), (TankSensorStuck, 5.0)],
        none: 0.4,
    },
    Row { codes: &["P0497"], favours: &[(NoPurgeFlow, 15.0), (TankSensorStuck, 3.0)], none: 0.4 },
    Row {
        codes: &["P0446", "P0448", "P2422", "P0449", "P0498", "P0499", "P2421"],
        favours: &[(VentPathRestricted, 15.0)],
        none: 0.4,
    },
    Row {
        codes: &["P0450", "P0451", "P0452", "P0453", "P0454"],
        favours: &[(TankSensorOffset, 10.0), (TankSensorStuck, 10.0), (TankSensorSlow, 8.0)],
        none: 0.4,
    },
    Row {
        codes: &["P0443", "P0444", "P0445", "P0458", "P0459"],
        favours: &[(NoPurgeFlow, 8.0), (PurgeValveLeaking, 2.0)],
        none: 0.5,
    },
    Row {
        codes: &["P0172", "P0175", "P2188", "P2190"],
        favours: &[(PurgeValveLeaking, 3.0)],
        none: 0.8,
    },
    Row { codes: &["P0440"], favours: &[(VaporLeak, 3.0), (PurgeValveLeaking, 2.0)], none: 0.5 },
];

/// The factor that a code puts on a hypothesis.
pub(super) fn code_factor(code: &str, hypothesis: Hypothesis) -> f64 {
    let Some(row) = ROWS.iter().find(|row| row.codes.contains(&code)) else { return 1.0 };
    match hypothesis {
        Hypothesis::None => row.none,
        Hypothesis::Fault(fault) => row
            .favours
            .iter()
            .find(|(favoured, _)| *favoured == fault)
            .map_or(1.0, |(_, factor)| *factor),
    }
}

/// How the hypotheses stand with these codes read and nothing measured: all that a person has who
/// buys parts by the code. The probabilities sum to 1.
pub fn odds_of_codes(codes: &[String]) -> Vec<(Hypothesis, f64)> {
    let mut known = 0.0;
    let mut odds: Vec<(Hypothesis, f64)> = Hypothesis::all().map(|it| (it, prior(it))).collect();
    for code in codes.iter().filter(|code| is_known(code)) {
        // As in weighing: each further code of one cause counts by its root.
        known += 1.0;
        for (hypothesis, odds) in &mut odds {
            *odds *= code_factor(code, *hypothesis).powf(1.0 / known);
        }
    }
    let total: f64 = odds.iter().map(|it| it.1).sum();
    odds.into_iter().map(|(hypothesis, odds)| (hypothesis, odds / total)).collect()
}

/// Whether a code says anything here.
pub(super) fn is_known(code: &str) -> bool {
    ROWS.iter().any(|row| row.codes.contains(&code))
}

#[cfg(test)]
mod tests {
    use super::odds_of_codes;
    use crate::diagnosis::weigh;
    use crate::evidence::Findings;

    #[test]
    fn the_odds_of_codes_are_those_of_a_visit_without_a_check() {
        for codes in [vec![], vec!["P0496"], vec!["P0442", "P0455", "P0172"], vec!["P1450"]] {
            let codes: Vec<String> = codes.into_iter().map(str::to_owned).collect();
            let findings = Findings { codes: codes.clone(), ..Findings::default() };
            for (told, weighed) in odds_of_codes(&codes).iter().zip(weigh(&findings).probabilities)
            {
                assert_eq!(told.0, weighed.0);
                assert!((told.1 - weighed.1).abs() < 1e-12, "{codes:?}: {told:?} {weighed:?}");
            }
        }
    }
}
