use crate::link::{LinkError, Unreachable};
use crate::wording::Language;

/// What is wrong with the way to the car and what to do.
pub(super) fn sentence(error: &LinkError, language: Language) -> String {
    let (english, german) = match error {
        LinkError::Unreachable(why) => unreachable_sentence(*why),
        LinkError::Lost => (
            "The connection to the adapter is gone. Check its plug and power; it is tried again.",
            "Die Verbindung zum Adapter ist weg. Stecker und Strom prüfen; es wird neu versucht.",
        ),
        LinkError::Silent { .. } => (
            "The adapter does not answer. Unplug it, plug it in again, and connect once more.",
            "Der Adapter antwortet nicht. Abziehen, wieder einstecken und neu verbinden.",
        ),
        LinkError::NotAnAdapter => (
            "Something answers there, but not as an OBD adapter does. Check address and speed.",
            "Dort antwortet etwas, aber kein OBD-Adapter. Adresse und Geschwindigkeit prüfen.",
        ),
        LinkError::NoData => (
            "The car does not answer. Turn the key on and try again.",
            "Das Auto antwortet nicht. Zündung einschalten und neu versuchen.",
        ),
        LinkError::UnableToConnect => (
            "The adapter finds no way to talk to the car. Turn the key on and seat the plug well.",
            "Der Adapter erreicht das Auto nicht. Zündung ein und den Stecker fest einstecken.",
        ),
        LinkError::LowVoltage => (
            "The adapter's supply is too low. Charge the battery or start the engine.",
            "Die Spannung am Adapter ist zu niedrig. Batterie laden oder Motor starten.",
        ),
        LinkError::Bus(_) => (
            "The car's bus is disturbed. Unplug other devices from it and try again.",
            "Der Bus des Autos ist gestört. Andere Geräte abziehen und neu versuchen.",
        ),
        LinkError::UnsupportedProtocol { .. } => (
            "This car speaks a protocol that the program does not know.",
            "Dieses Auto spricht ein Protokoll, das das Programm nicht kennt.",
        ),
        LinkError::Refused { reason, .. } => return refusal(*reason, language),
        LinkError::StillPending { .. } => (
            "The car refuses this request as it stands. With the engine off and the key on it may \
             accept it.",
            "Das Auto lehnt diese Anfrage gerade ab. Bei stehendem Motor und Zündung ein nimmt es \
             sie vielleicht an.",
        ),
        LinkError::NotAllowed { .. } | LinkError::RequestTooLong { .. } => {
            ("This program does not send that request.", "Diese Anfrage sendet das Programm nicht.")
        }
        LinkError::ConsentNeeded { .. } | LinkError::ConsentSpent { .. } => (
            "Nothing was sent: this request changes something in the car and needs your agreement.",
            "Nichts gesendet: Die Anfrage ändert etwas im Auto und braucht das Einverständnis.",
        ),
        LinkError::UnknownCommand | LinkError::AdapterFault => (
            "The adapter does not understand. Unplug it and plug it in again; if that does not \
             help, it is not fit for this.",
            "Der Adapter versteht nicht. Abziehen und wieder einstecken; hilft das nicht, taugt er \
             dafür nicht.",
        ),
        LinkError::TranscriptDiffers { .. } | LinkError::TranscriptLine { .. } => {
            ("The transcript cannot be played back.", "Das Protokoll lässt sich nicht abspielen.")
        }
        LinkError::Stopped
        | LinkError::BufferFull
        | LinkError::EmptyAnswer
        | LinkError::Damaged
        | LinkError::Incomplete => (
            "Answers arrive damaged. Seat the adapter well, go nearer, and try again.",
            "Antworten kommen beschädigt an. Adapter fest einstecken, näher herangehen, neu \
             versuchen.",
        ),
    };
    language.of(english, german).to_owned()
}

