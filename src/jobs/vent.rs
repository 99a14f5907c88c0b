use std::time::Duration;

use chrono::{DateTime, Utc};

use super::declared::block;
use super::{Event, JobError, LinkAddress, MachineClock, Workshop, connect};
use crate::link::{Answer, Consent, Link, LinkError, Request};
use crate::recording::{Action, ActionAt};
use crate::store::Listening;
use crate::vehicle::{Service, SupportedParameters};
use crate::wording::Language;

/// After how long the person is reminded that the vent may still be closed. Control units end it by
/// themselves, mostly within a few minutes (common practice, no source).
pub const VENT_LIMIT: Duration = Duration::from_secs(600);

/// Item 00 of service 08: which of the tests there are.
const LIST: u8 = 0x00;

/// Since when the vent is closed by request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct ClosedVent {
    /// On the clock of the wall.
    pub(super) date: DateTime<Utc>,
    /// On the program's clock.
    pub(super) since: crate::units::Instant,
}

/// What is to be read before agreeing to the request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct VentWords {
    /// What is asked of the car.
    pub what: &'static str,
    /// When it ends by itself.
    pub limit: &'static str,
    /// What the window does about it; the command line has ended by then.
    pub reminder: &'static str,
    /// How to end it at once.
    pub way_out: &'static str,
    /// What must not be done meanwhile.
    pub caution: &'static str,
}

/// What is to be read before agreeing to the request.
pub const fn vent_words(language: Language) -> VentWords {
    VentWords {
        what: language.of(
            "Asks the engine's control unit, once, to close the vent valve as for its own leak test (service 08, test 01). The tank is then sealed.",
            "Bittet das Motorsteuergerät einmal, das Belüftungsventil wie zur eigenen Leckprüfung zu schließen (Dienst 08, Test 01). Der Tank ist dann dicht.",
        ),
        limit: language.of(
            "The control unit opens it again by itself. When is its maker's choice, mostly within a few minutes (common practice).",
            "Das Steuergerät öffnet es von selbst wieder. Wann, bestimmt der Hersteller, meist nach wenigen Minuten (übliche Praxis).",
        ),
        reminder: language.of(
            "After 10 minutes this program reminds you.",
            "Nach 10 Minuten erinnert dieses Programm daran.",
        ),
        way_out: language.of(
            "To end it at once, turn the key off: without current the vent valve opens on nearly every car (common practice).",
            "Sofort beenden: Zündung aus. Ohne Strom öffnet das Belüftungsventil bei fast jedem Auto (übliche Praxis).",
        ),
        caution: language.of(
            "Do not refuel, press air into the tank or drive while the vent is closed.",
            "Nicht tanken, keine Luft in den Tank drücken und nicht fahren, solange das Ventil zu ist.",
        ),
    }
}

/// Says that the vent may still be closed.
pub(super) const fn reminder(language: Language) -> &'static str {
    language.of(
        "The vent was closed 10 minutes ago. Turn the key off to open it.",
        "Das Belüftungsventil wurde vor 10 Minuten geschlossen. Zündung aus öffnet es.",
    )
}

/// Asks once for the vent to be closed, after the person agreed to it.
///
/// Which tests there are is asked first, under the same agreement: that question is of service 08
/// as well, and one damaged digit would make it the request itself.
///
/// # Errors
/// [`JobError::VentNotOffered`] where no unit has this test, [`LinkError::Refused`] with the car's
/// reason where it has it and will not.
pub(super) fn close_vent(link: &mut Link) -> Result<(), JobError> {
    let offered = match ask(link, &[LIST]) {
        Ok(answers) => tests(&answers),
        Err(LinkError::NoData | LinkError::Refused { .. }) => SupportedParameters::default(),
        Err(error) => return Err(error.into()),
    };
    if !offered.contains(Service::LEAK_TEST) {
        return Err(JobError::VentNotOffered);
    }
    let answers = ask(link, &[Service::LEAK_TEST, 0, 0, 0, 0, 0])?;
    let accepts = |answer: &Answer| {
        let content = Service::TestControl.content(&answer.payload);
        content.is_ok_and(|content| content.first() == Some(&Service::LEAK_TEST))
    };
    if answers.iter().any(accepts) { Ok(()) } else { Err(LinkError::Damaged.into()) }
}

