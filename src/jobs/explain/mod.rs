//! Sentences for what went wrong, each saying what to do.

mod link;
mod store;

use std::io::ErrorKind;
use std::path::Path;

use super::{Complaint, JobError};
use crate::vehicle::Signal;
use crate::wording::{Language, Style, check_title, signal_name};

/// What went wrong and what to do about it.
pub fn explain(error: &JobError, style: &Style) -> String {
    let language = style.language;
    match error {
        JobError::Link(error) => link::sentence(error, language),
        JobError::Store(error) => store::sentence(error, language),
        JobError::File { path, kind } => file(path, *kind, language),
        JobError::CheckImpossible { check, missing } => {
            let title = check_title(*check, language);
            let missing: Vec<&str> =
                missing.iter().map(|signal| signal_name(*signal, language)).collect();
            impossible(title, &missing.join(", "), language)
        }
        JobError::CheckRuns { running } => {
            let title = check_title(*running, language);
            match language {
                Language::English => format!("\"{title}\" still runs. Stop it first."),
                Language::German => format!("„{title}“ läuft noch. Zuerst beenden."),
            }
        }
        JobError::NotAnAmount { text } => match language {
            Language::English => {
                format!("\"{text}\" is no amount of money. Write it with digits, such as 38.50.")
            }
            Language::German => {
                format!("„{text}“ ist kein Betrag. Mit Ziffern schreiben, etwa 38,50.")
            }
        },
        JobError::NotAPicture { path } => {
            let path = path.display();
            match language {
                Language::English => format!(
                    "{path}: no picture that can be kept. Use JPEG, PNG, WebP or HEIC, up to 64 MiB."
                ),
                Language::German => format!(
                    "{path}: kein Bild, das sich aufheben lässt. JPEG, PNG, WebP oder HEIC bis \
                     64 MiB nehmen."
                ),
            }
        }
        JobError::RestoreNotAgreed => language
            .of(
                "Nothing was changed: restoring needs your agreement.",
                "Nichts geändert: Das Zurückholen braucht das Einverständnis.",
            )
            .to_owned(),
        JobError::UnknownVehicle { words } => match language {
            Language::English => {
                format!("No vehicle matches \"{words}\". `stilltank history` lists the vehicles.")
            }
            Language::German => {
                format!("Kein Fahrzeug passt zu „{words}“. `stilltank history` zeigt alle.")
            }
        },
        JobError::SeveralVehicles { words, count } => match language {
            Language::English => {
                format!("{count} vehicles match \"{words}\". Name one by its VIN or number.")
            }
            Language::German => {
                format!("{count} Fahrzeuge passen zu „{words}“. Eines mit FIN oder Nummer nennen.")
            }
        },
        JobError::NoTankSize { text } => match language {
            Language::English => format!(
                "\"{text}\" is no size of a car's tank. Write litres as the owner's manual gives them, \
                 10 to 200, or leave it empty."
            ),
            Language::German => format!(
                "„{text}“ ist keine Tankgröße. Liter eingeben, wie sie in der Betriebsanleitung \
                 stehen, 10 bis 200, oder leer lassen."
            ),
        },
        JobError::NotAVin { text } => match language {
            Language::English => format!(
                "\"{text}\" is no VIN. It has 17 letters and digits, without I, O and Q; leave it \
                 empty if it is not known."
            ),
            Language::German => format!(
                "„{text}“ ist keine FIN. Sie hat 17 Buchstaben und Ziffern, ohne I, O und Q; leer \
                 lassen, wenn sie nicht bekannt ist."
            ),
        },
        JobError::UnknownEnding { path } => {
            let path = path.display();
            match language {
                Language::English => format!(
                    "{path}: the ending chooses the format; use .stilltank, .csv, .json, .parquet \
                     or name a folder."
                ),
                Language::German => format!(
                    "{path}: Die Endung wählt das Format; .stilltank, .csv, .json, .parquet oder \
                     einen Ordner nennen."
                ),
            }
        }
        // These say what is wrong where, in the words of the file itself.
        JobError::Recording { .. } | JobError::Report(_) | JobError::Decode(_) => capital(error),
        JobError::NoDataFolder => language
            .of(
                "The system names no folder for data. Name a file with --database.",
                "Das System nennt keinen Ordner für Daten. Mit --database eine Datei nennen.",
            )
            .to_owned(),
        JobError::NoVisit => language
            .of("No visit is open. Start one first.", "Kein Besuch offen. Zuerst einen beginnen.")
            .to_owned(),
        JobError::NoEarlierVisit => language
            .of(
                "This vehicle has no earlier visit to lay under this one.",
                "Dieses Fahrzeug hat keinen früheren Besuch, der sich unterlegen ließe.",
            )
            .to_owned(),
        JobError::NotConnected => language
            .of(
                "There is no connection to the car. Connect first.",
                "Keine Verbindung zum Auto. Zuerst verbinden.",
            )
            .to_owned(),
        JobError::LinkInUse => language
            .of(
                "The adapter is in use. End the connection first.",
                "Der Adapter wird gerade benutzt. Zuerst die Verbindung beenden.",
            )
            .to_owned(),
        JobError::NoStreams => language
            .of(
                "Only Bluetooth LE adapters let you choose how they send: ble:NAME-OR-ADDRESS.",
                "Nur bei Bluetooth-LE-Adaptern lässt sich der Kanal wählen: ble:NAME-ODER-ADRESSE.",
            )
            .to_owned(),
        JobError::OnlyARecording => language
            .of(
                "A recording answers no questions. Connect to a car for this.",
                "Eine Aufzeichnung beantwortet keine Fragen. Dafür mit einem Auto verbinden.",
            )
            .to_owned(),
        JobError::ConsentNeeded => language
            .of(
                "Nothing was erased: erasing codes needs your agreement to this one request.",
                "Nichts gelöscht: Codes löschen braucht das Einverständnis zu diesem einen Mal.",
            )
            .to_owned(),
        JobError::VentConsentNeeded => language
            .of(
                "Nothing was sent: closing the vent needs your agreement to this one request.",
                "Nichts gesendet: Das Ventil schließen braucht das Einverständnis zu diesem einen \
                 Mal.",
            )
            .to_owned(),
        JobError::MakeUnknown => language
            .of(
                "Write the vehicle's make first: what a maker's code means is remembered by it.",
                "Zuerst den Hersteller des Fahrzeugs eintragen: Danach merkt sich das Programm, was \
                 ein Herstellercode heißt.",
            )
            .to_owned(),
        JobError::NameMissing => language
            .of("Write a name first.", "Erst einen Namen eintragen.")
            .to_owned(),
        JobError::OnlyRescue => language
            .of(
                "The database is damaged. Take a copy back or save what can be read first.",
                "Die Datenbank ist beschädigt. Erst eine Kopie zurückholen oder retten, was sich \
                 lesen lässt.",
            )
            .to_owned(),
        JobError::TankSourceNotOffered => language
            .of(
                "This car does not offer that source of tank pressure. Take one of those shown.",
                "Diese Quelle des Tankdrucks bietet das Auto nicht. Eine der gezeigten nehmen.",
            )
            .to_owned(),
        JobError::VentNotOffered => language
            .of(
                "This car does not offer to close its vent. Close it by hand for the sealed check, \
                 as that check says.",
                "Dieses Auto bietet nicht an, das Ventil zu schließen. Für die dichte Prüfung von \
                 Hand verschließen, wie sie es sagt.",
            )
            .to_owned(),
        JobError::NothingLeftToCheck => language
            .of(
                "No further check would change the verdict.",
                "Keine weitere Prüfung würde das Urteil ändern.",
            )
            .to_owned(),
    }
}

