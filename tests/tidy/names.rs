/// Names that say what role a file plays and not what it is about.
const ROLES: [&str; 11] = [
    "util", "utils", "helper", "helpers", "common", "types", "manager", "managers", "handler",
    "handlers", "misc",
];

/// What may stand in the project's folder, hidden files aside.
const ROOMS: [&str; 13] = [
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "build.rs",
    "src",
    "ui",
    "android",
    "tests",
    "fixtures",
    "benches",
    "fuzz",
];

/// Complains about a path one part of which names a role.
pub(crate) fn check(path: &str) -> Option<String> {
    let names_a_role = |part: &str| {
        let stem = part.split('.').next().unwrap_or(part);
        stem.split(['_', '-']).any(|word| ROLES.contains(&word))
    };
    path.split('/').any(names_a_role).then(|| format!("{path}: named for a role, not for a thing"))
}

/// Complains about a name in the project's folder that is not one of its rooms.
pub(crate) fn check_top(name: &str) -> Option<String> {
    (!ROOMS.contains(&name)).then(|| format!("{name}: not a room of this project"))
}

#[test]
fn a_file_named_for_a_role_is_caught() {
    assert!(check("src/link/utils.rs").is_some());
    assert!(check("src/common/mod.rs").is_some());
    assert!(check("ui/widgets/link_manager.slint").is_some());
    assert_eq!(check("src/link/error.rs"), None);
}

#[test]
fn a_stray_folder_is_caught() {
    assert!(check_top("scripts").is_some());
    assert_eq!(check_top("src"), None);
}
