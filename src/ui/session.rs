use std::cell::{Ref, RefCell, RefMut};
use std::rc::Rc;
use std::sync::mpsc::Sender;

use slint::{ComponentHandle, Weak};

use super::device_adapter::{self, DeviceState};
use super::explore::Explore;
pub(super) use super::known::Known;
use super::known::show_card;
use super::markup::{AppWindow, LiveAdapter, Navigation, Page, StripPlace};
use super::sound::Sound;
use super::window::StartUp;
use super::{
    backups_adapter, car_adapter, check_adapter, closing_adapter, comparison_adapter,
    connect_adapter, details_adapter, histories_adapter, live_adapter, more_adapter,
    moving_adapter, photos_adapter, proof_adapter, repair_adapter, report_adapter,
    settings_adapter, signals_adapter, vehicle_adapter, vehicles_adapter, verdict_adapter,
    visit_adapter,
};
use crate::diagnosis::VerdictOutcome;
use crate::jobs::{Command, Event, HistoryCommand, LinkState, SetupStep, VisitCard};
use crate::platform::{Device, Feel};
use crate::units::Instant;
use crate::vehicle::Fault;

/// The window with what it knows and the way to the worker.
pub(super) struct Session {
    window: Weak<AppWindow>,
    commands: Sender<Command>,
    known: RefCell<Known>,
    sound: Sound,
    device: Rc<dyn Device>,
    device_state: RefCell<DeviceState>,
}

impl Session {
    /// Connects every page of the window.
    pub(super) fn connect(
        window: &AppWindow,
        commands: Sender<Command>,
        sound: Sound,
        device: Rc<dyn Device>,
    ) -> Rc<Self> {
        window.global::<LiveAdapter>().set_has_sound(sound.is_there());
        let session = Rc::new(Self {
            window: window.as_weak(),
            commands,
            known: RefCell::new(Known { currency: "USD".to_owned(), ..Known::default() }),
            sound,
            device,
            device_state: RefCell::default(),
        });
        device_adapter::connect(window, session.device.as_ref());
        vehicles_adapter::connect(window, &session);
        visit_adapter::connect(window, &session);
        connect_adapter::connect(window, &session);
        check_adapter::connect(window, &session);
        verdict_adapter::connect(window, &session);
        live_adapter::connect(window, &session);
        vehicle_adapter::connect(window, &session);
        repair_adapter::connect(window, &session);
        proof_adapter::connect(window, &session);
        closing_adapter::connect(window, &session);
        more_adapter::connect(window, &session);
        report_adapter::connect(window, &session);
        settings_adapter::connect(window, &session);
        photos_adapter::connect(window, &session);
        car_adapter::connect(window, &session);
        signals_adapter::connect(window, &session);
        backups_adapter::connect(window, &session);
        details_adapter::connect(window, &session);
        moving_adapter::connect(window, &session);
        histories_adapter::connect(window, &session);
        let to = Rc::downgrade(&session);
        window.global::<Navigation>().on_left(move |page| {
            if let Some(session) = to.upgrade() {
                session.leave(page);
            }
        });
        let to = Rc::downgrade(&session);
        window.global::<Navigation>().on_went(move |page| {
            let Some(session) = to.upgrade() else { return };
            let Some(window) = session.window() else { return };
            match page {
                Page::Settings => session.send(Command::Histories(HistoryCommand::ListConflicts)),
                Page::Report => comparison_adapter::ask_for_report(&session),
                _ => {}
            }
            show_card(&window, &session.known());
            session.refresh_if_due();
        });
        session
    }

    /// Asks for what the window shows first. Whoever was cut off in the middle of a check finds
    /// the visit open.
    pub(super) fn begin(&self, start: StartUp) {
        self.send(Command::ReadSettings);
        self.send(Command::ListVehicles { search: String::new() });
        match start {
            StartUp::Vehicles => self.send(Command::TakeUp),
            StartUp::Demo { fault, seed } => self.start_demo(fault, seed),
        }
    }

    /// Sends a command. A worker that is gone takes the program with it; until then the window
    /// stays, so a failed send is of no use to anybody.
    pub(super) fn send(&self, command: Command) {
        let _ = self.commands.send(command);
    }

