use std::path::PathBuf;

use thiserror::Error;

use crate::jobs::LinkAddress;
use crate::vehicle::Fault;

/// What is wrong with the words for a link.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub(super) enum LinkWords {
    /// No such way.
    #[error(
        "no link is called that; use ble:NAME-OR-ADDRESS[#WRITE/NOTIFY], spp:ADDRESS, serial:DEVICE[:BAUD], \
         tcp:HOST:PORT, replay:FILE.csv or virtual[:FAULT[:SEED]]"
    )]
    Unknown,
    /// The adapter's name is missing.
    #[error("the adapter's name or address is missing, as in ble:MY-ADAPTER")]
    NoName,
    /// The paired device's address is missing.
    #[error("the address of a paired device is missing, as in spp:00:00:5E:00:53:01")]
    NoAddress,
    /// The device is missing.
    #[error("the device is missing, as in serial:/dev/ttyUSB0 or serial:COM3:38400")]
    NoDevice,
    /// Host or port is missing.
    #[error("host and port are needed, as in tcp:192.168.0.10:35000")]
    NoPort,
    /// The file is missing.
    #[error("the recording is missing, as in replay:visit.csv")]
    NoFile,
    /// No such fault.
    #[error("no fault is called {0}; one of: {list}", list = fault_names())]
    NoFault(String),
    /// The seed is no number.
    #[error("the seed must be a whole number, as in virtual:purge_valve_leaking:7")]
    NoSeed,
}

/// Reads `ble:NAME-OR-ADDRESS[#WRITE/NOTIFY]`, `spp:ADDRESS`, `serial:DEVICE[:BAUD]`, `tcp:HOST:PORT`, `replay:FILE.csv` or
/// `virtual[:FAULT[:SEED]]`. The virtual car runs as fast as the processor allows.
///
/// # Errors
/// What is wrong with the words, with an example.
pub(super) fn parse_link(words: &str) -> Result<LinkAddress, LinkWords> {
    let (way, rest) = words.split_once(':').unwrap_or((words, ""));
    match way {
        "ble" if rest.is_empty() => Err(LinkWords::NoName),
        "ble" => Ok(wireless(rest)),
        "spp" if rest.is_empty() => Err(LinkWords::NoAddress),
        "spp" => Ok(LinkAddress::Classic(rest.to_owned())),
        "serial" if rest.is_empty() => Err(LinkWords::NoDevice),
        "serial" => Ok(serial(rest)),
        "tcp" => tcp(rest).ok_or(LinkWords::NoPort),
        "replay" if rest.is_empty() => Err(LinkWords::NoFile),
        "replay" => Ok(LinkAddress::Replay(PathBuf::from(rest))),
        "virtual" => virtual_car(rest),
        _ => Err(LinkWords::Unknown),
    }
}

/// A rate at the end counts as one only if it is a number; device paths may hold colons.
fn serial(rest: &str) -> LinkAddress {
    match rest.rsplit_once(':').map(|(device, rate)| (device, rate.parse())) {
        Some((device, Ok(rate))) if !device.is_empty() => {
            LinkAddress::Serial { device: device.to_owned(), baud: Some(rate) }
        }
        _ => LinkAddress::Serial { device: rest.to_owned(), baud: None },
    }
}

/// What follows the last `#` chooses the characteristics, where it names two; names may hold one.
fn wireless(rest: &str) -> LinkAddress {
    match rest.rsplit_once('#').map(|(name, pair)| (name, pair.parse())) {
        Some((name, Ok(stream))) if !name.is_empty() => {
            LinkAddress::BluetoothStream { name: name.to_owned(), stream }
        }
        _ => LinkAddress::Bluetooth(rest.to_owned()),
    }
}

/// An address in the words that [`parse_link`] reads.
pub(super) fn link_words(address: &LinkAddress) -> String {
    match address {
        LinkAddress::Bluetooth(name) => format!("ble:{name}"),
        LinkAddress::BluetoothStream { name, stream } => format!("ble:{name}#{stream}"),
        LinkAddress::Classic(address) => format!("spp:{address}"),
        LinkAddress::Serial { device, baud: None } => format!("serial:{device}"),
        LinkAddress::Serial { device, baud: Some(baud) } => format!("serial:{device}:{baud}"),
        LinkAddress::Tcp { host, port } if host.contains(':') => format!("tcp:[{host}]:{port}"),
        LinkAddress::Tcp { host, port } => format!("tcp:{host}:{port}"),
        LinkAddress::Replay(path) => format!("replay:{}", path.display()),
        LinkAddress::Virtual { fault, seed, .. } => {
            format!("virtual:{}:{seed}", fault.map_or("none", Fault::name))
        }
    }
}

