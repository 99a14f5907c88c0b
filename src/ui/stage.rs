//! A window without a worker, fed by hand.

use std::rc::Rc;
use std::sync::mpsc::{Receiver, channel};

use slint::ComponentHandle;

use super::markup::{
    AppWindow, CheckAdapter, CheckChoice, ConnectAdapter, LiveAdapter, Page, SettingsAdapter,
    Tokens, VehicleAdapter,
};
use super::previews::{self, Stage as Progress};
use super::session::Session;
use super::sound::Sound;
use super::window::StartUp;
use crate::jobs::{AdapterSeen, Command, Event, VehiclePage, VisitCard};
use crate::platform::{Desktop, Device};
use crate::wording::Language;

/// A page with invented data on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs, reason = "each is the page of the same name")]
pub enum Screen {
    NoVehicles,
    Vehicles,
    Vehicle,
    Visit,
    Strip,
    Connect,
    Adapters,
    Unplug,
    Follow,
    Held,
    SealedStop,
    SealedWait,
    Choices,
    GivingUp,
    Verdict,
    Repair,
    Proof,
    Codes,
    FollowUp,
    More,
    Report,
    Settings,
    Photos,
    Backups,
    Car,
    Vent,
    Signals,
    Details,
    Moving,
    Rescue,
    Rescued,
    Comparison,
    Unproven,
}

impl Screen {
    /// Every page.
    pub const ALL: [Self; 33] = [
        Self::NoVehicles,
        Self::Vehicles,
        Self::Vehicle,
        Self::Visit,
        Self::Strip,
        Self::Connect,
        Self::Adapters,
        Self::Unplug,
        Self::Follow,
        Self::Held,
        Self::SealedStop,
        Self::SealedWait,
        Self::Choices,
        Self::GivingUp,
        Self::Verdict,
        Self::Repair,
        Self::Proof,
        Self::Codes,
        Self::FollowUp,
        Self::More,
        Self::Report,
        Self::Settings,
        Self::Photos,
        Self::Backups,
        Self::Car,
        Self::Vent,
        Self::Signals,
        Self::Details,
        Self::Moving,
        Self::Rescue,
        Self::Rescued,
        Self::Comparison,
        Self::Unproven,
    ];
}

/// A window without a worker, fed by hand: for pictures of the pages and for their tests. A
/// platform of the toolkit must have been set, or a display be there.
pub struct Stage {
    window: AppWindow,
    session: Rc<Session>,
    commands: Receiver<Command>,
}

impl Stage {
    /// An empty window of this size, in logical pixels.
    pub fn open(width: f32, height: f32) -> Result<Self, slint::PlatformError> {
        Self::open_on(Rc::new(Desktop), width, height)
    }

    /// As [`open`](Self::open), on this device.
    pub fn open_on(
        device: Rc<dyn Device>,
        width: f32,
        height: f32,
    ) -> Result<Self, slint::PlatformError> {
        let window = AppWindow::new()?;
        let (sender, commands) = channel();
        let session = Session::connect(&window, sender, Sound::none(), device);
        window.global::<LiveAdapter>().set_has_sound(true);
        window.show()?;
        let stage = Self { window, session, commands };
        stage.resize(width, height);
        Ok(stage)
    }

    /// Asks for what the program shows first.
    pub fn begin(&self) {
        self.session.begin(StartUp::Vehicles);
    }

    /// The window.
    pub fn window(&self) -> &AppWindow {
        &self.window
    }

    /// Makes the window this large.
    pub fn resize(&self, width: f32, height: f32) {
        self.window.window().set_size(slint::LogicalSize::new(width, height));
        self.window.invoke_arrange(width, height);
    }

    /// Night or day.
    pub fn set_night(&self, night: bool) {
        self.window.global::<Tokens>().set_night(night);
        self.session.show_all();
    }

    /// Size of words, 1.0 to 1.4.
    pub fn set_text_scale(&self, scale: f32) {
        self.window.global::<Tokens>().set_text_scale(scale);
        self.session.show_all();
    }

    /// Another language for sentences and labels.
    pub fn set_language(&self, language: Language) {
        let place = Language::ALL.iter().position(|other| *other == language).unwrap_or(0);
        let settings = self.window.global::<SettingsAdapter>();
        settings.set_language(i32::try_from(place).unwrap_or(0));
        settings.invoke_changed_setting();
    }

    /// The person comes back from another app or from a question of the system.
    pub fn return_to_front(&self) {
        self.session.device_changed();
    }

    /// Hands an event to the window as the worker would.
    pub fn feed(&self, event: Event) {
        self.session.handle(event);
        self.session.refresh_if_due();
    }

    /// Draws the live strips anew, as after samples.
    pub fn refresh(&self) {
        self.session.refresh();
    }

    /// Shows less time on the visit's strip, or more.
    pub fn zoom_strip(&self, closer: bool) {
        self.window.global::<LiveAdapter>().invoke_zoomed(closer);
    }

    /// Moves the paper of the visit's strip by so many logical pixels.
    pub fn drag_strip(&self, distance: f32) {
        self.window.global::<LiveAdapter>().invoke_dragged(distance);
    }

