use std::cell::{Cell, RefCell};

use super::{Access, Desk, Facts, Permissions, Request, bluetooth_permissions};

/// The system with a person before it. It keeps to the rules of the real one: a first refusal
/// leaves a question open, a second one is for good and answers itself from then on (reference of
/// the system, "Request runtime permissions").
struct Person {
    level: u32,
    granted: RefCell<Vec<String>>,
    refusals: Cell<u32>,
    answers: Cell<u32>,
    question: RefCell<Option<Vec<String>>>,
    settings_opened: Cell<u32>,
}

impl Person {
    fn new(level: u32) -> Self {
        Self {
            level,
            granted: RefCell::default(),
            refusals: Cell::new(0),
            answers: Cell::new(0),
            question: RefCell::default(),
            settings_opened: Cell::new(0),
        }
    }

    /// Answers the dialog on the screen.
    fn answers_the_question(&self, yes: bool) {
        let question = self.question.take().expect("no question is on the screen");
        if yes {
            self.granted.borrow_mut().extend(question);
        } else {
            self.refusals.set(self.refusals.get() + 1);
        }
        self.answers.set(self.answers.get() + 1);
    }

    fn grants_in_settings(&self) {
        let all = bluetooth_permissions(self.level).iter().map(|it| (*it).to_owned());
        self.granted.borrow_mut().extend(all);
    }

    fn takes_back_in_settings(&self) {
        self.granted.borrow_mut().clear();
        self.refusals.set(0);
    }
}

impl Desk for Person {
    fn system_level(&self) -> u32 {
        self.level
    }

    fn holds(&self, permission: &str) -> bool {
        self.granted.borrow().iter().any(|it| it == permission)
    }

    fn would_ask_again(&self, permission: &str) -> bool {
        self.refusals.get() == 1 && !self.holds(permission)
    }

    fn answers(&self) -> u32 {
        self.answers.get()
    }

    fn ask(&self, permissions: &[&str]) {
        let question = permissions.iter().map(|it| (*it).to_owned()).collect();
        *self.question.borrow_mut() = Some(question);
        if self.refusals.get() >= 2 {
            self.answers_the_question(false);
        }
    }

    fn open_settings(&self) {
        self.settings_opened.set(self.settings_opened.get() + 1);
    }
}

fn wish(permissions: &mut Permissions, person: &Person) -> Access {
    permissions.handle_wish(Facts::at(person, bluetooth_permissions(person.level)));
    carry(permissions, person)
}

fn consent(permissions: &mut Permissions, person: &Person) -> Access {
    permissions.handle_consent(Facts::at(person, bluetooth_permissions(person.level)));
    carry(permissions, person)
}

/// Carries requests to the desk, as the window does.
fn carry(permissions: &mut Permissions, person: &Person) -> Access {
    let names = bluetooth_permissions(person.level);
    match permissions.poll_request() {
        Some(Request::Ask) => person.ask(names),
        Some(Request::OpenSettings) => person.open_settings(),
        None => {}
    }
    permissions.access()
}

fn back_in_front(permissions: &mut Permissions, person: &Person) -> Access {
    permissions.handle_facts(Facts::at(person, bluetooth_permissions(person.level)));
    permissions.access()
}

#[test]
fn first_wish_asks_and_a_yes_grants() {
    for level in [26, 30, 31, 36] {
        let (mut permissions, person) = (Permissions::default(), Person::new(level));
        assert_eq!(back_in_front(&mut permissions, &person), Access::NotAsked);
        assert_eq!(person.question.borrow().as_deref(), None, "nobody wanted anything yet");
        assert_eq!(wish(&mut permissions, &person), Access::Asking);
        person.answers_the_question(true);
        assert_eq!(back_in_front(&mut permissions, &person), Access::Granted);
        assert_eq!(wish(&mut permissions, &person), Access::Granted);
        assert_eq!(person.answers.get(), 1, "nobody is asked twice");
    }
}

#[test]
fn a_second_refusal_leaves_only_the_settings() {
    let (mut permissions, person) = (Permissions::default(), Person::new(34));
    wish(&mut permissions, &person);
    person.answers_the_question(false);
    assert_eq!(back_in_front(&mut permissions, &person), Access::Refused);
    assert_eq!(wish(&mut permissions, &person), Access::Refused, "a no is a no");
    assert_eq!(consent(&mut permissions, &person), Access::Asking);
    person.answers_the_question(false);
    assert_eq!(back_in_front(&mut permissions, &person), Access::Blocked);
    assert_eq!(wish(&mut permissions, &person), Access::Blocked);
    assert_eq!(person.settings_opened.get(), 0, "looking for adapters opens no other page");
    assert_eq!(consent(&mut permissions, &person), Access::Blocked);
    assert_eq!(person.settings_opened.get(), 1);
    person.grants_in_settings();
    assert_eq!(back_in_front(&mut permissions, &person), Access::Granted);
}

#[test]
fn turning_the_screen_while_the_question_stands_does_not_answer_it() {
    let (mut permissions, person) = (Permissions::default(), Person::new(34));
    wish(&mut permissions, &person);
    assert_eq!(back_in_front(&mut permissions, &person), Access::Asking);
    assert_eq!(wish(&mut permissions, &person), Access::Asking);
    person.answers_the_question(true);
    assert_eq!(back_in_front(&mut permissions, &person), Access::Granted);
}

#[test]
fn a_program_started_after_a_refusal_knows_of_it() {
    let person = Person::new(34);
    person.ask(bluetooth_permissions(34));
    person.answers_the_question(false);
    let mut anew = Permissions::default();
    assert_eq!(back_in_front(&mut anew, &person), Access::Refused);
}

#[test]
fn a_program_started_after_a_refusal_for_good_learns_of_it_by_asking() {
    let person = Person::new(34);
    for _ in 0..2 {
        person.ask(bluetooth_permissions(34));
        person.answers_the_question(false);
    }
    let mut anew = Permissions::default();
    assert_eq!(back_in_front(&mut anew, &person), Access::NotAsked);
    assert_eq!(wish(&mut anew, &person), Access::Asking);
    assert_eq!(back_in_front(&mut anew, &person), Access::Blocked);
}

#[test]
fn a_grant_taken_back_is_asked_for_anew() {
    let (mut permissions, person) = (Permissions::default(), Person::new(34));
    wish(&mut permissions, &person);
    person.answers_the_question(true);
    assert_eq!(back_in_front(&mut permissions, &person), Access::Granted);
    person.takes_back_in_settings();
    assert_eq!(back_in_front(&mut permissions, &person), Access::NotAsked);
    assert_eq!(wish(&mut permissions, &person), Access::Asking);
}

#[test]
fn half_a_grant_is_none() {
    let person = Person::new(34);
    person.granted.borrow_mut().push("android.permission.BLUETOOTH_SCAN".to_owned());
    assert!(!Facts::at(&person, bluetooth_permissions(34)).held);
}