    pub(super) fn known(&self) -> Ref<'_, Known> {
        self.known.borrow()
    }

    pub(super) fn known_mut(&self) -> RefMut<'_, Known> {
        self.known.borrow_mut()
    }

    /// The window, unless it is closed.
    pub(super) fn window(&self) -> Option<AppWindow> {
        self.window.upgrade()
    }

    /// The device under the window.
    pub(super) fn device(&self) -> Rc<dyn Device> {
        Rc::clone(&self.device)
    }

    /// What is known of it.
    pub(super) fn device_state(&self) -> RefMut<'_, DeviceState> {
        self.device_state.borrow_mut()
    }

    /// The person is back in front of the window, or has changed how the device looks.
    pub(super) fn device_changed(&self) {
        if let Some(window) = self.window() {
            settings_adapter::apply_look(&window, self);
        }
        device_adapter::look_again(self);
    }

    /// Says over the foot of the page what failed, with what to do.
    pub(super) fn notice(&self, sentence: &str) {
        if let Some(window) = self.window() {
            vehicles_adapter::show_notice(&window, sentence);
        }
    }

    pub(super) fn go(&self, page: Page) {
        if let Some(window) = self.window() {
            window.global::<Navigation>().invoke_go(page);
        }
    }

    /// Takes note of an event and shows what changed.
    pub(super) fn handle(&self, event: Event) {
        let Some(window) = self.window() else { return };
        match event {
            Event::Vehicles(rows) => {
                self.known_mut().vehicles = Some(rows);
                vehicles_adapter::show(&window, &self.known());
            }
            Event::Vehicle(page) => {
                self.known_mut().vehicle = Some(*page);
                vehicle_adapter::show(&window, &self.known());
                vehicles_adapter::open_added(self, &window);
                details_adapter::show_kept(&window, &mut self.known_mut());
            }
            Event::Visit(card) => self.handle_card(&window, *card),
            Event::Recording(recording) => {
                {
                    let mut known = self.known_mut();
                    known.now = recording.span().map_or(Instant::ZERO, |(_, last)| last);
                    (known.recording, known.explore) = (*recording, Explore::default());
                }
                self.known().strip_due.set(true);
            }
            Event::Adapters(seen) => {
                self.known_mut().adapters = seen;
                connect_adapter::show(&window, &self.known());
            }
            Event::Looking(looking) => {
                self.known_mut().looking = looking;
                connect_adapter::show(&window, &self.known());
            }
            Event::Streams { address, offers } => {
                self.known_mut().streams = Some((address, Some(offers)));
                connect_adapter::show(&window, &self.known());
            }
            Event::Link(state) => self.handle_link(&window, state),
            Event::Samples(batch) => {
                let mut known = self.known_mut();
                for (signal, at, value) in batch.samples {
                    known.recording.push(signal, at, value);
                }
                for action in batch.actions {
                    known.recording.push_action(action.at, action.action);
                }
                known.now = known.now.max(batch.now);
                known.strip_due.set(true);
            }
            Event::Check(progress) => {
                let begun;
                {
                    let mut known = self.known_mut();
                    let same = known.ended.is_none()
                        && known.progress.as_ref().is_some_and(|p| p.check == progress.check);
                    if !same {
                        known.check_began = Some(progress.since);
                    }
                    known.ended = None;
                    known.take_progress(*progress);
                    begun = !same && known.following;
                }
                if begun {
                    self.go(Page::Check);
                }
                check_adapter::show(&window, &self.known());
            }
            Event::CheckEnded(result) => {
                {
                    let mut known = self.known_mut();
                    known.ended_at = Some(known.now);
                    known.paused = false;
                    known.ended = Some(*result);
                }
                self.sound.done();
                device_adapter::feel(self, &window, Feel::Done);
                check_adapter::show(&window, &self.known());
            }
            Event::Fitted(fits) => self.known_mut().fits = fits,
            Event::Paused(paused) => {
                self.known_mut().paused = paused;
                check_adapter::show(&window, &self.known());
            }
            Event::Leading(..) => {} // The card tells it too.
            Event::Settings(settings) => settings_adapter::restore(&window, self, &settings),
            Event::ReportWritten(path) => {
                report_adapter::show_written(&window, &path);
                self.known_mut().written = Some(path);
                report_adapter::end_demo(self);
            }
            Event::Backups(lines) => {
                self.known_mut().backups = lines;
                backups_adapter::show(&window, &self.known());
            }
            Event::Restored => {
                // What was shown belongs to what stood there before.
                histories_adapter::forget_shown(self, &window);
                backups_adapter::show_restored(&window, &self.known().style);
            }
            Event::Histories(event) => histories_adapter::handle(self, &window, event),
            Event::OwnSignals(own) => {
                self.known_mut().own_signals = own;
                signals_adapter::show_kept(&window, &self.known());
            }
            Event::OwnSignalTried(tried) => {
                signals_adapter::show_tried(&window, &tried, &self.known().style);
            }
            Event::Working(share, _) => {
                self.known_mut().reading = (share < 1.0).then_some(share);
                visit_adapter::show(&window, &self.known());
            }
            Event::Reminder(sentence) => vehicles_adapter::show_notice(&window, &sentence),
            Event::Failed(sentence) => {
                self.known_mut().adding = false;
                vehicles_adapter::show_notice(&window, &sentence);
            }
        }
        device_adapter::follow(self, &window);
    }

    fn handle_card(&self, window: &AppWindow, card: VisitCard) {
        let another = self.known().card.as_ref().is_none_or(|known| known.id != card.id);
        if another {
            self.known_mut().forget_recording();
        }
        let decided = |card: &VisitCard| {
            card.verdict.as_ref().is_some_and(|v| v.outcome != VerdictOutcome::Inconclusive)
        };
        let before = self.known_mut().card.replace(card);
        let now = self.known().card.as_ref().is_some_and(decided);
        if another {
            repair_adapter::clear(window);
            photos_adapter::clear(window);
            car_adapter::show_vehicle(window, &self.known());
        }
        show_card(window, &self.known());
        if self.known().following && now && !before.as_ref().is_some_and(decided) {
            self.go(Page::Verdict);
        }
        if another {
            self.go(Page::Visit);
        }
    }

    fn handle_link(&self, window: &AppWindow, state: LinkState) {
        {
            let mut known = self.known_mut();
            match &state {
                LinkState::Connecting(step) => {
                    if *step == SetupStep::Opening {
                        known.setup.clear();
                    }
                    if known.setup.last() != Some(step) {
                        known.setup.push(*step);
                    }
                }
                LinkState::Idle | LinkState::Failed(_) => known.setup.clear(),
                LinkState::Linked { .. } | LinkState::Lost { .. } => {}
            }
            known.link = Some(state.clone());
            known.strip_due.set(true);
        }
        let linked = matches!(state, LinkState::Linked { .. });
        let connecting = window.global::<Navigation>().get_page() == Page::Connect;
        connect_adapter::show(window, &self.known());
        signals_adapter::show(window, &self.known());
        show_card(window, &self.known());
        if linked && connecting {
            window.global::<Navigation>().invoke_go(Page::Visit);
        }
    }

    /// Notes that the person went back from a page: what lies behind it is asked for anew.
    fn leave(&self, page: Page) {
        self.known_mut().following = false;
        self.sound.hush();
        let vehicle = self.known().card.as_ref().map(|card| card.vehicle.id);
        match (page, vehicle) {
            (Page::Visit, Some(vehicle)) => self.send(Command::OpenVehicle(vehicle)),
            (Page::Vehicle, _) => self.send(Command::ListVehicles { search: String::new() }),
            _ => {}
        }
    }

    /// Sounds the pressure of the running check, if the person wants to hear it.
    fn sound_out(&self, window: &AppWindow) {
        let wanted = window.global::<LiveAdapter>().get_sound();
        match self.known().half_bands_off().filter(|_| wanted) {
            Some(off) => self.sound.follow(off),
            None => self.sound.hush(),
        }
    }

    /// Plays a visit of the virtual car; the pages follow it until the person goes back.
    pub(super) fn start_demo(&self, fault: Option<Fault>, seed: Option<u64>) {
        self.known_mut().following = true;
        self.send(Command::StartDemo { fault, seed });
    }

    /// Draws the strip in view once for all that was taken in, if it shows any of that.
    pub(super) fn refresh_if_due(&self) {
        if self.known().strip_due.get() {
            self.refresh();
        }
    }

    /// Draws the live strips of the page in view anew.
    pub(super) fn refresh(&self) {
        let Some(window) = self.window() else { return };
        self.known().strip_due.set(false);
        live_adapter::show(&window, &self.known());
        if window.global::<Navigation>().get_page() == Page::Check {
            self.sound_out(&window);
        }
    }

    /// Shows everything anew, as after a change of language or units.
    pub(super) fn show_all(&self) {
        let Some(window) = self.window() else { return };
        let known = self.known();
        vehicles_adapter::show(&window, &known);
        vehicle_adapter::show(&window, &known);
        connect_adapter::show(&window, &known);
        signals_adapter::show(&window, &known);
        moving_adapter::show(&window, &known);
        check_adapter::show(&window, &known);
        show_card(&window, &known);
        live_adapter::show(&window, &known);
        drop(known);
        device_adapter::show(self);
    }

    /// Takes note of a strip's size; a strip that changed is drawn anew.
    pub(super) fn resized(&self, place: StripPlace, width: f32, height: f32) {
        let size = (f64::from(width), f64::from(height));
        let before = self.known_mut().sizes.insert(place as u8, size);
        if before != Some(size) && width > 8.0 && height > 8.0 {
            self.refresh();
            let is_of_a_card = matches!(place, StripPlace::Proof | StripPlace::Comparison);
            if let Some(window) = self.window().filter(|_| is_of_a_card) {
                show_card(&window, &self.known());
            }
        }
    }
}
