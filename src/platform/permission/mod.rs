#[cfg(test)]
mod tests;

/// The level of the system from which Bluetooth has permissions of its own (Android 12; reference
/// of the system, "Bluetooth permissions").
const OWN_PERMISSIONS: u32 = 31;

/// What the person has to grant before Bluetooth adapters can be found and joined.
pub const fn bluetooth_permissions(system_level: u32) -> &'static [&'static str] {
    if system_level >= OWN_PERMISSIONS {
        &["android.permission.BLUETOOTH_SCAN", "android.permission.BLUETOOTH_CONNECT"]
    } else {
        // Before that, looking for devices counted as looking for the place they stand in. The
        // coarse one alone finds nothing from Android 10 on.
        &["android.permission.ACCESS_COARSE_LOCATION", "android.permission.ACCESS_FINE_LOCATION"]
    }
}

/// Who grants permissions: the system, and the person behind it.
pub trait Desk {
    /// The release of the system, as its interface level.
    fn system_level(&self) -> u32;

    /// Whether this permission is granted now.
    fn holds(&self, permission: &str) -> bool;

    /// Whether it was refused once, and asking would still show a dialog.
    fn would_ask_again(&self, permission: &str) -> bool;

    /// How many questions were answered since the program started.
    fn answers(&self) -> u32;

    /// Asks the person; returns at once.
    fn ask(&self, permissions: &[&str]);

    /// Opens the system's page about this program.
    fn open_settings(&self);
}

/// How things stand with a set of permissions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Nobody was asked yet.
    NotAsked,
    /// The question is on the screen.
    Asking,
    /// Granted.
    Granted,
    /// Refused; the person can be asked again.
    Refused,
    /// Refused for good: only the system's own page can change it.
    Blocked,
}

/// What the desk says at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Facts {
    /// Whether every permission is granted.
    pub held: bool,
    /// Whether asking would still show a dialog after a refusal.
    pub would_ask_again: bool,
    /// Questions answered so far.
    pub answers: u32,
}

impl Facts {
    /// Asks the desk about these permissions.
    pub fn at(desk: &dyn Desk, permissions: &[&str]) -> Self {
        Self {
            held: permissions.iter().all(|it| desk.holds(it)),
            would_ask_again: permissions.iter().any(|it| desk.would_ask_again(it)),
            answers: desk.answers(),
        }
    }
}

/// What is to be done at the desk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Request {
    /// Ask the person.
    Ask,
    /// Open the system's page about this program.
    OpenSettings,
}

/// One set of permissions from the first wish to the grant: facts and wishes in, requests out.
///
/// The person is asked only when they want what needs it, and never twice for one wish. A grant
/// that is taken back in the system's settings is seen with the next facts.
#[derive(Clone, Debug)]
pub struct Permissions {
    state: State,
    request: Option<Request>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    NotAsked,
    /// Asked when so many questions had been answered.
    Asking {
        answers: u32,
    },
    Granted,
    Refused,
    Blocked,
}

impl Default for Permissions {
    fn default() -> Self {
        Self { state: State::NotAsked, request: None }
    }
}

impl Permissions {
    /// How things stand.
    pub fn access(&self) -> Access {
        match self.state {
            State::NotAsked => Access::NotAsked,
            State::Asking { .. } => Access::Asking,
            State::Granted => Access::Granted,
            State::Refused => Access::Refused,
            State::Blocked => Access::Blocked,
        }
    }

    /// Takes in how things stand at the desk: at the start, whenever the program comes to the
    /// front, and before a wish.
    pub fn handle_facts(&mut self, facts: Facts) {
        let refused = if facts.would_ask_again { State::Refused } else { State::Blocked };
        self.state = match self.state {
            _ if facts.held => State::Granted,
            // Nothing was answered yet, though the screen may have been turned meanwhile.
            State::Asking { answers } if answers == facts.answers => return,
            State::Asking { .. } => refused,
            // Taken back in the settings: the person may be asked as if for the first time.
            State::Granted => State::NotAsked,
            State::NotAsked if facts.would_ask_again => State::Refused,
            // On that page the person can also choose "ask every time".
            State::Blocked if facts.would_ask_again => State::Refused,
            same => same,
        };
    }

    /// The person wants what needs the permissions: the first time, this asks. Who refused before
    /// is not asked again until they say so. Follow with [`poll_request`](Self::poll_request).
    pub fn handle_wish(&mut self, facts: Facts) {
        self.handle_facts(facts);
        if self.state == State::NotAsked {
            self.ask(facts);
        }
    }

    /// The person wants to grant the permissions. Follow with [`poll_request`](Self::poll_request).
    pub fn handle_consent(&mut self, facts: Facts) {
        self.handle_facts(facts);
        match self.state {
            State::NotAsked | State::Refused => self.ask(facts),
            State::Blocked => self.request = Some(Request::OpenSettings),
            State::Granted | State::Asking { .. } => {}
        }
    }

    /// What to do at the desk now.
    pub fn poll_request(&mut self) -> Option<Request> {
        self.request.take()
    }

    fn ask(&mut self, facts: Facts) {
        self.state = State::Asking { answers: facts.answers };
        self.request = Some(Request::Ask);
    }
}