    /// The adapter that stands first on the page.
    pub fn first_adapter(&self) -> Option<AdapterSeen> {
        self.session.known().adapters.first().cloned()
    }

    /// The job card in view.
    pub fn shown_card(&self) -> Option<VisitCard> {
        self.session.known().card.clone()
    }

    /// The vehicle in view.
    pub fn shown_vehicle(&self) -> Option<VehiclePage> {
        self.session.known().vehicle.clone()
    }

    /// What the window has asked for since the last look.
    pub fn commands(&self) -> Vec<Command> {
        self.commands.try_iter().collect()
    }

    /// Shows a page with invented data.
    pub fn show(&self, screen: Screen) {
        let (stage, page) = match screen {
            Screen::NoVehicles | Screen::Vehicles => (Progress::Checking, Page::Vehicles),
            Screen::Vehicle => (Progress::Checking, Page::Vehicle),
            Screen::Visit | Screen::Strip => (Progress::Checking, Page::Visit),
            Screen::Connect | Screen::Adapters => (Progress::Checking, Page::Connect),
            Screen::Unplug
            | Screen::Follow
            | Screen::Held
            | Screen::SealedStop
            | Screen::SealedWait
            | Screen::Choices
            | Screen::GivingUp => (Progress::Checking, Page::Check),
            Screen::Verdict => (Progress::Judged, Page::Verdict),
            Screen::Repair => (Progress::Repaired, Page::Repair),
            Screen::Proof => (Progress::Proven, Page::Proof),
            Screen::Codes => (Progress::Proven, Page::Codes),
            Screen::FollowUp => (Progress::Proven, Page::FollowUp),
            Screen::More => (Progress::Checking, Page::More),
            Screen::Report => (Progress::Judged, Page::Report),
            Screen::Settings => (Progress::Checking, Page::Settings),
            Screen::Photos => (Progress::Repaired, Page::Photos),
            Screen::Backups => (Progress::Checking, Page::Backups),
            Screen::Car => (Progress::Checking, Page::Car),
            Screen::Vent => (Progress::Checking, Page::Vent),
            Screen::Signals => (Progress::Checking, Page::Signals),
            Screen::Details => (Progress::Checking, Page::Details),
            Screen::Moving => (Progress::Checking, Page::Moving),
            Screen::Rescue | Screen::Rescued => (Progress::Checking, Page::Rescue),
            Screen::Comparison | Screen::Unproven => (Progress::Checking, Page::Comparison),
        };
        let (mut rows, mut card) = (previews::vehicles(), previews::card(stage));
        if screen == Screen::Report {
            // An earlier visit lies under this one.
            (card.id, card.number) = (13, 3);
        }
        if self.session.known().style.language == Language::German {
            (rows, card) = (previews::german::rows(rows), previews::german::card(card));
        }
        let empty = screen == Screen::NoVehicles;
        self.feed(Event::Vehicles(if empty { Vec::new() } else { rows }));
        self.feed(Event::Vehicle(Box::new(previews::vehicle_page())));
        self.feed(Event::Visit(Box::new(card)));
        self.feed(previews::linked());
        self.feed(previews::rest_progress());
        self.feed(previews::visit_recording());
        let more = match screen {
            Screen::Unplug | Screen::Choices | Screen::GivingUp => previews::unplug_running(),
            Screen::Held => {
                previews::unplug_running().into_iter().chain([Event::Paused(true)]).collect()
            }
            Screen::Follow => previews::follow_running(),
            Screen::SealedStop => previews::sealed_stop(false),
            Screen::SealedWait => previews::sealed_stop(true),
            Screen::Connect => previews::adapters(),
            Screen::Adapters => {
                previews::adapters().into_iter().take(1).chain([previews::streams()]).collect()
            }
            Screen::Backups => vec![previews::backups()],
            Screen::Signals => previews::own_signals(),
            Screen::Photos => vec![previews::pictures()],
            Screen::Details => vec![previews::known_customers()],
            Screen::Moving => previews::moved(),
            Screen::Comparison => vec![previews::compared(true)],
            Screen::Unproven | Screen::Report => vec![previews::compared(false)],
            Screen::Rescue => previews::damaged(),
            Screen::Rescued => {
                previews::damaged().into_iter().chain(previews::salvaged()).collect()
            }
            _ => Vec::new(),
        };
        if screen == Screen::Details {
            self.window.global::<VehicleAdapter>().invoke_details_opened();
        }
        self.session.go(page);
        for event in more {
            self.feed(event);
        }
        self.window.global::<ConnectAdapter>().set_managing(screen == Screen::Adapters);
        self.window.global::<LiveAdapter>().set_strip_open(screen == Screen::Strip);
        self.window.global::<CheckAdapter>().set_choosing(match screen {
            Screen::Choices => CheckChoice::What,
            Screen::GivingUp => CheckChoice::Why,
            _ => CheckChoice::None,
        });
        if screen == Screen::Connect {
            let first = self.first_adapter();
            self.session.known_mut().chosen_adapter = first;
        }
        self.session.show_all();
    }
}
