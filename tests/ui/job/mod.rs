//! Whole visits with the virtual car, driven by what stands on the window.

mod cut_off;
mod fill_up;
mod running;
mod whole;

use std::cell::Cell;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use i_slint_backend_testing::{AccessibleRole, ElementHandle, mock_elapsed_time};
use slint::platform::{PointerEventButton, WindowEvent};
use slint::{ComponentHandle, LogicalPosition, SharedString};
use stilltank::jobs::{Command, Event, LinkAddress, LinkState, Workshop};
use stilltank::ui::stage::Stage;
use stilltank::vehicle::Fault;
use stilltank::wording::Style;

use crate::stage::{platform, settle, with_role};

/// Draws the virtual car.
const SEED: u64 = 4;

/// Turns of the workshop between two looks at the window.
const STRIDE: u32 = 10;

/// The window and what works behind it, turn by turn on one thread: the same commands and events
/// as in the program, at the processor's pace.
pub(crate) struct Job {
    pub(crate) stage: Stage,
    pub(crate) workshop: Workshop,
    heard: Receiver<Event>,
    size: (f32, f32),
    /// Which car the page's virtual car is.
    fault: Option<Fault>,
    seed: u64,
    lost: Cell<bool>,
    pub(crate) written: Option<PathBuf>,
}

impl Job {
    /// Starts the program on this database.
    pub(crate) fn start(database: &Path, size: (f32, f32), fault: Option<Fault>) -> Self {
        Self::start_with(database, size, fault, SEED)
    }

    /// As [`start`](Self::start), with another virtual car.
    pub(crate) fn start_with(
        database: &Path,
        size: (f32, f32),
        fault: Option<Fault>,
        seed: u64,
    ) -> Self {
        platform();
        let stage = Stage::open(size.0, size.1).unwrap();
        let (events, heard) = channel();
        let workshop = Workshop::open(database, Style::default(), events).unwrap();
        let lost = Cell::new(false);
        let mut job = Self { stage, workshop, heard, size, fault, seed, lost, written: None };
        job.stage.begin();
        job.look();
        job
    }

    /// Carries commands to the workshop and events to the window until neither has more.
    pub(crate) fn look(&mut self) {
        for _ in 0..8 {
            let commands = self.stage.commands();
            let idle = commands.is_empty();
            for command in commands {
                match command {
                    // No radio in a test: nothing is in reach.
                    Command::ScanAdapters => self.stage.feed(Event::Adapters(Vec::new())),
                    Command::Connect(LinkAddress::Virtual { .. }) => {
                        let (fault, seed) = (self.fault, self.seed);
                        let address = LinkAddress::Virtual { fault, seed, real_time: false };
                        self.workshop.handle(Command::Connect(address));
                    }
                    other => self.workshop.handle(other),
                }
            }
            for event in self.heard.try_iter() {
                match &event {
                    Event::Link(LinkState::Lost { .. }) => self.lost.set(true),
                    Event::Link(LinkState::Linked { .. }) => self.lost.set(false),
                    Event::ReportWritten(path) => self.written = Some(path.clone()),
                    Event::Failed(sentence) => panic!("{sentence}"),
                    _ => {}
                }
                self.stage.feed(event);
            }
            settle(&self.stage);
            if idle {
                break;
            }
        }
    }

    /// Lets the visit go on until something holds, looking at the window every now and then.
    #[track_caller]
    pub(crate) fn until(&mut self, what: &str, mut holds: impl FnMut(&Self) -> bool) {
        for _ in 0..3_000 {
            if holds(self) {
                return;
            }
            for _ in 0..STRIDE {
                self.workshop.turn();
            }
            self.look();
        }
        panic!("never: {what}; the window says {:?} and has {:?}", self.texts(), self.buttons());
    }

    /// Everything that is written in view.
    pub(crate) fn texts(&self) -> Vec<String> {
        let texts = with_role(&self.stage, AccessibleRole::Text);
        let mut all: Vec<String> = Vec::new();
        // The query lists what it finds more than once.
        for text in texts.iter().filter_map(|it| it.accessible_label()) {
            if !text.is_empty() && !all.iter().any(|known| *known == text.as_str()) {
                all.push(text.to_string());
            }
        }
        all
    }

    /// Whether these words stand in view.
    pub(crate) fn says(&self, words: &str) -> bool {
        self.texts().iter().any(|it| it.contains(words))
    }

    /// The page in view, by its name.
    pub(crate) fn page(&self) -> String {
        let pages = with_role(&self.stage, AccessibleRole::Main);
        pages.first().and_then(|it| it.accessible_label()).unwrap_or_default().to_string()
    }

    /// Every button in view.
    pub(crate) fn buttons(&self) -> Vec<String> {
        let buttons = with_role(&self.stage, AccessibleRole::Button);
        let mut labels: Vec<String> = buttons
            .iter()
            .filter_map(|it| it.accessible_label())
            .map(|it| it.to_string())
            .collect();
        labels.sort();
        labels.dedup();
        labels
    }

