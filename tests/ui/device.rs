use std::cell::{Cell, RefCell};
use std::path::{Path, PathBuf};
use std::rc::Rc;

use i_slint_backend_testing::{AccessibleRole, ElementHandle};
use slint::ComponentHandle;
use stilltank::evidence::{Check, CheckResult, Outcome, Reason};
use stilltank::jobs::{Command, Event, LinkAddress, LinkState};
use stilltank::platform::{Desk, Device, DeviceError, Feel, HandedOver};
use stilltank::ui::stage::{Screen, Stage};
use stilltank::units::Instant;
use stilltank::wording::Language;

use crate::stage::{PHONE, TABLET, labelled, platform, settle, stage, with_role};

/// A phone with a person before it, who answers as the test says.
struct Phone {
    level: u32,
    is_granted: Cell<bool>,
    refusals: Cell<u32>,
    answers: Cell<u32>,
    asked: RefCell<Vec<String>>,
    settings_opened: Cell<u32>,
    is_awake: Cell<bool>,
    felt: RefCell<Vec<Feel>>,
    shared: RefCell<Vec<PathBuf>>,
}

impl Phone {
    fn of_level(level: u32) -> Rc<Self> {
        Rc::new(Self {
            level,
            is_granted: Cell::new(false),
            refusals: Cell::new(0),
            answers: Cell::new(0),
            asked: RefCell::default(),
            settings_opened: Cell::new(0),
            is_awake: Cell::new(false),
            felt: RefCell::default(),
            shared: RefCell::default(),
        })
    }

    fn answer(&self, yes: bool) {
        self.is_granted.set(yes);
        self.refusals.set(self.refusals.get() + u32::from(!yes));
        self.answers.set(self.answers.get() + 1);
    }
}

impl Device for Phone {
    fn hand_over(&self, file: &Path) -> Result<HandedOver, DeviceError> {
        if file.ends_with("gone.pdf") {
            return Err(DeviceError::NoFile);
        }
        self.shared.borrow_mut().push(file.to_owned());
        Ok(HandedOver::Offered)
    }

    fn has_share_sheet(&self) -> bool {
        true
    }

    fn stay_awake(&self, awake: bool) {
        self.is_awake.set(awake);
    }

    fn can_vibrate(&self) -> bool {
        true
    }

    fn vibrate(&self, feel: Feel) {
        self.felt.borrow_mut().push(feel);
    }

    fn text_scale(&self) -> f32 {
        1.0
    }

    fn reaches_network(&self) -> bool {
        false
    }

    fn desk(&self) -> Option<&dyn Desk> {
        Some(self)
    }
}

impl Desk for Phone {
    fn system_level(&self) -> u32 {
        self.level
    }

    fn holds(&self, _permission: &str) -> bool {
        self.is_granted.get()
    }

    fn would_ask_again(&self, _permission: &str) -> bool {
        self.refusals.get() == 1
    }

    fn answers(&self) -> u32 {
        self.answers.get()
    }

    fn ask(&self, permissions: &[&str]) {
        self.asked.borrow_mut().extend(permissions.iter().map(|it| (*it).to_owned()));
    }

    fn open_settings(&self) {
        self.settings_opened.set(self.settings_opened.get() + 1);
    }
}

fn stage_on(phone: &Rc<Phone>, screen: Screen) -> Stage {
    platform();
    let device: Rc<dyn Device> = Rc::clone(phone) as _;
    let stage = Stage::open_on(device, TABLET.0, TABLET.1).unwrap();
    stage.show(screen);
    settle(&stage);
    stage.commands();
    stage
}

/// The sheet that asks for a permission, in both sizes and both appearances: drawn whole within the
/// window, and kept as a picture where pictures are asked for.
#[test]
fn the_permission_sheet_stands_in_the_window_in_every_look() {
    let keep = std::env::var_os("STILLTANK_SCREENSHOTS");
    for (level, system) in [(34, "new"), (30, "old")] {
        for (size, (width, height)) in [("phone", PHONE), ("tablet", TABLET)] {
            for (light, night) in [("day", false), ("night", true)] {
                let phone = Phone::of_level(level);
                let stage = stage_on(&phone, Screen::Connect);
                press(&stage, "Look again");
                phone.answer(false);
                stage.return_to_front();
                stage.resize(width, height);
                stage.set_night(night);
                settle(&stage);
                let button = labelled(&stage, "Allow it");
                let (place, extent) = (button.absolute_position(), button.size());
                assert!(place.x >= 0.0 && place.x + extent.width <= width, "{size}");
                assert!(place.y >= 0.0 && place.y + extent.height <= height, "{size}");
                if let Some(folder) = &keep {
                    let name = format!("permission-{system}-{size}-{light}.png");
                    let picture = stage.window().window().take_snapshot().unwrap();
                    crate::pictures::write(&Path::new(folder).join(name), &picture);
                }
            }
        }
    }
}

fn press(stage: &Stage, label: &str) {
    labelled(stage, label).invoke_accessible_default_action();
    settle(stage);
}

/// Whether a text on the page begins like this.
fn is_said(stage: &Stage, start: &str) -> bool {
    with_role(stage, AccessibleRole::Text)
        .iter()
        .any(|text| text.accessible_label().is_some_and(|label| label.starts_with(start)))
}

