use std::time::Duration;

use super::super::adapter::command::Command;
use super::super::adapter::reply::{Notice, Reply};
use super::super::adapter::setup::{SETTINGS, protocol_number, voltage};
use super::super::adapter::{Found, Protocol, SetupStep};
use super::super::connection::{Connection, Outcome, Patience};
use super::super::interpretation::failure_of;
use super::super::isotp::assembler::Assembler;
use super::super::scheduler::latency::Latency;
use super::super::scheduler::{CountMeans, Request, Target};
use super::super::transport::Transcribing;
use super::super::trust::Trust;
use super::super::{LinkError, Transport};
use super::polling::{PATIENT_TROUBLES, SHORT_EXCHANGES};
use super::{AdapterProfile, Link, drive};
use crate::units::Instant;

/// A restart takes an adapter about a second (common practice, no source).
const RESET: Patience =
    Patience { in_all: Duration::from_secs(3), after_a_byte: Duration::from_secs(2) };

/// Trying all protocols takes up to half a minute, most of it on the slow start of the K line;
/// an adapter says at once that it searches (common practice, no source).
const SEARCH: Patience =
    Patience { in_all: Duration::from_secs(12), after_a_byte: Duration::from_secs(40) };

/// A known protocol needs at most the K line's start.
const TAKING_UP: Patience =
    Patience { in_all: Duration::from_secs(5), after_a_byte: Duration::from_secs(5) };

/// Attempts at one command before its result counts.
const ATTEMPTS: u32 = 4;

/// Attempts to get the car's first answer: it may need a moment, and bytes may be lost.
const FIRST_ANSWER_ATTEMPTS: u32 = 8;

/// The same on a line that damages every second exchange.
const DOUBTFUL_ATTEMPTS: u32 = 40;

impl Link {
    /// Wakes the adapter, sets it up and finds the car's protocol.
    ///
    /// # Errors
    /// [`LinkError::Silent`] if nothing answers, [`LinkError::NotAnAdapter`] if what answers does
    /// not speak the dialect, [`LinkError::UnableToConnect`] or [`LinkError::NoData`] if the car
    /// does not answer, [`LinkError::Lost`] if the connection breaks.
    pub fn open(
        transport: Box<dyn Transport>,
        on_step: &mut dyn FnMut(SetupStep),
    ) -> Result<Self, LinkError> {
        let proofreads = !transport.is_checked();
        let mut link = Self {
            transport: Transcribing::new(transport),
            connection: Connection::default(),
            assembler: Assembler::default(),
            profile: AdapterProfile::default(),
            headers: true,
            latency: Latency::default(),
            trust: Trust::default(),
            addressed: Target::All,
            count_means: CountMeans::default(),
            troubles: 0,
            silent: false,
            unsettled: false,
            cut_off: false,
            late: false,
            restarted: false,
            proofreads,
            echoes_late: false,
            echo_latency: Latency::default(),
            quiet: false,
            inbox: Vec::new(),
        };
        on_step(SetupStep::WakingAdapter);
        link.wake()?;
        on_step(SetupStep::Configuring);
        link.configure()?;
        link.introduce()?;
        on_step(SetupStep::FindingProtocol);
        link.find_protocol()?;
        on_step(SetupStep::Connected);
        Ok(link)
    }

    /// Whether anything behind a transport answers a harmless command with a prompt.
    ///
    /// # Errors
    /// [`LinkError::Lost`] if the connection breaks.
    pub fn is_answered(transport: &mut dyn Transport) -> Result<bool, LinkError> {
        let mut connection = Connection::default();
        let wait = Duration::from_millis(400);
        let patience = Patience { in_all: wait, after_a_byte: wait };
        let outcome =
            drive(&mut connection, transport, Command::Identify.encode()?, patience, None)?;
        Ok(matches!(outcome, Outcome::Answered(_)))
    }