/// Why the car refuses, by its response code (ISO 14229-1, annex A).
fn refusal(reason: u8, language: Language) -> String {
    let (english, german) = match reason {
        0x11 | 0x12 | 0x31 => (
            "the control unit does not know this request",
            "das Steuergerät kennt diese Anfrage nicht",
        ),
        0x13 => (
            "the control unit expects this request longer or shorter",
            "das Steuergerät erwartet diese Anfrage länger oder kürzer",
        ),
        0x21 => (
            "the control unit is busy. Try again in a minute",
            "das Steuergerät ist beschäftigt. In einer Minute noch einmal versuchen",
        ),
        0x22 => (
            "the conditions are not right. With the engine off, the key on and the car standing it \
             may accept it",
            "die Bedingungen stimmen nicht. Bei stehendem Motor, Zündung ein und stehendem Auto \
             nimmt es sie vielleicht an",
        ),
        0x33 => (
            "the control unit protects this request from everybody but its maker",
            "das Steuergerät gibt diese Anfrage nur dem Hersteller frei",
        ),
        _ => (
            "the control unit says no. With the engine off and the key on it may accept it",
            "das Steuergerät lehnt ab. Bei stehendem Motor und Zündung ein nimmt es sie vielleicht \
             an",
        ),
    };
    match language {
        Language::English => format!("The car refuses: {english} (code {reason:02X})."),
        Language::German => format!("Das Auto lehnt ab: {german} (Code {reason:02X})."),
    }
}

fn unreachable_sentence(why: Unreachable) -> (&'static str, &'static str) {
    match why {
        Unreachable::NotFound => (
            "No adapter is there. Check the name or address, and that the adapter has power.",
            "Dort ist kein Adapter. Name oder Adresse prüfen, und ob der Adapter Strom hat.",
        ),
        Unreachable::ConnectionRefused => (
            "The adapter refuses the connection. Check host and port; another program may use it.",
            "Der Adapter lehnt ab. Adresse und Port prüfen; vielleicht benutzt ihn ein anderes \
             Programm.",
        ),
        Unreachable::TimedOut => (
            "The adapter does not answer in time. Check that it has power and is in reach.",
            "Der Adapter antwortet nicht rechtzeitig. Strom und Reichweite prüfen.",
        ),
        Unreachable::Busy => (
            "Another program uses the adapter. Close that program and connect again.",
            "Ein anderes Programm benutzt den Adapter. Es schließen und neu verbinden.",
        ),
        Unreachable::PermissionDenied => (
            "The system does not let this program use the adapter. Grant it the permission.",
            "Das System lässt das Programm nicht an den Adapter. Die Berechtigung geben.",
        ),
        Unreachable::InvalidAddress => (
            "That is no address of an adapter. Check it and try again.",
            "Das ist keine Adresse eines Adapters. Prüfen und neu versuchen.",
        ),
        Unreachable::NoRadio => (
            "This machine has no Bluetooth radio. Use a wired or a network adapter.",
            "Dieses Gerät hat kein Bluetooth. Einen Adapter mit Kabel oder Netz benutzen.",
        ),
        Unreachable::RadioOff => (
            "Bluetooth is switched off. Switch it on and try again.",
            "Bluetooth ist ausgeschaltet. Einschalten und neu versuchen.",
        ),
        Unreachable::PairingNeeded => (
            "The adapter wants to be paired first. Pair it in the system's settings.",
            "Der Adapter will erst gekoppelt werden. In den Systemeinstellungen koppeln.",
        ),
        Unreachable::NoSerialStream => (
            "This Bluetooth device is no OBD adapter that the program can talk to.",
            "Dieses Bluetooth-Gerät ist kein OBD-Adapter, mit dem das Programm reden kann.",
        ),
        Unreachable::NoClassic => (
            "Classic Bluetooth is for the phone. On this machine bind the adapter to a serial \
             device in the system, and use that as a wired one.",
            "Klassisches Bluetooth gibt es auf dem Telefon. Hier den Adapter im System an ein \
             serielles Gerät binden und dieses wie einen mit Kabel benutzen.",
        ),
        Unreachable::NotBuilt => (
            "This build of the program leaves out that kind of adapter. Use another kind.",
            "Diese Ausgabe des Programms kennt diese Art von Adapter nicht. Eine andere benutzen.",
        ),
        Unreachable::System => (
            "The system could not open the adapter. Unplug it, plug it in, and try again.",
            "Das System konnte den Adapter nicht öffnen. Abziehen, einstecken und neu versuchen.",
        ),
    }
}
