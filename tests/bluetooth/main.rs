//! The wireless transport and the unmodified Bluetooth library below it, against a stand-in for
//! the system's Bluetooth service on a private message bus (needs `dbus-daemon`).
//!
//! The bus's address comes from the environment, and must be there before a process uses it for
//! the first time: so this program starts the bus and the stand-in, and runs itself again as the
//! client, which asks for what is to happen on its standard output.
#![allow(clippy::disallowed_methods, reason = "the stand-in lives on the machine's clock")]
#![allow(clippy::disallowed_types, reason = "the bus library's macros make hash maps")]
#![allow(clippy::print_stdout, reason = "the client's orders to the stand-in")]

mod gatt;
mod peripheral;
mod private_bus;
mod stand_in;
mod state;

use std::io::{BufRead as _, BufReader, Write as _};
use std::process::{Command, ExitCode, Stdio};
use std::time::Duration;

use peripheral::{DISPLAY, PERIPHERALS, SERIAL, TRICKY};
use private_bus::PrivateBus;
use stand_in::StandIn;
use stilltank::link::transport::{Ble, machine_clock};
use stilltank::link::{Link, LinkError, Request, Rotation, Transport, Unreachable, Wanted};
use stilltank::virtual_car::{CarParameters, Garage, Pace};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().collect();
    match arguments.get(1).map(String::as_str) {
        Some("client-without-service") => without_service(),
        Some("client") => client(),
        _ => return host(),
    }
    ExitCode::SUCCESS
}

/// A car on its own clock that answers whole lines.
fn car() -> state::Answers {
    let garage = Garage::new(CarParameters::draw(None, None, 1), 1, Pace::Unbounded);
    let mut wire = garage.transport();
    let mut line = Vec::new();
    Box::new(move |bytes| {
        let mut answer = Vec::new();
        for byte in bytes {
            line.push(*byte);
            if *byte == b'\r' {
                wire.write(&line).expect("a virtual wire holds");
                line.clear();
                while !answer.ends_with(b">") {
                    let deadline = wire.now() + Duration::from_secs(60);
                    wire.read(&mut answer, deadline).expect("a virtual wire holds");
                }
            }
        }
        answer
    })
}