/// Connects, asks once for the vent to be closed, and lets go. Called only after the person agreed.
///
/// # Errors
/// Those of connecting, and why the car will not.
pub fn close_vent_of(address: &LinkAddress, clock: MachineClock) -> Result<(), JobError> {
    let mut source = connect::connect(address, clock, &Listening::default(), &mut |_| {})?;
    close_vent(&mut source.car()?.link)
}

/// One request of service 08. Each spends an agreement of its own.
fn ask(link: &mut Link, data: &[u8]) -> Result<Vec<Answer>, LinkError> {
    let service = Service::TestControl.request();
    link.request(&Request::new(service, data).with_consent(Consent::given_for(service)))
}

fn tests(answers: &[Answer]) -> SupportedParameters {
    let mut found = SupportedParameters::default();
    for answer in answers {
        let map = Service::TestControl.content(&answer.payload).ok().and_then(block);
        if let Some(map) = map {
            // A map that is none adds nothing.
            let _unsound = found.add_answer(&map);
        }
    }
    found
}

impl Workshop {
    /// Has the car close its vent, after the person agreed to this one request.
    pub(super) fn close_vent(&mut self, consent: bool) -> Result<(), JobError> {
        if !consent {
            return Err(JobError::VentConsentNeeded);
        }
        let source = self.source.as_mut().ok_or(JobError::NotConnected)?;
        close_vent(&mut source.car()?.link)?;
        let closed = ClosedVent { date: self.date(), since: self.clock.now() };
        let (visit, store) = self.open_visit_mut()?;
        visit.closed_vent = Some(closed);
        visit.take_action(ActionAt { at: visit.clock.now(), action: Action::VentSealed });
        visit.save(store)?;
        self.show_card()
    }

