use super::chance::{Chance, Wander};

/// How this car's mixture control behaves. Shares of the fuel, times s.
#[derive(Clone, Debug)]
pub(super) struct TrimParameters {
    /// Closed loop starts this long after the engine.
    pub(super) closed_after: f64,
    /// Time constant of the short-term trim.
    pub(super) short_time: f64,
    /// Long-term trim when the visit begins.
    pub(super) long_at_start: f64,
    /// Share of commanded purge vapour that the control unit foresees.
    pub(super) foresight: f64,
    /// Noise of the short-term trim.
    pub(super) noise: f64,
    /// How full the canister's bed is when the visit begins, 0 to 1.
    pub(super) load_at_start: f64,
}

/// What acts on the mixture during a step. Flows kg/s.
#[derive(Clone, Copy, Debug)]
pub(super) struct TrimInputs {
    pub(super) seconds_running: Option<f64>,
    pub(super) air_flow: f64,
    /// Flow from the canister.
    pub(super) purge: f64,
    /// Purge command, 0 to 1.
    pub(super) command: f64,
    /// Flow that the control unit expects with the valve fully open.
    pub(super) expected_full: f64,
    pub(super) fuel_is_cut: bool,
}

/// Canister load, mixture and trims.
#[derive(Clone, Debug)]
pub(super) struct FuelTrim {
    pub(super) parameters: TrimParameters,
    load: f64,
    /// Vapour that the control unit has learnt to expect, share of fuel at full purge flow.
    learnt: f64,
    short: f64,
    long: f64,
    mixture: f64,
    /// Flow from the canister as the manifold evens it out, kg/s.
    evened: f64,
    jitter: Wander,
}

/// Seconds over which the manifold and the way to the oxygen sensor even out the valve's pulses.
const EVENING: f64 = 0.3;

/// Air that one unit of fuel needs, by mass.
const STOICHIOMETRIC: f64 = 14.6;

/// Limits of the short-term trim.
const AUTHORITY: f64 = 0.25;

impl FuelTrim {
    pub(super) fn new(parameters: TrimParameters) -> Self {
        Self {
            load: parameters.load_at_start,
            learnt: 0.0,
            short: 0.0,
            long: parameters.long_at_start,
            mixture: 0.0,
            evened: 0.0,
            jitter: Wander::new(parameters.noise, 0.8),
            parameters,
        }
    }

    /// Short-term trim, per cent; positive adds fuel.
    pub(super) fn short(&self) -> f64 {
        100.0 * (self.short + self.jitter.value())
    }

    /// Long-term trim, per cent.
    pub(super) fn long(&self) -> f64 {
        100.0 * self.long
    }

    /// How far the mixture is off after all trims, as a share of the fuel; positive is rich.
    pub(super) fn mixture(&self) -> f64 {
        self.mixture
    }

    /// Whether the control unit steers by the oxygen sensor.
    pub(super) fn is_closed(&self, seconds_running: Option<f64>) -> bool {
        seconds_running.is_some_and(|seconds| seconds > self.parameters.closed_after)
    }

    /// The canister takes up the vapour that a fill-up drives out of the tank.
    pub(super) fn take_up_refuelling_vapour(&mut self) {
        self.load = 1.0;
    }

    pub(super) fn clear(&mut self) {
        self.long = 0.0;
    }

    /// Share of the canister's flow that is fuel vapour, by mass: a full bed gives most of it
    /// away quickly.
    fn vapour_share(&self) -> f64 {
        0.015 + 0.42 * self.load * self.load
    }

    /// Moves on by `seconds`.
    pub(super) fn step(&mut self, seconds: f64, inputs: &TrimInputs, chance: &mut Chance) {
        let Some(running) = inputs.seconds_running else {
            self.short = 0.0;
            self.mixture = 0.0;
            return;
        };
        self.evened += (inputs.purge - self.evened) * (1.0 - (-seconds / EVENING).exp());
        let vapour = self.evened * self.vapour_share();
        // The bed holds of the order of 60 g; what leaves it lightens it.
        self.load = (self.load - vapour * seconds / 0.06).max(0.0);
        if inputs.fuel_is_cut || inputs.air_flow <= 1e-5 {
            self.mixture = 0.0;
            return;
        }
        let fuel = inputs.air_flow / STOICHIOMETRIC;
        let from_purge = (vapour - (self.evened - vapour) / STOICHIOMETRIC * 0.3) / fuel;
        let expected_flow = inputs.command * inputs.expected_full / fuel;
        let foreseen = self.parameters.foresight * self.learnt * expected_flow;
        let bias = -self.parameters.long_at_start;
        let untrimmed = from_purge - foreseen + bias;
        self.mixture = untrimmed + self.short + self.long;
        if running > self.parameters.closed_after {
            let gain = seconds / self.parameters.short_time;
            self.short = (self.short - gain * self.mixture).clamp(-AUTHORITY, AUTHORITY);
            self.long = (self.long + seconds / 120.0 * self.short).clamp(-AUTHORITY, AUTHORITY);
            if expected_flow > 0.02 {
                self.learnt = (self.learnt - seconds / 15.0 * self.short / expected_flow * 0.4)
                    .clamp(0.0, 0.5);
            }
            self.jitter.step(seconds, chance);
        } else {
            self.short = 0.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{FuelTrim, TrimInputs, TrimParameters};
    use crate::virtual_car::chance::{Chance, Purpose};

    const IDLE: TrimInputs = TrimInputs {
        seconds_running: Some(60.0),
        air_flow: 0.004,
        purge: 0.0,
        command: 0.0,
        expected_full: 8e-4,
        fuel_is_cut: false,
    };

    fn trim(load: f64) -> FuelTrim {
        FuelTrim::new(TrimParameters {
            closed_after: 15.0,
            short_time: 1.5,
            long_at_start: 0.02,
            foresight: 0.6,
            noise: 0.0,
            load_at_start: load,
        })
    }

    fn run(trim: &mut FuelTrim, seconds: f64, inputs: &TrimInputs) {
        let mut chance = Chance::new(1, Purpose::Control);
        for _ in 0..(seconds / 0.05) as usize {
            trim.step(0.05, inputs, &mut chance);
        }
    }

    #[test]
    fn vapour_through_a_shut_valve_takes_fuel_away() {
        let mut it = trim(0.3);
        run(&mut it, 5.0, &TrimInputs { seconds_running: Some(5.0), ..IDLE });
        assert_eq!(it.short(), 0.0);
        it.take_up_refuelling_vapour();
        run(&mut it, 10.0, &TrimInputs { purge: 1.2e-4, ..IDLE });
        assert!((-25.0..=-9.0).contains(&it.short()), "{}", it.short());
        assert!(it.mixture().abs() < 0.12, "{}", it.mixture());
    }

    /// Recovers within minutes as the bed empties (common practice, no source).
    #[test]
    fn trims_come_back_as_the_canister_empties() {
        let mut it = trim(1.0);
        run(&mut it, 600.0, &TrimInputs { purge: 1.2e-4, ..IDLE });
        let (full, half) = (it.vapour_share(), 0.435 / 2.0);
        assert!(full < half, "{full}");
    }

    #[test]
    fn without_vapour_the_trims_stay_small() {
        let mut it = trim(0.3);
        run(&mut it, 120.0, &IDLE);
        assert!(it.short().abs() < 1.0 && (it.long() - 2.0).abs() < 1.0);
    }
}
