use super::language::Language;

/// A field that a person can change, as a label: by its kind of row and its name in the database. A
/// trailing `*` in the name stands for any ending.
pub fn entered_field(entity: &str, field: &str, language: Language) -> &'static str {
    match (entity, field) {
        ("customer", "name") => language.of("Customer’s name", "Name des Kunden"),
        ("customer", "phone") => language.of("Customer’s telephone", "Telefon des Kunden"),
        ("customer", "email") => language.of("Customer’s mail address", "E-Mail des Kunden"),
        ("customer", "notes") => language.of("Notes on the customer", "Notizen zum Kunden"),
        ("customer", "state") => language.of("Whether the customer is kept", "Kunde behalten?"),
        ("vehicle", "name") => language.of("Vehicle’s name", "Name des Fahrzeugs"),
        ("vehicle", "vin") => language.of("VIN", "FIN"),
        ("vehicle", "plate") => language.of("Number plate", "Kennzeichen"),
        ("vehicle", "notes") => language.of("Notes on the vehicle", "Notizen zum Fahrzeug"),
        ("vehicle", "make") => language.of("Make", "Marke"),
        ("vehicle", "fuel") => language.of("Fuel", "Kraftstoff"),
        ("vehicle", "tank_litre") => language.of("Tank size, L", "Tankgröße, L"),
        ("vehicle", "tank_source") => {
            language.of("Source of tank pressure", "Quelle des Tankdrucks")
        }
        ("vehicle", "own_signals") => {
            language.of("Own signals of this vehicle", "Eigene Signale des Fahrzeugs")
        }
        ("vehicle", "customer") => language.of("Whose vehicle it is", "Wem es gehört"),
        ("vehicle", "state") => language.of("Whether the vehicle is kept", "Fahrzeug behalten?"),
        ("visit", "complaint_kinds") => language.of("Complaint", "Beanstandung"),
        ("visit", "complaint_words") => {
            language.of("Complaint in own words", "Beanstandung in eigenen Worten")
        }
        ("visit", "connected_to") => language.of("Adapter", "Adapter des Besuchs"),
        ("visit", "skipped_checks") => language.of("Checks left out", "Ausgelassene Prüfungen"),
        ("visit", "notes") => language.of("Notes on the visit", "Notizen zum Besuch"),
        ("visit", "odometer_km") => language.of("Odometer, km", "Kilometerstand"),
        ("visit", "is_virtual") => language.of("Virtual car", "Virtuelles Auto"),
        ("visit", "state") => language.of("Whether the visit is open", "Besuch offen?"),
        ("visit", observed) if observed.starts_with("observation.") => {
            language.of("What was seen", "Beobachtung")
        }
        ("repair", "part") => language.of("What was replaced", "Was erneuert wurde"),
        ("repair", "currency") => language.of("Currency of the repair", "Währung der Reparatur"),
        ("repair", "labour") => language.of("Labour", "Arbeit"),
        ("repair", "diagnosis") => language.of("Cost of the diagnosis", "Kosten der Diagnose"),
        ("repair", "shop_diagnosis") => {
            language.of("A shop’s diagnosis", "Diagnose einer Werkstatt")
        }
        ("repair", "tax") => language.of("Tax and fees", "Steuern und Gebühren"),
        ("repair", "part_prices") => {
            language.of("What guessed parts cost", "Was geratene Teile kosten")
        }
        ("repair", "notes") => language.of("Notes on the repair", "Notizen zur Reparatur"),
        ("repair", "state") => language.of("Whether the repair is kept", "Reparatur behalten?"),
        ("repair", "quotes") => language.of("Prices asked", "Erfragte Preise"),
        ("fill_up", "litre") => language.of("Fill-up, L", "Getankt, L"),
        ("fill_up", "cost") => language.of("Cost of the fill-up", "Kosten der Tankfüllung"),
        ("fill_up", "currency") => {
            language.of("Currency of the fill-up", "Währung der Tankfüllung")
        }
        ("fill_up", "odometer_km") => {
            language.of("Odometer at the fill-up, km", "Kilometerstand beim Tanken")
        }
        ("fill_up", "note") => language.of("Note on the fill-up", "Notiz zum Tanken"),
        ("fill_up", "state") => language.of("Whether the fill-up is kept", "Tankfüllung behalten?"),
        ("follow_up", "due") => language.of("When to look again", "Wann nachsehen"),
        ("follow_up", "note") => language.of("Note on the next look", "Notiz zum Nachsehen"),
        ("follow_up", "state") => language.of("Whether a look is due", "Nachsehen fällig?"),
        ("photo", "caption") => language.of("What the photo shows", "Was das Foto zeigt"),
        ("photo", "state") => language.of("Whether the photo is kept", "Foto behalten?"),
        ("column_map", _) => language.of("Columns of a log", "Spalten eines Protokolls"),
        ("custom_signal", _) => language.of("Own signal", "Eigenes Signal"),
        ("code_note", _) => {
            language.of("Meaning of a maker’s code", "Bedeutung eines Herstellercodes")
        }
        // A field of a newer program, which an import keeps unseen.
        _ => language.of("A field of a newer version", "Ein Feld einer neueren Version"),
    }
}