    /// Reminds the person once that the vent may still be closed.
    pub(super) fn remind_of_vent(&mut self) -> Result<(), JobError> {
        let now = self.clock.now();
        let Some(visit) = &mut self.visit else { return Ok(()) };
        let Some(closed) = visit.closed_vent else { return Ok(()) };
        let last = visit.recording.actions().iter().rfind(|it| {
            matches!(it.action, Action::VentSealed | Action::VentOpened | Action::EngineStarted)
        });
        let opened = last.is_some_and(|it| it.action != Action::VentSealed);
        if opened {
            visit.closed_vent = None;
            return self.show_card();
        }
        if now.saturating_since(closed.since) >= VENT_LIMIT {
            visit.closed_vent = None;
            self.emit(Event::Reminder(reminder(self.style.language).to_owned()));
            return self.show_card();
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;
    use std::time::Duration;

    use super::VENT_LIMIT;
    use crate::jobs::{Command, Event, JobError, LinkAddress, Workshop};
    use crate::link::LinkError;
    use crate::recording::Action;
    use crate::wording::Style;

    fn workshop(folder: &tempfile::TempDir, seed: u64) -> (Workshop, mpsc::Receiver<Event>) {
        let (sender, events) = mpsc::channel();
        let database = folder.path().join(format!("{seed}.db"));
        let mut workshop = Workshop::open(&database, Style::default(), sender).unwrap();
        let name = "Practice".to_owned();
        let add = Command::AddVehicle { name, vin: String::new(), notes: String::new() };
        workshop.attempt(add).unwrap();
        workshop.attempt(Command::StartVisit { vehicle: 1 }).unwrap();
        let address = LinkAddress::Virtual { fault: None, seed, real_time: false };
        workshop.attempt(Command::Connect(address)).unwrap();
        (workshop, events)
    }

    /// Every second virtual car has the test.
    #[test]
    fn the_vent_closes_on_cars_that_declare_it_and_only_with_consent() {
        let folder = tempfile::tempdir().unwrap();
        let (mut closed, mut not_offered) = (0, 0);
        for seed in 0..12 {
            let (mut workshop, _events) = workshop(&folder, seed);
            let refused = workshop.attempt(Command::CloseVent { consent: false });
            assert!(matches!(refused, Err(JobError::VentConsentNeeded)), "{refused:?}");
            let sealed = |workshop: &Workshop| {
                let actions = workshop.visit.as_ref().unwrap().recording.actions();
                actions.iter().any(|it| it.action == Action::VentSealed)
            };
            assert!(!sealed(&workshop), "seed {seed}");
            match workshop.attempt(Command::CloseVent { consent: true }) {
                Ok(()) => {
                    closed += 1;
                    assert!(sealed(&workshop), "seed {seed}");
                    let command = crate::vehicle::Signal::VentCommand;
                    // The car's own word where it gives one by an own request is not asked here;
                    // what the card shows is the moment.
                    assert!(workshop.visit.as_ref().unwrap().closed_vent.is_some(), "{command:?}");
                }
                Err(JobError::VentNotOffered) => {
                    not_offered += 1;
                    assert!(!sealed(&workshop), "seed {seed}");
                }
                Err(JobError::Link(LinkError::Refused { .. })) => panic!("seed {seed}: it stands"),
                Err(error) => panic!("seed {seed}: {error}"),
            }
        }
        assert!(closed >= 3 && not_offered >= 3, "{closed} {not_offered}");
    }

    /// A visit whose car has its vent closed at the person's request.
    fn closed(folder: &tempfile::TempDir) -> (Workshop, mpsc::Receiver<Event>) {
        for seed in 20.. {
            let (mut workshop, events) = workshop(folder, seed);
            if workshop.attempt(Command::CloseVent { consent: true }).is_ok() {
                return (workshop, events);
            }
        }
        unreachable!("every second car has the test")
    }

    /// What the card says of the vent, and the reminders since the last look.
    fn told(events: &mpsc::Receiver<Event>) -> (Option<bool>, Vec<String>) {
        let (mut on_card, mut reminders) = (None, Vec::new());
        for event in events.try_iter() {
            match event {
                Event::Visit(card) => on_card = Some(card.vent_closed.is_some()),
                Event::Reminder(words) => reminders.push(words),
                _ => {}
            }
        }
        (on_card, reminders)
    }

    #[test]
    fn a_vent_left_closed_is_reminded_of_once_with_the_way_out() {
        let folder = tempfile::tempdir().unwrap();
        let (mut workshop, events) = closed(&folder);
        assert_eq!(told(&events), (Some(true), vec![]), "the card says that it is closed");
        workshop.disconnect().unwrap();
        workshop.turn();
        assert_eq!(told(&events).1, Vec::<String>::new(), "not yet");
        let vent = workshop.visit.as_mut().unwrap().closed_vent.as_mut().unwrap();
        let earlier = vent.since.micros() - VENT_LIMIT.as_micros() as i64;
        vent.since = crate::units::Instant::from_micros(earlier);
        workshop.turn();
        let (on_card, reminders) = told(&events);
        assert_eq!((on_card, reminders.len()), (Some(false), 1));
        assert!(reminders[0].contains("10 minutes") && reminders[0].contains("Turn the key off"));
        workshop.turn();
        assert_eq!(told(&events), (None, vec![]), "once");
    }

    #[test]
    fn opening_the_vent_or_starting_the_engine_is_the_way_out() {
        for way_out in [Action::VentOpened, Action::EngineStarted] {
            let folder = tempfile::tempdir().unwrap();
            let (mut workshop, events) = closed(&folder);
            told(&events);
            workshop.disconnect().unwrap();
            // A deed is later than what it undoes.
            let visit = workshop.visit.as_mut().unwrap();
            let now = visit.clock.now();
            visit.clock.follow(now + Duration::from_secs(5));
            workshop.attempt(Command::Mark(way_out)).unwrap();
            workshop.turn();
            let (on_card, reminders) = told(&events);
            assert_eq!((on_card, reminders.len()), (Some(false), 0), "{way_out:?}");
            assert!(workshop.visit.as_ref().unwrap().closed_vent.is_none());
        }
    }
}
