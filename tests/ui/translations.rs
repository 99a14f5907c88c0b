use std::collections::BTreeSet;
use std::path::Path;

/// Every `@tr("…")` of the markup, with the component it stands in.
fn wanted(folder: &Path, found: &mut BTreeSet<(String, String)>) {
    let mut entries: Vec<_> =
        std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            wanted(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "slint") {
            let text = std::fs::read_to_string(&path).unwrap();
            let mut component = String::new();
            for line in text.lines() {
                let words = line.strip_prefix("export ").unwrap_or(line);
                if let Some(rest) = words.strip_prefix("component ") {
                    component = rest.split_whitespace().next().unwrap().to_owned();
                }
                for piece in line.split("@tr(\"").skip(1) {
                    let text = piece.split('"').next().unwrap().to_owned();
                    found.insert((component.clone(), text));
                }
            }
        }
    }
}

/// Context, source and translation of each entry of the German catalogue.
fn translated() -> Vec<(String, String, String)> {
    let catalogue = include_str!("../../ui/lang/de/LC_MESSAGES/stilltank.po");
    let field = |block: &str, name: &str| {
        let line = block.lines().find_map(|line| line.strip_prefix(name)).unwrap_or_default();
        line.trim().trim_matches('"').to_owned()
    };
    catalogue
        .split("\n\n")
        .filter(|block| block.contains("msgctxt"))
        .map(|block| {
            let text = if block.contains("msgstr[0]") { "msgstr[1] " } else { "msgstr " };
            (field(block, "msgctxt "), field(block, "msgid "), field(block, text))
        })
        .collect()
}

#[test]
fn every_fixed_label_has_its_german() {
    let mut labels = BTreeSet::new();
    wanted(Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/ui")), &mut labels);
    assert!(labels.len() > 100, "{}", labels.len());
    let catalogue = translated();
    for (component, label) in labels {
        let entry = catalogue.iter().find(|(c, id, _)| *c == component && *id == label);
        let (_, _, german) = entry.unwrap_or_else(|| panic!("{component}: {label}"));
        assert!(!german.is_empty(), "{component}: {label}");
        let holes = |text: &str| text.matches('{').count();
        assert_eq!(holes(german), holes(&label), "{component}: {label}");
    }
}
