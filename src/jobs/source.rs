use std::time::Duration;

use super::poll::{Offer, Poller};
use super::replay::Player;
use super::run_check::action_of;
use super::tank_choice::{self, Chosen, WhyThisSource};
use super::visit::Sample;
use super::{JobError, TankSourceLine, control_units};
use crate::evidence::Check;
use crate::link::{Link, LinkError};
use crate::recording::{Action, ActionAt};
use crate::store::Listening;
use crate::units::Instant;
use crate::vehicle::{ControlUnit, CustomSignal, Signal, TankSource};
use crate::virtual_car::Garage;
use crate::wording::Language;

/// How much of a recording is played at once.
const REPLAY_STRIDE: Duration = Duration::from_millis(100);

/// Samples and deeds that came in one go, on the source's clock.
#[derive(Debug, Default)]
pub(super) struct Catch {
    /// Samples in order of time.
    pub(super) samples: Vec<Sample>,
    /// What the person said they did.
    pub(super) actions: Vec<ActionAt>,
}

/// Where samples come from.
pub(super) enum Source {
    /// A car, real or virtual.
    Car(Box<CarLink>),
    /// A recording.
    Replay(Player),
}

impl Source {
    /// The time on the source's clock.
    pub(super) fn now(&self) -> Instant {
        match self {
            Self::Car(car) => car.link.now(),
            Self::Replay(player) => player.now(),
        }
    }

    /// The car, unless a recording stands in for it.
    pub(super) fn car(&mut self) -> Result<&mut CarLink, JobError> {
        match self {
            Self::Car(car) => Ok(car),
            Self::Replay(_) => Err(JobError::OnlyARecording),
        }
    }

    /// The virtual car's garage, if there is one.
    pub(super) fn garage(&self) -> Option<&Garage> {
        match self {
            Self::Car(car) => car.garage.as_ref(),
            Self::Replay(_) => None,
        }
    }

    /// The signals that can be polled.
    pub(super) fn signals(&self) -> Vec<Signal> {
        match self {
            Self::Car(car) => car.signals(),
            Self::Replay(player) => player.signals(),
        }
    }

    /// Polls as the check wants it.
    pub(super) fn poll_for(&mut self, check: Option<Check>) {
        if let Self::Car(car) = self {
            car.poller = Poller::new(&car.offer, check).with_reference_of(&car.poller);
        }
    }

    /// Readings a second over all signals, once measured.
    pub(super) fn readings_per_second(&self) -> Option<f64> {
        match self {
            Self::Car(car) => car.poller.readings_per_second(),
            Self::Replay(_) => None,
        }
    }

    /// What comes next.
    pub(super) fn poll(&mut self) -> Result<Catch, LinkError> {
        match self {
            Self::Car(car) => car.poll(),
            Self::Replay(player) => {
                let (samples, actions) = player.play(player.now() + REPLAY_STRIDE);
                Ok(Catch { samples, actions })
            }
        }
    }

    /// Whether there is nothing more to come.
    pub(super) fn is_over(&self) -> bool {
        matches!(self, Self::Replay(player) if player.is_over())
    }
}

/// The link to a car with what it offers.
pub(super) struct CarLink {
    /// The link.
    pub(super) link: Link,
    offer: Offer,
    /// Every request of the person's own; the offer leaves out what another source gives.
    own: Vec<CustomSignal>,
    tank: Option<Chosen>,
    poller: Poller,
    garage: Option<Garage>,
}

impl CarLink {
    /// Asks the car what it offers and makes ready to poll it.
    pub(super) fn new(
        mut link: Link,
        garage: Option<Garage>,
        wanted: &Listening,
    ) -> Result<Self, JobError> {
        let units = control_units::discover(&mut link)?;
        let own = wanted.own_signals.clone();
        let tank = tank_choice::choose(&mut link, &units, &own, wanted.tank_source)?;
        let offer = offer(units, &own, tank.as_ref());
        let poller = Poller::new(&offer, None);
        Ok(Self { link, offer, own, tank, poller, garage })
    }

    /// Where tank pressure comes from, in the words of the card; nothing where the car does not
    /// offer it.
    pub(super) fn tank_source(&self, language: Language) -> Option<TankSourceLine> {
        self.tank.as_ref().map(|chosen| tank_choice::line(chosen, language))
    }

    /// Takes tank pressure from another source that is offered, or leaves the choice to the program
    /// again; returns whether the source is offered.
    ///
    /// # Errors
    /// When the link fails while the program looks at what is offered.
    pub(super) fn use_tank_source(
        &mut self,
        source: Option<TankSource>,
        check: Option<Check>,
    ) -> Result<bool, JobError> {
        match (source, &mut self.tank) {
            (None, _) => {
                self.tank =
                    tank_choice::choose(&mut self.link, &self.offer.units, &self.own, None)?;
            }
            (Some(source), Some(chosen)) if chosen.offered.contains(&source) => {
                (chosen.source, chosen.why) = (source, WhyThisSource::ByHand);
            }
            _ => return Ok(false),
        }
        let units = std::mem::take(&mut self.offer.units);
        self.offer = offer(units, &self.own, self.tank.as_ref());
        self.poller = Poller::new(&self.offer, check);
        Ok(true)
    }

    /// The signals that can be polled.
    pub(super) fn signals(&self) -> Vec<Signal> {
        self.offer.signals()
    }

    /// The person's own request for a signal, if one gives it.
    pub(super) fn own(&self, signal: Signal) -> Option<CustomSignal> {
        self.offer.own.iter().find(|own| own.signal == signal).copied()
    }

    /// Whether any unit offers a parameter.
    pub(super) fn offers(&self, parameter: u8) -> bool {
        self.offer.units.iter().any(|unit| unit.supported.contains(parameter))
    }

    /// Readings a second of tank pressure, once measured.
    pub(super) fn tank_rate(&self) -> Option<f64> {
        self.poller.tank_rate()
    }

    fn poll(&mut self) -> Result<Catch, LinkError> {
        let samples = self.poller.poll(&mut self.link)?;
        let words = self.garage.as_ref().map(Garage::done_acts).unwrap_or_default();
        let deed = |(at, act)| Some(ActionAt { at, action: action_of(act)? });
        let zeroed =
            self.poller.take_zeroed().map(|at| ActionAt { at, action: Action::TankZeroed });
        Ok(Catch { samples, actions: words.into_iter().filter_map(deed).chain(zeroed).collect() })
    }
}

/// What is polled: an own request for tank pressure only where it is the source that was chosen.
fn offer(units: Vec<ControlUnit>, own: &[CustomSignal], tank: Option<&Chosen>) -> Offer {
    let source = tank.map(|chosen| chosen.source);
    let taken =
        |it: &&CustomSignal| it.signal != Signal::TankPressure || source == Some(TankSource::Own);
    Offer { units, own: own.iter().filter(taken).copied().collect(), tank: source }
}