    /// Gets a broken connection back and goes on where it was. An adapter that kept its settings
    /// answers at once; one that restarted is set up again, with the protocol known before.
    ///
    /// # Errors
    /// What kept it from coming back before `deadline`.
    pub fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        self.transport.reconnect(deadline)?;
        self.connection = Connection::default();
        self.cut_off = false;
        loop {
            match self.take_up() {
                Ok(()) => return Ok(()),
                Err(LinkError::Lost) => self.transport.reconnect(deadline)?,
                Err(error) if self.now() >= deadline => return Err(error),
                Err(_) => {}
            }
        }
    }

    /// Proves that the adapter answers, and sets it up again if it has restarted meanwhile: one
    /// that repeats commands again has forgotten its settings.
    fn take_up(&mut self) -> Result<(), LinkError> {
        self.unsettled = true;
        self.restarted = false;
        self.settle()?;
        if self.restarted {
            return self.set_up_again();
        }
        // Should the settings be gone all the same, the first failures in polling will tell.
        self.troubles =
            if self.trust.is_doubtful() { SHORT_EXCHANGES } else { PATIENT_TROUBLES / 2 };
        Ok(())
    }

    /// Makes all settings again and has the car answer.
    pub(super) fn set_up_again(&mut self) -> Result<(), LinkError> {
        self.unsettled = true;
        self.settle()?;
        self.troubles = 0;
        self.restarted = false;
        self.addressed = Target::All;
        self.configure()?;
        let Some(number) = self.profile.protocol_number else {
            return self.find_protocol();
        };
        self.try_setting(&Command::Protocol(number))?;
        if self.car_answers()? {
            return Ok(());
        }
        // Another car may stand there now, or a damaged command may have set something that this
        // program never sets: a restart forgets it.
        self.restart()?;
        self.configure()?;
        self.find_protocol()
    }

    /// Restarts the adapter; its greeting is free text that nothing is taken from.
    pub(super) fn restart(&mut self) -> Result<(), LinkError> {
        self.quiet = false;
        match self.exchange(&Command::Reset, RESET) {
            Ok(_) | Err(LinkError::Silent { .. } | LinkError::NotAnAdapter) => {}
            Err(error) => return Err(error),
        }
        self.unsettled = true;
        self.settle()
    }

    /// Whether the car answers with the settings as they are.
    fn car_answers(&mut self) -> Result<bool, LinkError> {
        let request = Request::new(0x01, &[0x00]);
        let patience = match self.profile.protocol {
            Some(protocol) if protocol.is_can() => self.request_patience(),
            _ => TAKING_UP,
        };
        for _ in 0..FIRST_ANSWER_ATTEMPTS {
            self.settle()?;
            match self.ask(&request, None, patience) {
                Ok(_) => return Ok(true),
                Err(LinkError::Lost) => return Err(LinkError::Lost),
                // Damage is worth another look; a whole answer of another kind is not.
                Err(LinkError::Damaged | LinkError::Incomplete | LinkError::Silent { .. }) => {}
                Err(_) if self.trust.is_doubtful() => {}
                Err(_) => return Ok(false),
            }
        }
        Ok(false)
    }

    /// Looks whether something answers, and whether it is an adapter.
    fn wake(&mut self) -> Result<(), LinkError> {
        let mut heard = false;
        let mut silent = LinkError::Silent { waited_ms: 0 };
        for _ in 0..ATTEMPTS {
            match self.exchange(&Command::Reset, RESET) {
                Ok(_) => heard = true,
                Err(error @ LinkError::Silent { .. }) => {
                    heard |= self.trust.damaged() > 0 || self.cut_off;
                    silent = error;
                    self.drain()?;
                }
                Err(error) => return Err(error),
            }
            if heard {
                break;
            }
        }
        if !heard {
            return Err(silent);
        }
        // The restart's greeting is free text; only the answer after it proves the dialect.
        self.unsettled = true;
        for _ in 0..ATTEMPTS {
            match self.settle() {
                Err(LinkError::Silent { .. }) => return Err(LinkError::NotAnAdapter),
                result => result?,
            }
            // The echo may be off from before, where the restart was damaged on the way.
            if !self.proofreads || self.profile.capabilities.echo == Found::Yes {
                break;
            }
            self.profile.capabilities.echo = Found::Unknown;
            self.restart()?;
        }
        Ok(())
    }

    /// Makes all settings; those that the adapter does not know are noted and left.
    pub(super) fn configure(&mut self) -> Result<(), LinkError> {
        let earlier = self.profile.capabilities;
        for setting in &SETTINGS {
            let found = self.try_setting(&setting.command)?;
            (setting.note)(&mut self.profile.capabilities, found);
        }
        // What was seen counts more than what a command's answer promises or refuses.
        if earlier.headers != Found::Unknown {
            self.profile.capabilities.headers = earlier.headers;
        }
        self.headers = self.profile.capabilities.headers != Found::No;
        Ok(())
    }

    /// Tries a setting until the adapter takes it. One refusal may be damage, on a doubtful line
    /// several may.
    pub(super) fn try_setting(&mut self, command: &Command<'_>) -> Result<Found, LinkError> {
        let mut refusals = 0_u32;
        for _ in 0..ATTEMPTS {
            self.settle()?;
            match self.exchange(command, self.command_patience()) {
                Ok((reply, _)) if reply.says(Notice::Ok) => return Ok(Found::Yes),
                Ok((reply, _)) if reply.says(Notice::Unknown) => {
                    refusals = refusals.saturating_add(1);
                    if refusals >= 2 && !self.trust.is_doubtful() {
                        return Ok(Found::No);
                    }
                }
                Ok(_) => self.trust.handle_damage(),
                Err(LinkError::Silent { .. }) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(Found::No)
    }

    pub(super) fn command_patience(&self) -> Patience {
        let wait = self.latency.command_patience();
        Patience { in_all: wait, after_a_byte: wait }
    }

    /// Asks the adapter who it is and what its supply is; both may stay unknown.
    fn introduce(&mut self) -> Result<(), LinkError> {
        self.profile.identity =
            self.inquire(&Command::Identify, |reply| reply.text().map(str::to_owned))?;
        self.profile.supply_volts =
            self.inquire(&Command::Voltage, |reply| reply.text().and_then(voltage))?;
        let voltage = &mut self.profile.capabilities.voltage;
        *voltage = if self.profile.supply_volts.is_some() { Found::Yes } else { Found::No };
        Ok(())
    }

    /// Asks the adapter about itself; `None` if it gives no usable answer. On a doubtful line an
    /// answer counts when it comes twice.
    fn inquire<T: PartialEq>(
        &mut self,
        command: &Command<'_>,
        read: impl Fn(&Reply) -> Option<T>,
    ) -> Result<Option<T>, LinkError> {
        let mut earlier = None;
        let mut attempts = 0_u32;
        while attempts < if self.trust.is_doubtful() { FIRST_ANSWER_ATTEMPTS } else { 2 } {
            attempts = attempts.saturating_add(1);
            self.settle()?;
            match self.exchange(command, self.command_patience()) {
                Ok((reply, _)) => {
                    let value = read(&reply);
                    if value.is_some() && (!self.trust.is_doubtful() || value == earlier) {
                        return Ok(value);
                    }
                    earlier = value.or(earlier);
                }
                Err(LinkError::Silent { .. }) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(None)
    }

    /// Measures the supply voltage at the diagnostic connector; `None` if the adapter cannot.
    ///
    /// # Errors
    /// [`LinkError::Lost`] or [`LinkError::Silent`] if the adapter does not answer.
    pub fn supply_volts(&mut self) -> Result<Option<f64>, LinkError> {
        let volts = self.inquire(&Command::Voltage, |reply| reply.text().and_then(voltage))?;
        self.profile.supply_volts = volts.or(self.profile.supply_volts);
        Ok(volts)
    }

    /// Has the adapter look for the protocol, and proves it by an answer from the car.
    fn find_protocol(&mut self) -> Result<(), LinkError> {
        let request = Request::new(0x01, &[0x00]);
        let question = Command::Ask { request: &request, answers: None };
        let mut last = LinkError::UnableToConnect;
        let mut silences = 0_u32;
        self.try_setting(&Command::Protocol(0))?;
        let mut attempts = 0_u32;
        while attempts
            < if self.trust.is_doubtful() { DOUBTFUL_ATTEMPTS } else { FIRST_ANSWER_ATTEMPTS }
        {
            attempts = attempts.saturating_add(1);
            self.settle()?;
            // On a line that loses bytes a prompt is more likely lost than late.
            let patience = if self.trust.is_doubtful() { TAKING_UP } else { SEARCH };
            let reply = match self.exchange(&question, patience) {
                Ok((reply, _)) => reply,
                Err(error @ LinkError::Silent { .. }) => {
                    last = error;
                    continue;
                }
                Err(error) => return Err(error),
            };
            let Some(first) = reply.digits().next() else {
                last = failure_of(&reply);
                match last {
                    // The car may need a moment after the search.
                    LinkError::NoData | LinkError::EmptyAnswer if silences < 2 => {
                        silences = silences.saturating_add(1);
                    }
                    LinkError::Damaged => self.trust.handle_damage(),
                    LinkError::Stopped | LinkError::UnknownCommand => self.unsettled = true,
                    _ => return Err(last),
                }
                continue;
            };
            self.note_protocol(first)?;
            // The first answer was read before the protocol was known; the proof is one read after.
            match self.ask(&request, None, self.request_patience()) {
                Ok(_) => return Ok(()),
                Err(LinkError::Lost) => return Err(LinkError::Lost),
                Err(error) => last = error,
            }
        }
        Err(last)
    }

    /// Notes the protocol from what the adapter says about it, or from the form of its lines.
    fn note_protocol(&mut self, line: &str) -> Result<(), LinkError> {
        let number = self.inquire(&Command::DescribeProtocol, |reply| {
            reply.digits().find_map(protocol_number)
        })?;
        let capabilities = &mut self.profile.capabilities;
        capabilities.describes_protocol = if number.is_some() { Found::Yes } else { Found::No };
        // An adapter may take the setting and still show no headers, or refuse a damaged command
        // for them and show them: the first line tells, unless it is damaged itself.
        let by_form = Protocol::from_line(line);
        let bare = line.starts_with("4100") && line.len() == 12;
        if by_form.is_some() || bare {
            self.headers = by_form.is_some();
            capabilities.headers = if self.headers { Found::Yes } else { Found::No };
        }
        let by_number = number.and_then(Protocol::from_number);
        self.profile.protocol = match (by_form, by_number, number) {
            (Some(protocol), _, _) | (None, Some(protocol), _) => Some(protocol),
            (None, None, Some(number)) => {
                return Err(LinkError::UnsupportedProtocol { number });
            }
            (None, None, None) => None,
        };
        self.profile.protocol_number =
            number.filter(|_| by_number == self.profile.protocol && by_number.is_some());
        Ok(())
    }
}