#[test]
fn looking_for_adapters_asks_first_and_goes_on_after_a_yes() {
    let phone = Phone::of_level(34);
    let stage = stage_on(&phone, Screen::Connect);
    press(&stage, "Look again");
    assert_eq!(stage.commands(), [], "not before it is allowed");
    let asked = ["android.permission.BLUETOOTH_SCAN", "android.permission.BLUETOOTH_CONNECT"];
    assert_eq!(*phone.asked.borrow(), asked);
    assert!(is_said(&stage, "To find and join a Bluetooth adapter"));
    phone.answer(true);
    stage.return_to_front();
    settle(&stage);
    assert_eq!(stage.commands(), [Command::ScanAdapters]);
    assert!(!is_said(&stage, "To find and join a Bluetooth adapter"));
    press(&stage, "Look again");
    assert_eq!(stage.commands(), [Command::ScanAdapters]);
    assert_eq!(phone.asked.borrow().len(), 2, "nobody is asked twice");
}

#[test]
fn a_refusal_says_what_is_lost_and_offers_the_way_back() {
    let phone = Phone::of_level(34);
    let stage = stage_on(&phone, Screen::Connect);
    press(&stage, "Look again");
    phone.answer(false);
    stage.return_to_front();
    settle(&stage);
    assert!(is_said(&stage, "Without nearby devices no Bluetooth adapter can be found"));
    press(&stage, "Allow it");
    assert_eq!(phone.asked.borrow().len(), 4, "asked once more, because the person wants it");
    phone.answer(false);
    stage.return_to_front();
    settle(&stage);
    assert!(is_said(&stage, "The system no longer asks."));
    press(&stage, "Open the settings");
    assert_eq!(phone.settings_opened.get(), 1);
    assert_eq!(stage.commands(), []);
    phone.is_granted.set(true);
    stage.return_to_front();
    settle(&stage);
    assert_eq!(stage.commands(), [Command::ScanAdapters], "the wish was kept");
}

#[test]
fn an_older_system_is_explained_in_its_own_words() {
    let phone = Phone::of_level(30);
    let stage = stage_on(&phone, Screen::Connect);
    press(&stage, "Look again");
    phone.answer(false);
    stage.return_to_front();
    settle(&stage);
    assert!(is_said(&stage, "Without the location this system finds no Bluetooth adapters"));
    stage.set_language(Language::German);
    settle(&stage);
    assert!(is_said(&stage, "Ohne den Standort findet dieses System keine"));
    labelled(&stage, "Erlauben");
}

#[test]
fn virtual_car_and_earlier_visits_ask_for_nothing() {
    let phone = Phone::of_level(34);
    let stage = stage_on(&phone, Screen::Connect);
    press(&stage, "Virtual car");
    let commands = stage.commands();
    let virtual_car =
        |command: &Command| matches!(command, Command::Connect(LinkAddress::Virtual { .. }));
    assert!(commands.iter().any(virtual_car), "{commands:?}");
    stage.show(Screen::Vehicles);
    settle(&stage);
    stage.commands();
    press(&stage, "Red pickup");
    assert_eq!(stage.commands(), [Command::OpenVehicle(2)]);
    assert_eq!(phone.asked.borrow().len(), 0);
}

#[test]
fn joining_an_adapter_waits_for_the_grant() {
    let phone = Phone::of_level(34);
    let stage = stage_on(&phone, Screen::Connect);
    let adapter = stage.first_adapter().unwrap();
    labelled(&stage, &adapter.name).invoke_accessible_default_action();
    assert_eq!(stage.commands(), []);
    phone.answer(true);
    stage.return_to_front();
    assert_eq!(stage.commands(), [Command::Connect(adapter.address)]);
}

#[test]
fn a_running_check_keeps_the_phone_awake_and_its_end_is_felt() {
    let phone = Phone::of_level(34);
    let stage = stage_on(&phone, Screen::Unplug);
    assert!(phone.is_awake.get());
    let since = Instant::from_seconds(117.0);
    stage.feed(Event::Link(LinkState::Lost { since }));
    stage.feed(Event::Link(LinkState::Lost { since }));
    assert_eq!(*phone.felt.borrow(), [Feel::Lost], "a loss is felt once");
    stage.feed(Event::CheckEnded(Box::new(CheckResult {
        check: Check::UnplugRecovery,
        outcome: Outcome::Inconclusive,
        reason: Reason::VehicleMoved,
        measures: Vec::new(),
        window: (Instant::ZERO, since),
    })));
    assert!(!phone.is_awake.get());
    assert_eq!(*phone.felt.borrow(), [Feel::Lost, Feel::Done]);
}

#[test]
fn who_does_not_want_to_feel_it_does_not() {
    let phone = Phone::of_level(34);
    let stage = stage_on(&phone, Screen::Settings);
    press(&stage, "Vibrate");
    let kept = Command::SaveSetting { name: "ui_vibration".to_owned(), value: "false".to_owned() };
    assert!(stage.commands().contains(&kept));
    stage.show(Screen::Unplug);
    stage.feed(Event::Link(LinkState::Lost { since: Instant::from_seconds(117.0) }));
    assert_eq!(*phone.felt.borrow(), []);
}

#[test]
fn a_written_report_can_be_shared() {
    let phone = Phone::of_level(34);
    let stage = stage_on(&phone, Screen::Report);
    let report = PathBuf::from("reports/visit-7.pdf");
    stage.feed(Event::ReportWritten(report.clone()));
    settle(&stage);
    press(&stage, "Share the report");
    assert_eq!(*phone.shared.borrow(), [report]);
    stage.feed(Event::ReportWritten("reports/gone.pdf".into()));
    settle(&stage);
    press(&stage, "Share the report");
    assert!(is_said(&stage, "The report could not be handed over."));
}

#[test]
fn ways_that_this_device_does_not_have_are_not_offered() {
    let offers_network = |stage: &Stage| {
        ElementHandle::find_by_accessible_label(stage.window(), "Network").next().is_some()
    };
    assert!(!offers_network(&stage_on(&Phone::of_level(34), Screen::Connect)));
    assert!(offers_network(&stage(TABLET, Screen::Connect)), "a desktop has it");
}
