use crate::store::{BundleFault, StoreError};
use crate::wording::Language;

/// What is wrong with the database and what to do.
pub(super) fn sentence(error: &StoreError, language: Language) -> String {
    match error {
        StoreError::Locked { path } => with_path(
            path,
            language.of(
                "another instance of the program has this database open. Close it, or name another \
                 file with --database.",
                "eine andere Instanz des Programms hat diese Datenbank offen. Sie schließen oder \
                 mit --database eine andere Datei nennen.",
            ),
        ),
        StoreError::NotWritable { path } => with_path(
            path,
            language.of(
                "cannot be written. Choose another file with --database or change the permissions \
                 of the folder.",
                "lässt sich nicht schreiben. Mit --database eine andere Datei nennen oder die \
                 Rechte des Ordners ändern.",
            ),
        ),
        StoreError::DiskFull { path } => with_path(
            path,
            language.of(
                "no space left. Make room; what was recorded so far is kept.",
                "kein Platz mehr. Platz schaffen; das bisher Aufgezeichnete bleibt.",
            ),
        ),
        StoreError::Newer { path, .. } => with_path(
            path,
            language.of(
                "was written by a newer version of this program. It was left untouched; use that \
                 version.",
                "stammt von einer neueren Version dieses Programms und blieb unberührt. Jene \
                 Version benutzen.",
            ),
        ),
        StoreError::Foreign { path } => with_path(
            path,
            language.of(
                "is no database of this program and was left untouched. Name another file.",
                "ist keine Datenbank dieses Programms und blieb unberührt. Andere Datei nennen.",
            ),
        ),
        StoreError::Damaged { path, .. } => with_path(
            path,
            language.of(
                "is damaged and was left untouched. `stilltank backup --list` names earlier copies, \
                 `stilltank salvage` saves what can still be read.",
                "ist beschädigt und blieb unberührt. `stilltank backup --list` nennt frühere Kopien, \
                 `stilltank salvage` rettet, was sich noch lesen lässt.",
            ),
        ),
        StoreError::BadBundle { path, fault: BundleFault::Unreadable } => with_path(
            path,
            language.of(
                "holds a visit that this version of the program cannot read. Nothing was imported; \
                 bring the program up to date, or export the file again.",
                "enthält einen Besuch, den diese Version des Programms nicht lesen kann. Nichts \
                 übernommen; das Programm erneuern oder die Datei neu exportieren.",
            ),
        ),
        StoreError::BadBundle { path, .. } => with_path(
            path,
            language.of(
                "is no intact export of this program. Nothing was imported; export it again.",
                "ist kein unversehrter Export dieses Programms. Nichts übernommen; neu exportieren.",
            ),
        ),
        StoreError::Unknown { what, id } => match language {
            Language::English => {
                format!("There is no {what} with number {id}. `stilltank history` lists them.")
            }
            Language::German => {
                format!("Nummer {id} gibt es nicht ({what}). `stilltank history` zeigt alle.")
            }
        },
        StoreError::VinKnown { vin, vehicle } => match language {
            Language::English => {
                format!("VIN {vin} belongs to vehicle {} already. Open that one.", vehicle.0)
            }
            Language::German => {
                format!("FIN {vin} gehört schon zu Fahrzeug {}. Jenes öffnen.", vehicle.0)
            }
        },
        StoreError::NotStorable { .. }
        | StoreError::Unreadable { .. }
        | StoreError::File { .. }
        | StoreError::Database(_) => match language {
            Language::English => format!("The database failed: {error}."),
            Language::German => format!("Die Datenbank hat versagt: {error}."),
        },
    }
}

fn with_path(path: &std::path::Path, what: &str) -> String {
    format!("{}: {what}", path.display())
}
