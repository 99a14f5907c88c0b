use super::chance::{Chance, Wander};

/// How this car's control unit purges. Duties are shares (0 to 1), times s.
#[derive(Clone, Debug)]
pub(super) struct PurgeParameters {
    /// After the start it waits this long.
    pub(super) delay: f64,
    /// Below this coolant temperature it does not purge, °C.
    pub(super) coolant_from: f64,
    /// Duty it works towards at idle.
    pub(super) duty: f64,
    /// Rise per second.
    pub(super) ramp: f64,
    /// Slow modulation around the duty: deviation and memory.
    pub(super) modulation: (f64, f64),
    /// Whether it shuts on overrun and with the throttle wide open.
    pub(super) shuts_on_transients: bool,
    /// Pulses per second.
    pub(super) frequency: f64,
    /// Seconds that the valve's plunger needs to lift: shorter pulses do not open it.
    pub(super) lift_time: f64,
    /// Vacuum in the tank at which it stops, by its own sensor, Pa.
    pub(super) stop_vacuum: f64,
}

/// What the controller sees.
#[derive(Clone, Copy, Debug)]
pub(super) struct PurgeInputs {
    pub(super) seconds_running: Option<f64>,
    pub(super) coolant: f64,
    pub(super) opening: f64,
    pub(super) fuel_is_cut: bool,
    /// Tank pressure as the control unit reads it, Pa.
    pub(super) tank: f64,
    /// Short-term trim, share; a loaded canister pulls it down.
    pub(super) short_trim: f64,
}

/// Commands the purge valve. It does not know whether the valve is plugged in.
#[derive(Clone, Debug)]
pub(super) struct PurgeControl {
    pub(super) parameters: PurgeParameters,
    duty: f64,
    ramp_factor: f64,
    modulation: Wander,
    /// Seconds until it dares to purge again after the tank went too far into vacuum.
    stopped: f64,
    phase: f64,
}

/// Seconds that it stays shut after a stop, unless the tank comes back before.
const STOP_SECONDS: f64 = 180.0;

/// Short-term trims at which the duty rises no further, and at which it falls.
const MUCH_VAPOUR: f64 = -0.10;
const TOO_MUCH_VAPOUR: f64 = -0.17;

impl PurgeControl {
    pub(super) fn new(parameters: PurgeParameters) -> Self {
        let (deviation, memory) = parameters.modulation;
        Self {
            duty: 0.0,
            ramp_factor: 1.0,
            modulation: Wander::new(deviation, memory),
            stopped: 0.0,
            phase: 0.0,
            parameters,
        }
    }

    /// The command as the control unit reports and outputs it: whole steps of 1/255.
    pub(super) fn command(&self) -> f64 {
        (self.duty * 255.0).round() / 255.0
    }

    /// Moves on by `seconds`.
    pub(super) fn step(&mut self, seconds: f64, inputs: &PurgeInputs, chance: &mut Chance) {
        let it = &self.parameters;
        if inputs.tank < -it.stop_vacuum {
            self.stopped = STOP_SECONDS;
        } else if inputs.tank > -200.0 {
            self.stopped = 0.0;
        } else {
            self.stopped = (self.stopped - seconds).max(0.0);
        }
        let wander = self.modulation.step(seconds, chance);
        let allowed = inputs.seconds_running.is_some_and(|it_runs| it_runs > it.delay)
            && inputs.coolant > it.coolant_from
            && self.stopped <= 0.0;
        let transient = it.shuts_on_transients && (inputs.fuel_is_cut || inputs.opening > 0.7);
        if !allowed {
            self.duty = 0.0;
            self.ramp_factor = 1.0;
        } else if transient {
            self.duty = 0.0;
            self.ramp_factor = 3.0;
        } else {
            let goal = (it.duty + wander).clamp(0.08, 1.0);
            let rise = it.ramp * self.ramp_factor * seconds;
            self.duty = if inputs.short_trim < TOO_MUCH_VAPOUR {
                (self.duty - 0.06 * seconds).max(0.04)
            } else if goal < self.duty {
                goal
            } else {
                // The richer the vapour, the slower it goes on.
                let leave = (1.0 - inputs.short_trim / MUCH_VAPOUR).clamp(0.0, 1.0);
                (self.duty + rise * leave).min(goal)
            };
        }
    }