/// The port is what follows the last colon; an IPv6 address may stand in square brackets.
fn tcp(rest: &str) -> Option<LinkAddress> {
    let (host, port) = rest.rsplit_once(':')?;
    let host = host.strip_prefix('[').and_then(|it| it.strip_suffix(']')).unwrap_or(host);
    let port = port.parse().ok().filter(|port| *port > 0)?;
    (!host.is_empty()).then(|| LinkAddress::Tcp { host: host.to_owned(), port })
}

fn virtual_car(rest: &str) -> Result<LinkAddress, LinkWords> {
    let (fault, seed) = rest.split_once(':').unwrap_or((rest, ""));
    let fault = match fault {
        "" | "none" => None,
        name => Some(Fault::from_name(name).ok_or_else(|| LinkWords::NoFault(name.to_owned()))?),
    };
    let seed = match seed {
        "" => 1,
        digits => digits.parse().map_err(|_| LinkWords::NoSeed)?,
    };
    Ok(LinkAddress::Virtual { fault, seed, real_time: false })
}

fn fault_names() -> String {
    Fault::ALL.map(Fault::name).join(", ")
}

#[cfg(test)]
mod tests {
    use super::{LinkWords, link_words, parse_link};
    use crate::jobs::LinkAddress;
    use crate::vehicle::Fault;

    fn serial(device: &str, baud: Option<u32>) -> LinkAddress {
        LinkAddress::Serial { device: device.to_owned(), baud }
    }

    fn stream(name: &str, pair: &str) -> LinkAddress {
        LinkAddress::BluetoothStream { name: name.to_owned(), stream: pair.parse().unwrap() }
    }

    fn tcp(host: &str, port: u16) -> LinkAddress {
        LinkAddress::Tcp { host: host.to_owned(), port }
    }

    fn car(fault: Option<Fault>, seed: u64) -> LinkAddress {
        LinkAddress::Virtual { fault, seed, real_time: false }
    }

    #[test]
    fn every_way_to_write_a_link_is_read() {
        let leaking = Some(Fault::PurgeValveLeaking);
        let cases = [
            ("ble:CAR LINK", LinkAddress::Bluetooth("CAR LINK".to_owned())),
            ("ble:LAB #2", LinkAddress::Bluetooth("LAB #2".to_owned())),
            ("ble:LAB #2#ffe1/fff1", stream("LAB #2", "ffe1/fff1")),
            ("ble:00:1A:7D:00:00:01", LinkAddress::Bluetooth("00:1A:7D:00:00:01".to_owned())),
            ("spp:00:00:5E:00:53:01", LinkAddress::Classic("00:00:5E:00:53:01".to_owned())),
            ("serial:/dev/ttyUSB0", serial("/dev/ttyUSB0", None)),
            ("serial:/dev/ttyUSB0:38400", serial("/dev/ttyUSB0", Some(38_400))),
            ("serial:COM3", serial("COM3", None)),
            ("serial:/dev/by-path/usb-0:1", serial("/dev/by-path/usb-0", Some(1))),
            ("tcp:127.0.0.1:35000", tcp("127.0.0.1", 35_000)),
            ("tcp:[::1]:35000", tcp("::1", 35_000)),
            ("replay:a:b.csv", LinkAddress::Replay("a:b.csv".into())),
            ("virtual", car(None, 1)),
            ("virtual:none:4", car(None, 4)),
            ("virtual:purge_valve_leaking", car(leaking, 1)),
            ("virtual:purge_valve_leaking:7", car(leaking, 7)),
        ];
        for (words, expected) in cases {
            assert_eq!(parse_link(&link_words(&expected)).as_ref(), Ok(&expected), "{words}");
            assert_eq!(parse_link(words), Ok(expected), "{words}");
        }
    }

    #[test]
    fn words_that_name_no_link_say_what_to_write() {
        let cases = [
            ("", LinkWords::Unknown),
            ("usb:1", LinkWords::Unknown),
            ("ble:", LinkWords::NoName),
            ("spp:", LinkWords::NoAddress),
            ("serial", LinkWords::NoDevice),
            ("tcp:host", LinkWords::NoPort),
            ("tcp::35000", LinkWords::NoPort),
            ("tcp:host:0", LinkWords::NoPort),
            ("tcp:host:70000", LinkWords::NoPort),
            ("replay:", LinkWords::NoFile),
            ("virtual:flat_tyre", LinkWords::NoFault("flat_tyre".to_owned())),
            ("virtual:vapor_leak:x", LinkWords::NoSeed),
        ];
        for (words, expected) in cases {
            assert_eq!(parse_link(words), Err(expected), "{words}");
        }
    }
}