/// Why the person came, in a plain phrase.
pub fn complaint_phrase(kind: Complaint, language: Language) -> &'static str {
    match kind {
        Complaint::LightOn => language.of("Warning light on", "Warnleuchte an"),
        Complaint::RoughAfterFillUp => {
            language.of("Rough after a fill-up", "Unruhig nach dem Tanken")
        }
        Complaint::Inspection => language.of("Inspection", "Hauptuntersuchung"),
        Complaint::Recheck => language.of("Recheck", "Nachprüfung"),
    }
}

fn impossible(check: &str, missing: &str, language: Language) -> String {
    match language {
        Language::English => format!(
            "\"{check}\" cannot be made: this car does not offer {missing}. If its maker's manual \
             names a request for it, describe it in own_signals.toml beside the database."
        ),
        Language::German => format!(
            "„{check}“ ist nicht möglich: Dieses Auto liefert {missing} nicht. Nennt das \
             Werkstatthandbuch eine Anfrage dafür, in own_signals.toml neben der Datenbank \
             beschreiben."
        ),
    }
}

/// What cannot be done with the signals offered, and the way out.
pub fn explain_missing(missing: &[Signal], checks: &[String], language: Language) -> String {
    let names: Vec<&str> = missing.iter().map(|signal| signal_name(*signal, language)).collect();
    impossible(&checks.join(", "), &names.join(", "), language)
}

fn file(path: &Path, kind: ErrorKind, language: Language) -> String {
    let path = path.display();
    let what = match kind {
        ErrorKind::NotFound => language.of(
            "there is no such file or folder. Check the name.",
            "Datei oder Ordner gibt es nicht. Den Namen prüfen.",
        ),
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => language.of(
            "this program may not use it. Choose another place or change its permissions.",
            "Dieses Programm darf sie nicht benutzen. Anderen Ort wählen oder Rechte ändern.",
        ),
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded => language
            .of("no space left. Make room and try again.", "Kein Platz mehr. Platz schaffen."),
        ErrorKind::IsADirectory => {
            language.of("this is a folder. Name a file.", "Das ist ein Ordner. Datei nennen.")
        }
        ErrorKind::AddrInUse => language.of(
            "something else answers at this address. Choose another port.",
            "An dieser Adresse antwortet schon etwas. Anderen Port wählen.",
        ),
        _ => language.of(
            "it cannot be read or written. Check the place and try again.",
            "Lässt sich nicht lesen oder schreiben. Den Ort prüfen.",
        ),
    };
    format!("{path}: {what}")
}

fn capital(error: &JobError) -> String {
    let text = error.to_string();
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => text,
    }
}
