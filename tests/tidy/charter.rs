use std::collections::BTreeMap;

use crate::code::code_only;
use crate::sources::SourceFile;

/// Reads each layer's charter and holds the layer's files against it.
pub(crate) fn check(library: &SourceFile, files: &[SourceFile]) -> Vec<String> {
    let order = layers(&library.text);
    let mut complaints = Vec::new();
    let mut charters = BTreeMap::new();
    for (rank, layer) in order.iter().enumerate() {
        match read_charter(layer, files) {
            Ok(allowed) => {
                complaints.extend(allowed.iter().filter_map(|name| {
                    let place = order.iter().position(|it| it == name);
                    match place {
                        None => Some(format!("src/{layer}: the charter names no layer: {name}")),
                        Some(place) if place >= rank => {
                            Some(format!("src/{layer}: the charter points upward to {name}"))
                        }
                        Some(_) => None,
                    }
                }));
                charters.insert(layer.clone(), allowed);
            }
            Err(complaint) => complaints.push(complaint),
        }
    }
    for file in files {
        let Some(layer) = layer_of(&file.path) else { continue };
        if let Some(allowed) = charters.get(layer) {
            complaints.extend(check_file(file, layer, allowed, &order));
        } else if !order.iter().any(|it| it == layer) {
            complaints.push(format!("{}: stands in no layer of src/lib.rs", file.path));
        }
    }
    complaints
}

fn layers(library: &str) -> Vec<String> {
    let module = |line: &str| Some(line.strip_prefix("pub mod ")?.strip_suffix(';')?.to_owned());
    library.lines().filter_map(module).collect()
}

fn layer_of(path: &str) -> Option<&str> {
    let (layer, _) = path.strip_prefix("src/")?.split_once('/')?;
    Some(layer)
}

fn read_charter(layer: &str, files: &[SourceFile]) -> Result<Vec<String>, String> {
    let path = format!("src/{layer}/mod.rs");
    let file = files
        .iter()
        .find(|file| file.path == path)
        .ok_or_else(|| format!("{path}: there is no such file"))?;
    let opening: Vec<&str> =
        file.text.lines().map_while(|line| line.strip_prefix("//!")).map(str::trim).collect();
    if !opening.iter().any(|line| line.starts_with("Never: ")) {
        return Err(format!("{path}: the charter does not say what the layer never does"));
    }
    let start = opening
        .iter()
        .position(|line| line.starts_with("May import: "))
        .ok_or_else(|| format!("{path}: the charter does not say what the layer may import"))?;
    let sentence = opening[start..]
        .iter()
        .scan(false, |ended, line| {
            (!std::mem::replace(ended, line.ends_with('.'))).then_some(*line)
        })
        .collect::<Vec<_>>()
        .join(" ");
    let list = sentence.trim_start_matches("May import: ").trim_end_matches('.');
    if list == "nothing" {
        return Ok(Vec::new());
    }
    Ok(list.split(',').map(|name| name.trim().to_owned()).collect())
}

fn check_file(file: &SourceFile, layer: &str, allowed: &[String], order: &[String]) -> Vec<String> {
    let code = code_only(&file.text);
    let mut complaints = Vec::new();
    for (line, name) in crate_paths(&code) {
        let known = order.contains(&name);
        if known && name != layer && !allowed.contains(&name) {
            complaints.push(format!("{}:{line}: {layer} may not import {name}", file.path));
        }
    }
    for line in escapes(&code, module_depth(&file.path)) {
        complaints.push(format!("{}:{line}: super leads out of {layer}", file.path));
    }
    complaints
}

/// The first names after `crate::`, those of a braced list included, with their line.
fn crate_paths(code: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        let line = code[..at].matches('\n').count() + 1;
        let rest = code[at + "crate::".len()..].trim_start();
        let heads = match rest.strip_prefix('{') {
            Some(inside) => heads_of_list(inside),
            None => head(rest).into_iter().collect(),
        };
        found.extend(heads.into_iter().map(|name| (line, name)));
    }
    found
}

fn heads_of_list(inside: &str) -> Vec<String> {
    let mut depth = 1_i32;
    let mut item = String::new();
    let mut heads = Vec::new();
    for c in inside.chars() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 1 => heads.extend(head(std::mem::take(&mut item).trim())),
            _ => {}
        }
        if depth == 0 {
            break;
        }
        if c != ',' || depth > 1 {
            item.push(c);
        }
    }
    heads.extend(head(item.trim()));
    heads
}

fn head(path: &str) -> Option<String> {
    let end = path.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(path.len());
    (end > 0).then(|| path[..end].to_owned())
}