    /// The control of this role and label, if it is in view; of several the uppermost.
    fn find(&self, role: AccessibleRole, label: &str) -> Option<ElementHandle> {
        let all = with_role(&self.stage, role);
        all.into_iter().rev().find(|it| {
            it.accessible_label().is_some_and(|it| it == label)
                && it.accessible_enabled() != Some(false)
        })
    }

    /// Whether a button with this label can be pressed without scrolling.
    pub(crate) fn offers(&self, label: &str) -> bool {
        self.find(AccessibleRole::Button, label).is_some()
    }

    /// The label of the button that begins with these words.
    pub(crate) fn button_that_begins(&self, words: &str) -> Option<String> {
        self.buttons().into_iter().find(|it| it.starts_with(words))
    }

    /// The button that starts the check that is next: below the card on a phone, in it on a tablet.
    pub(crate) fn start_button(&self) -> Option<String> {
        let beside = || self.offers("Start").then(|| "Start".to_owned());
        self.button_that_begins("Start: ").or_else(beside)
    }

    /// Goes on with the visit: by the button below the card, or by the card's own row.
    #[track_caller]
    pub(crate) fn go_on(&mut self, below: &str, row: &str) {
        let label = if self.is_wide() { row } else { below };
        self.press(label);
    }

    /// Whether the card stands beside the strip.
    pub(crate) fn is_wide(&self) -> bool {
        self.size.0 >= 700.0
    }

    fn scroll(&self, distance: f32) {
        let position = LogicalPosition::new((self.size.0 / 2.0).min(300.0), self.size.1 * 0.45);
        let event = WindowEvent::PointerScrolled { position, delta_x: 0.0, delta_y: distance };
        self.stage.window().window().dispatch_event(event);
        settle(&self.stage);
    }

    /// Scrolls until the middle of a control is where a finger reaches it.
    #[track_caller]
    fn reach(&self, role: AccessibleRole, label: &str) -> ElementHandle {
        let middle = |it: &ElementHandle| it.absolute_position().y + it.size().height / 2.0;
        for _ in 0..2 {
            for distance in [-120.0, 120.0] {
                for _ in 0..14 {
                    let found = self.find(role, label);
                    let Some(found) = found else {
                        self.scroll(distance);
                        continue;
                    };
                    // What stands low may lie under the foot of the page: unless it stays there.
                    let before = middle(&found);
                    if before < self.size.1 - 210.0 {
                        return found;
                    }
                    self.scroll(-120.0);
                    match self.find(role, label) {
                        Some(moved) if (middle(&moved) - before).abs() < 1.0 => return moved,
                        Some(moved) if middle(&moved) >= self.size.1 - 210.0 => {}
                        Some(moved) if middle(&moved) > 70.0 => return moved,
                        _ => self.scroll(120.0),
                    }
                }
            }
        }
        let (texts, buttons) = (self.texts(), self.buttons());
        panic!("{}: no {role:?} {label}; there is {texts:?} and {buttons:?}", self.page());
    }

    /// Presses what has this role and label, where it stands.
    #[track_caller]
    pub(crate) fn tap(&mut self, role: AccessibleRole, label: &str) {
        self.reach(role, label).mock_single_click(PointerEventButton::Left);
        self.look();
    }

    /// Presses a button.
    #[track_caller]
    pub(crate) fn press(&mut self, label: &str) {
        self.tap(AccessibleRole::Button, label);
    }

    /// Writes into a field, letter by letter.
    #[track_caller]
    pub(crate) fn write(&mut self, label: &str, words: &str) {
        let field = self.reach(AccessibleRole::TextInput, label);
        field.mock_single_click(PointerEventButton::Left);
        let window = self.stage.window().window();
        window.dispatch_event(WindowEvent::WindowActiveChanged(true));
        for letter in words.chars() {
            let text = SharedString::from(letter);
            window.dispatch_event(WindowEvent::KeyPressed { text: text.clone() });
            window.dispatch_event(WindowEvent::KeyReleased { text });
        }
        mock_elapsed_time(Duration::from_millis(50));
        self.look();
    }

    /// From the list of vehicles to a visit that is connected to the virtual car and has read it.
    #[track_caller]
    pub(crate) fn begin_visit(&mut self) {
        self.press("Add a vehicle");
        self.write("Name", "Practice car");
        self.press("Add");
        self.until("the added vehicle is open", |job| job.page() == "Practice car");
        self.press("Start a visit");
        self.press("Connect");
        self.press("Virtual car");
        self.until("connected", |job| job.offers("Read the car"));
        self.press("Read the car");
    }

    /// Whether the check in view has ended.
    pub(crate) fn check_is_over(&self) -> bool {
        self.offers("Back to the card")
    }

    /// Whether the link was said to be lost last.
    pub(crate) fn is_lost(&self) -> bool {
        self.lost.get()
    }
}

/// A folder for the database, gone with the test.
pub(crate) fn folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("histories.db");
    (folder, database)
}