fn host() -> ExitCode {
    let bus = PrivateBus::start();
    let program = std::env::current_exe().expect("a program knows itself");
    let command = |role: &str| {
        let mut command = Command::new(&program);
        command.arg(role).env("DBUS_SYSTEM_BUS_ADDRESS", bus.address());
        command
    };
    let alone = command("client-without-service").status().expect("the client starts");
    let stand_in = StandIn::start(bus.address(), car()).expect("the stand-in starts");
    let mut client = command("client")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the client starts");
    let mut answers = client.stdin.take().expect("piped above");
    let orders = BufReader::new(client.stdout.take().expect("piped above"));
    for order in orders.lines() {
        match order.as_deref() {
            Ok("drop the link") => stand_in.drop_link(SERIAL).expect("the link is up"),
            Ok("come nearer") => stand_in.come_nearer().expect("the peripherals are there"),
            Ok("switch off") => stand_in.switch_off().expect("the radio is there"),
            Ok("want pairing") => stand_in.shared.get().wants_pairing = true,
            _ => continue,
        }
        writeln!(answers, "done").expect("the client listens");
    }
    let status = client.wait().expect("the client ends");
    let longest = stand_in.shared.get().longest_write;
    assert!((1..=20).contains(&longest), "pieces of up to {longest} bytes were written");
    if alone.success() && status.success() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn ask_host(order: &str) {
    println!("{order}");
    let mut line = String::new();
    std::io::stdin().read_line(&mut line).expect("the host answers");
    assert_eq!(line.trim(), "done");
}

fn unreachable(why: Unreachable) -> Option<LinkError> {
    Some(LinkError::Unreachable(why))
}

fn without_service() {
    let scan = Ble::scan(Duration::from_millis(100)).err();
    assert_eq!(scan, unreachable(Unreachable::NoRadio), "no Bluetooth service on the bus");
}

fn client() {
    let [serial, tricky, display] = [SERIAL, TRICKY, DISPLAY].map(|it| &PERIPHERALS[it]);
    let seen = Ble::scan(Duration::from_millis(500)).expect("the radio is on");
    let rows: Vec<_> =
        seen.iter().map(|it| (it.name.as_deref(), it.address.as_str(), it.strength_dbm)).collect();
    let row = |it: &peripheral::Peripheral| (Some(it.name), it.address, Some(it.strength));
    assert_eq!(rows, [row(serial), row(display), row(tricky)], "the strongest first");
    strengths_follow(serial.address);
    streams_can_be_chosen(tricky, display);

    let missing = Ble::open("nobody", None, Duration::from_secs(1)).err();
    assert_eq!(missing, unreachable(Unreachable::NotFound));

    let ble = Ble::open(serial.name, None, Duration::from_secs(10)).expect("it is there");
    let mut link = Link::open(Box::new(ble), &mut |_| {}).expect("a car answers");
    let ask = |link: &mut Link| link.request(&Request::new(0x01, &[0x00])).map(|it| it.len());
    assert!(ask(&mut link).is_ok_and(|units| units >= 1));
    let mut rotation = Rotation::new(vec![Wanted::parameter(0x0C, 2, 10.0)]);
    read_some(&mut link, &mut rotation);

    ask_host("drop the link");
    let lost = std::iter::repeat_with(|| link.poll(&mut rotation)).find_map(Result::err);
    assert_eq!(lost, Some(LinkError::Lost));
    let deadline = machine_clock::now() + Duration::from_secs(10);
    link.reconnect(deadline).expect("the peripheral is still in reach");
    assert!(machine_clock::now() < deadline - Duration::from_secs(7), "back within 3 s");
    read_some(&mut link, &mut rotation);
    assert!(!link.is_doubtful());
    drop(link);

    ask_host("want pairing");
    let refused = Ble::open(serial.address, None, Duration::from_secs(5)).err();
    assert_eq!(refused, unreachable(Unreachable::PairingNeeded));

    ask_host("switch off");
    let off = Ble::scan(Duration::from_millis(100)).err();
    assert_eq!(off, unreachable(Unreachable::RadioOff));
    let off = Ble::open(serial.name, None, Duration::from_secs(5)).err();
    assert_eq!(off, unreachable(Unreachable::RadioOff));
}

/// A search that goes on shows how strengths change.
fn strengths_follow(address: &str) {
    let mut strengths = Vec::new();
    let mut looks = 0;
    Ble::watch(&mut |seen| {
        let strength = seen.iter().find(|it| it.address == address).and_then(|it| it.strength_dbm);
        if strengths.last() != Some(&strength) {
            strengths.push(strength);
            if strengths.len() == 1 {
                ask_host("come nearer");
            }
        }
        looks += 1;
        strengths.len() < 2 && looks < 100
    })
    .expect("the radio is on");
    assert_eq!(strengths, [Some(-55), Some(-49)]);
}

/// The pair that looks best need not be the one that carries the stream: then a person chooses.
fn streams_can_be_chosen(tricky: &peripheral::Peripheral, display: &peripheral::Peripheral) {
    let patience = Duration::from_secs(10);
    let offers = Ble::streams(tricky.name, patience).expect("it is in reach");
    let rows: Vec<_> =
        offers.iter().map(|it| (it.pair.to_string(), it.without_response, it.usual)).collect();
    let row = |pair: &str, quick, usual| (pair.to_owned(), quick, usual);
    assert_eq!(rows, [row("bb01/bb01", true, true), row("cc01/cc02", false, false)]);
    let mut usual = Ble::open(tricky.address, None, patience).expect("it looks like an adapter");
    assert_eq!(Link::is_answered(&mut usual), Ok(false), "the pair that looks best is silent");
    drop(usual);
    let mut chosen =
        Ble::open(tricky.address, Some(&offers[1].pair), patience).expect("it is in reach");
    assert_eq!(Link::is_answered(&mut chosen), Ok(true));
    drop(chosen);
    let unknown = "ee01/ee02".parse().expect("a pair of short numbers");
    let none = Ble::open(tricky.address, Some(&unknown), patience).err();
    assert_eq!(none, unreachable(Unreachable::NoSerialStream));

    assert_eq!(Ble::streams(display.name, patience).map(|it| it.len()), Ok(0));
    let none = Ble::open(display.name, None, patience).err();
    assert_eq!(none, unreachable(Unreachable::NoSerialStream), "the services of something else");
}

fn read_some(link: &mut Link, rotation: &mut Rotation) {
    let mut readings = 0;
    let deadline = machine_clock::now() + Duration::from_secs(10);
    while readings < 5 && machine_clock::now() < deadline {
        readings += link.poll(rotation).expect("the link holds").len();
    }
    assert_eq!(readings, 5);
}