/// How deep the module of a file lies: 1 for a layer's `mod.rs`.
fn module_depth(path: &str) -> usize {
    let folders = path.matches('/').count();
    if path.ends_with("/mod.rs") { folders - 1 } else { folders }
}

/// Lines on which a chain of `super::` climbs above the layer, inline modules counted.
fn escapes(code: &str, file_depth: usize) -> Vec<usize> {
    let mut lines = Vec::new();
    let mut braces = 0_usize;
    let mut inline: Vec<usize> = Vec::new();
    for (number, line) in code.lines().enumerate() {
        let opens_module = is_inline_module(line);
        let longest = line.split(|c: char| c.is_whitespace() || "({[,;&<".contains(c));
        let climb = longest.map(|word| word.matches("super::").count()).max().unwrap_or(0);
        if climb >= file_depth + inline.len() && climb > 0 {
            lines.push(number + 1);
        }
        for c in line.chars() {
            match c {
                '{' => braces += 1,
                '}' => {
                    braces = braces.saturating_sub(1);
                    if inline.last() == Some(&braces) {
                        inline.pop();
                    }
                }
                _ => {}
            }
        }
        if opens_module && braces > 0 {
            inline.push(braces - 1);
        }
    }
    lines
}

fn is_inline_module(line: &str) -> bool {
    let line = line.trim();
    let line = line.strip_prefix("pub ").unwrap_or(line);
    line.starts_with("mod ") && line.ends_with('{')
}

#[cfg(test)]
mod tests {
    use super::check;
    use crate::sources::SourceFile;

    fn complaints(charter: &str, body: &str) -> Vec<String> {
        let library = SourceFile::planted(
            "src/lib.rs",
            "pub mod units;\n\npub mod vehicle;\npub mod link;\n",
        );
        let mod_file = |layer: &str, charter: &str| {
            let text = format!("//! A layer.\n//!\n//! {charter}\n//! Never: sleeps.\n");
            SourceFile::planted(&format!("src/{layer}/mod.rs"), &text)
        };
        let files = [
            mod_file("units", "May import: nothing."),
            mod_file("vehicle", "May import: units."),
            mod_file("link", charter),
            SourceFile::planted("src/link/error.rs", body),
        ];
        check(&library, &files)
    }

    #[test]
    fn an_import_that_the_charter_allows_passes() {
        let body = "use crate::units::Instant;\nuse super::Link;\nuse crate::link::Other;";
        assert_eq!(complaints("May import: units.", body), [""; 0]);
    }

    #[test]
    fn an_import_outside_the_charter_is_caught() {
        let caught = complaints("May import: units.", "use crate::vehicle::Fault;");
        assert_eq!(caught, ["src/link/error.rs:1: link may not import vehicle"]);
    }

    #[test]
    fn a_braced_import_outside_the_charter_is_caught() {
        let body = "use crate::{\n    units::{A, B},\n    vehicle::Fault,\n};";
        let caught = complaints("May import: units.", body);
        assert_eq!(caught, ["src/link/error.rs:1: link may not import vehicle"]);
    }

    #[test]
    fn a_path_in_a_test_module_is_caught_too() {
        let body = "#[cfg(test)]\nmod tests {\n    fn f() { crate::vehicle::g(); }\n}";
        assert_eq!(complaints("May import: units.", body).len(), 1);
    }

    #[test]
    fn super_that_leaves_the_layer_is_caught() {
        let body = "use super::Link;\nuse super::super::vehicle::Fault;";
        let caught = complaints("May import: units.", body);
        assert_eq!(caught, ["src/link/error.rs:2: super leads out of link"]);
        let inside = "mod tests {\n    use super::super::Link;\n}";
        assert_eq!(complaints("May import: units.", inside), [""; 0]);
    }

    #[test]
    fn a_charter_that_points_upward_is_caught() {
        let library = SourceFile::planted("src/lib.rs", "pub mod units;\npub mod link;\n");
        let files = [
            SourceFile::planted("src/units/mod.rs", "//! May import: link.\n//! Never: x.\n"),
            SourceFile::planted("src/link/mod.rs", "//! May import: units.\n//! Never: x.\n"),
        ];
        assert_eq!(check(&library, &files), ["src/units: the charter points upward to link"]);
    }

    #[test]
    fn a_layer_without_a_charter_is_caught() {
        let library = SourceFile::planted("src/lib.rs", "pub mod units;\n");
        let file = SourceFile::planted("src/units/mod.rs", "//! Quantities.\n");
        assert_eq!(check(&library, &[file]).len(), 1);
    }
}
