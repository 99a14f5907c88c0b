use std::fs;
use std::path::{Path, PathBuf};

/// A file of the project: its path from the project's folder, with `/`, and its text.
#[derive(Clone, Debug)]
pub(crate) struct SourceFile {
    /// Such as `src/link/error.rs`.
    pub(crate) path: String,
    /// The whole text.
    pub(crate) text: String,
}

impl SourceFile {
    /// A planted file.
    pub(crate) fn planted(path: &str, text: &str) -> Self {
        Self { path: path.to_owned(), text: text.to_owned() }
    }
}

/// The file at `path`.
pub(crate) fn read(path: &str) -> SourceFile {
    let text = fs::read_to_string(root().join(path)).expect("the file is part of the project");
    SourceFile { path: path.to_owned(), text }
}

/// Every Rust file under `folder`, in order of path.
pub(crate) fn rust(folder: &str) -> Vec<SourceFile> {
    with_ending(folder, "rs")
}

/// Every file under `folder` with this ending, in order of path; none if there is no such folder.
pub(crate) fn with_ending(folder: &str, ending: &str) -> Vec<SourceFile> {
    let mut paths = Vec::new();
    collect(&root().join(folder), &mut paths);
    paths
        .into_iter()
        .filter(|path| path.extension().is_some_and(|it| it == ending))
        .filter_map(text_of)
        .collect()
}

/// Every text file of the project, build products and hidden folders aside.
pub(crate) fn everything() -> Vec<SourceFile> {
    let mut paths = Vec::new();
    for name in top_folder() {
        let path = root().join(&name);
        if path.is_dir() { collect(&path, &mut paths) } else { paths.push(path) }
    }
    collect(&root().join(".ci"), &mut paths);
    paths.into_iter().filter_map(text_of).collect()
}

/// Names in the project's folder, without hidden ones and build products.
pub(crate) fn top_folder() -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(root())
        .expect("the project's folder can be read")
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| !name.starts_with('.') && !matches!(name.as_str(), "target" | "screenshots"))
        .collect();
    names.sort();
    names
}

/// Whether `path`, from the project's folder, is there.
pub(crate) fn exists(path: &str) -> bool {
    root().join(path).exists()
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn text_of(path: PathBuf) -> Option<SourceFile> {
    let text = fs::read_to_string(&path).ok()?;
    let path = path.strip_prefix(root()).ok()?.to_str()?.replace('\\', "/");
    Some(SourceFile { path, text })
}

fn collect(folder: &Path, into: &mut Vec<PathBuf>) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    let mut paths: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    paths.sort();
    for path in paths {
        if path.is_dir() {
            if path.file_name().is_some_and(|name| name != "target") {
                collect(&path, into);
            }
        } else {
            into.push(path);
        }
    }
}