    /// Share of the next `seconds` in which the plugged-in valve stands open, and moves the pulse
    /// on by as much.
    pub(super) fn open_share(&mut self, seconds: f64) -> f64 {
        let it = &self.parameters;
        let command = self.command();
        if command <= 0.0 {
            self.phase = 0.0;
            return 0.0;
        }
        if command >= 1.0 {
            return 1.0;
        }
        let period = 1.0 / it.frequency;
        let width = (command * period - it.lift_time).max(0.0);
        // The pulse opens at phase `lift_time` of each period and stays for `width`.
        let (from, to) = (self.phase, self.phase + seconds);
        self.phase = to % period;
        let mut open = 0.0;
        let mut start = it.lift_time;
        while start < to {
            open += (to.min(start + width) - from.max(start)).max(0.0);
            start += period;
        }
        (open / seconds).clamp(0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::{PurgeControl, PurgeInputs, PurgeParameters};
    use crate::virtual_car::chance::{Chance, Purpose};

    fn control() -> PurgeControl {
        PurgeControl::new(PurgeParameters {
            delay: 20.0,
            coolant_from: 40.0,
            duty: 0.4,
            ramp: 0.03,
            modulation: (0.03, 15.0),
            shuts_on_transients: true,
            frequency: 10.0,
            lift_time: 0.005,
            stop_vacuum: 2000.0,
        })
    }

    const IDLE: PurgeInputs = PurgeInputs {
        seconds_running: Some(30.0),
        coolant: 80.0,
        opening: 0.0,
        fuel_is_cut: false,
        tank: -100.0,
        short_trim: 0.0,
    };

    fn command_after(control: &mut PurgeControl, seconds: f64, inputs: &PurgeInputs) -> f64 {
        let mut chance = Chance::new(1, Purpose::Control);
        for _ in 0..(seconds / 0.1) as usize {
            control.step(0.1, inputs, &mut chance);
        }
        control.command()
    }

    #[test]
    fn purge_waits_ramps_and_shuts_when_it_must() {
        let mut it = control();
        assert_eq!(
            command_after(&mut it, 5.0, &PurgeInputs { seconds_running: Some(5.0), ..IDLE }),
            0.0
        );
        assert_eq!(command_after(&mut it, 5.0, &PurgeInputs { coolant: 20.0, ..IDLE }), 0.0);
        let ramping = command_after(&mut it, 5.0, &IDLE);
        assert!((0.1..0.2).contains(&ramping), "{ramping}");
        let steady = command_after(&mut it, 60.0, &IDLE);
        assert!((0.25..0.55).contains(&steady), "{steady}");
        let rich = command_after(&mut it, 3.0, &PurgeInputs { short_trim: -0.2, ..IDLE });
        assert!(rich < steady - 0.1, "{rich}");
        assert_eq!(command_after(&mut it, 0.2, &PurgeInputs { opening: 0.9, ..IDLE }), 0.0);
        assert!(command_after(&mut it, 5.0, &IDLE) > 0.2);
        assert_eq!(command_after(&mut it, 0.2, &PurgeInputs { tank: -2100.0, ..IDLE }), 0.0);
        assert_eq!(command_after(&mut it, 20.0, &PurgeInputs { tank: -900.0, ..IDLE }), 0.0);
    }

    #[test]
    fn pulses_open_the_valve_for_the_duty_less_its_lift() {
        let mut it = control();
        command_after(&mut it, 60.0, &IDLE);
        let command = it.command();
        let open: f64 = (0..2000).map(|_| it.open_share(0.005)).sum::<f64>() / 2000.0;
        assert!((open - (command - 0.05)).abs() < 2e-3, "{open} of {command}");
        let shares: Vec<f64> = (0..20).map(|_| it.open_share(0.005)).collect();
        assert!(shares.contains(&0.0) && shares.contains(&1.0));
    }
}
