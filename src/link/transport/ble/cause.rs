use crate::link::LinkError;
use crate::link::error::Unreachable;

/// Words in the system's error names, and what they mean. The library hands D-Bus errors on as
/// text; the names are those of the BlueZ and D-Bus interfaces.
const CAUSES: [(&str, Unreachable); 15] = [
    ("Authentication", Unreachable::PairingNeeded),
    ("NotAuthorized", Unreachable::PairingNeeded),
    ("AccessDenied", Unreachable::PermissionDenied),
    ("NotPermitted", Unreachable::PermissionDenied),
    ("NotReady", Unreachable::RadioOff),
    ("Not Ready", Unreachable::RadioOff),
    ("InProgress", Unreachable::Busy),
    ("In Progress", Unreachable::Busy),
    ("busy", Unreachable::Busy),
    ("ServiceUnknown", Unreachable::NoRadio),
    ("NameHasNoOwner", Unreachable::NoRadio),
    ("FileNotFound", Unreachable::NoRadio),
    ("NoServer", Unreachable::NoRadio),
    ("UnknownObject", Unreachable::NotFound),
    ("imed", Unreachable::TimedOut),
];

/// The cause behind an error of the Bluetooth library.
pub(super) fn cause_of(error: &btleplug::Error) -> LinkError {
    use btleplug::Error;
    let why = match error {
        Error::PermissionDenied => Unreachable::PermissionDenied,
        Error::DeviceNotFound => Unreachable::NotFound,
        Error::NoAdapterAvailable => Unreachable::NoRadio,
        Error::TimedOut(_) => Unreachable::TimedOut,
        Error::NotConnected => return LinkError::Lost,
        other => cause_in(&format!("{other:?}")),
    };
    why.into()
}

fn cause_in(text: &str) -> Unreachable {
    let known = CAUSES.iter().find(|(words, _)| text.contains(words));
    known.map_or(Unreachable::ConnectionRefused, |(_, why)| *why)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_systems_names_become_causes() {
        let text = |name: &str| btleplug::Error::RuntimeError(format!("D-Bus error: {name}"));
        let rows = [
            ("org.bluez.Error.AuthenticationFailed", Unreachable::PairingNeeded),
            ("org.bluez.Error.NotReady", Unreachable::RadioOff),
            ("org.bluez.Error.InProgress", Unreachable::Busy),
            ("org.freedesktop.DBus.Error.AccessDenied", Unreachable::PermissionDenied),
            ("org.freedesktop.DBus.Error.ServiceUnknown", Unreachable::NoRadio),
            ("org.bluez.Error.Failed", Unreachable::ConnectionRefused),
        ];
        for (name, why) in rows {
            assert_eq!(cause_of(&text(name)), LinkError::Unreachable(why), "{name}");
        }
        assert_eq!(cause_of(&btleplug::Error::NotConnected), LinkError::Lost);
    }
}
