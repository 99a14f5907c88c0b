use std::time::Duration;

use super::super::adapter::command::Command;
use super::super::adapter::reply::{Line, Notice, Reply};
use super::super::adapter::setup::{SETTINGS, protocol_number, voltage};
use super::super::adapter::{Found, Protocol, SetupStep};
use super::super::connection::Connection;
use super::super::connection::Patience;
use super::super::interpretation::failure_of;
use super::super::isotp::assembler::Assembler;
use super::super::scheduler::latency::Latency;
use super::super::scheduler::{CountMeans, Request, Target};
use super::super::transport::Transcribing;
use super::super::trust::Trust;
use super::super::{LinkError, Transport};
use super::{AdapterProfile, COMMAND, Link};
use crate::units::Instant;

/// A restart takes an adapter about a second (common practice, no source).
const RESET: Patience =
    Patience { in_all: Duration::from_secs(3), after_a_byte: Duration::from_secs(2) };

/// Trying all protocols takes up to half a minute, most of it on the slow start of the K line.
const SEARCH: Patience =
    Patience { in_all: Duration::from_secs(40), after_a_byte: Duration::from_secs(40) };

/// Attempts at one command before its result counts.
const ATTEMPTS: u32 = 4;

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
            unsettled: false,
            inbox: Vec::new(),
        };
        on_step(SetupStep::WakingAdapter);
        link.wake()?;
        on_step(SetupStep::Configuring);
        link.configure()?;
        link.introduce()?;
        on_step(SetupStep::FindingProtocol);
        link.find_protocol(0)?;
        on_step(SetupStep::Connected);
        Ok(link)
    }

    /// Gets a broken connection back and goes on where it was. An adapter that kept its settings
    /// answers at once; one that restarted is set up again, with the protocol known before.
    ///
    /// # Errors
    /// What kept it from coming back before `deadline`.
    pub fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        self.transport.reconnect(deadline)?;
        self.connection = Connection::default();
        loop {
            match self.take_up_again() {
                Ok(()) => return Ok(()),
                Err(LinkError::Lost) => self.transport.reconnect(deadline)?,
                Err(error) if self.now() >= deadline => return Err(error),
                Err(_) => {}
            }
        }
    }

    /// Makes the adapter fit to answer again, whatever it remembers.
    pub(super) fn take_up_again(&mut self) -> Result<(), LinkError> {
        self.unsettled = true;
        self.settle()?;
        self.troubles = 0;
        if self.addressed == Target::All && self.car_answers().is_ok() {
            return Ok(());
        }
        self.addressed = Target::All;
        self.configure()?;
        match self.find_protocol(self.profile.protocol_number.unwrap_or(0)) {
            // The known protocol fails where another car stands there now.
            Err(LinkError::UnableToConnect | LinkError::NoData | LinkError::Bus(_)) => {
                self.find_protocol(0)
            }
            result => result,
        }
    }

    fn car_answers(&mut self) -> Result<(), LinkError> {
        let request = Request::new(0x01, &[0x00]);
        self.ask(&request, None, self.request_patience()).map(drop)
    }

    /// Looks whether something answers, and whether it is an adapter.
    fn wake(&mut self) -> Result<(), LinkError> {
        let mut heard = false;
        let mut silent = LinkError::Silent { waited_ms: 0 };
        for _ in 0..ATTEMPTS {
            match self.exchange(&Command::Reset, RESET) {
                Ok(_) => heard = true,
                Err(error @ LinkError::Silent { .. }) => {
                    heard |= self.trust.damaged() > 0;
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
        // The restart's greeting is free text; only an "OK" proves the dialect.
        self.unsettled = true;
        match self.settle() {
            Err(LinkError::Silent { .. }) => Err(LinkError::NotAnAdapter),
            result => result,
        }
    }

    /// Makes all settings; those that the adapter does not know are noted and left.
    fn configure(&mut self) -> Result<(), LinkError> {
        for setting in &SETTINGS {
            let found = self.try_setting(&setting.command)?;
            (setting.note)(&mut self.profile.capabilities, found);
        }
        self.headers = self.profile.capabilities.headers != Found::No;
        Ok(())
    }

    /// Tries a setting until the adapter takes it. One refusal may be damage; two are a refusal.
    pub(super) fn try_setting(&mut self, command: &Command<'_>) -> Result<Found, LinkError> {
        let mut refusals = 0_u32;
        for _ in 0..ATTEMPTS {
            self.settle()?;
            match self.exchange(command, COMMAND) {
                Ok((reply, _)) if reply.says(Notice::Ok) => return Ok(Found::Yes),
                Ok((reply, _)) if reply.says(Notice::Unknown) => {
                    refusals = refusals.saturating_add(1);
                    if refusals >= 2 {
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

    /// Sends a setting once; whether the adapter took it.
    pub(super) fn exchange_command(&mut self, command: &Command<'_>) -> Result<bool, LinkError> {
        let (reply, _) = self.exchange(command, COMMAND)?;
        Ok(reply.says(Notice::Ok))
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

    /// Asks the adapter about itself; `None` if it gives no usable answer.
    fn inquire<T>(
        &mut self,
        command: &Command<'_>,
        read: impl Fn(&Reply) -> Option<T>,
    ) -> Result<Option<T>, LinkError> {
        for _ in 0..2 {
            self.settle()?;
            match self.exchange(command, COMMAND) {
                Ok((reply, _)) => {
                    if let Some(value) = read(&reply) {
                        return Ok(Some(value));
                    }
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

    /// Finds the protocol, or takes up a known one, and proves it by an answer from the car.
    fn find_protocol(&mut self, number: u8) -> Result<(), LinkError> {
        let mut last = LinkError::UnableToConnect;
        for _ in 0..ATTEMPTS {
            self.try_setting(&Command::Protocol(number))?;
            self.settle()?;
            let request = Request::new(0x01, &[0x00]);
            let question = Command::Ask { request: &request, answers: None };
            let reply = match self.exchange(&question, SEARCH) {
                Ok((reply, _)) => reply,
                Err(error @ LinkError::Silent { .. }) => {
                    last = error;
                    continue;
                }
                Err(error) => return Err(error),
            };
            let first = reply.lines.iter().find_map(|line| match line {
                Line::Digits(digits) => Some(digits.clone()),
                _ => None,
            });
            let Some(first) = first else {
                last = failure_of(&reply);
                match last {
                    // The car may need a moment after the search; damage may vanish.
                    LinkError::NoData | LinkError::Damaged | LinkError::EmptyAnswer => {}
                    LinkError::Stopped | LinkError::UnknownCommand => self.unsettled = true,
                    _ => return Err(last),
                }
                continue;
            };
            self.note_protocol(&first)?;
            // The first answer was read before the protocol was known; the proof is one read after.
            match self.ask(&request, None, self.request_patience()) {
                Ok(_) => return Ok(()),
                Err(error @ (LinkError::Lost | LinkError::UnsupportedProtocol { .. })) => {
                    return Err(error);
                }
                Err(error) => last = error,
            }
        }
        Err(last)
    }

    /// Notes the protocol from what the adapter says about it, or from the form of its lines.
    fn note_protocol(&mut self, line: &str) -> Result<(), LinkError> {
        let number = self.inquire(&Command::DescribeProtocol, |reply| {
            reply.lines.iter().find_map(|line| match line {
                Line::Digits(digits) => protocol_number(digits),
                _ => None,
            })
        })?;
        let capabilities = &mut self.profile.capabilities;
        capabilities.describes_protocol = if number.is_some() { Found::Yes } else { Found::No };
        // An adapter may take the setting and still show no headers: the payload comes first.
        let bare = line.starts_with("4100") && matches!(line.len(), 12 | 3);
        self.headers = capabilities.headers != Found::No && !bare;
        if bare {
            capabilities.headers = Found::No;
        }
        let by_form = if self.headers { Protocol::from_line(line) } else { None };
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
