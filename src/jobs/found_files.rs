use std::fs;
use std::path::{Path, PathBuf};

use super::history_command::{Changed, HistoryEvent};
use super::{Event, JobError, Workshop};

/// Files that a person may be asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FileKind {
    /// Pictures that a visit can keep.
    Pictures,
    /// Histories of another device.
    Bundles,
    /// Files of own signals.
    OwnSignals,
}

/// A file that was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FoundFile {
    /// Where it is.
    pub path: PathBuf,
    /// When it was last changed.
    pub changed: Changed,
    /// Its length, bytes.
    pub size_byte: u64,
}

/// How many are listed: the file that a person looks for was mostly made a moment ago.
const LISTED: usize = 8;

/// Entries looked at in one folder; a folder of a hundred thousand must not hold everything up.
const LOOKED_AT: usize = 5_000;

impl FileKind {
    const fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Pictures => &["jpg", "jpeg", "png", "webp", "heic", "heif"],
            Self::Bundles => &["stilltank"],
            Self::OwnSignals => &["toml"],
        }
    }

    fn is_of(self, path: &Path) -> bool {
        let ending = path.extension().and_then(|it| it.to_str()).unwrap_or_default();
        self.endings().iter().any(|known| known.eq_ignore_ascii_case(ending))
    }
}

/// The newest files of a kind in these folders and the folders right within them, newest first. A
/// folder that cannot be read has none.
fn newest_in(folders: &[PathBuf], kind: FileKind) -> Vec<FoundFile> {
    let mut found: Vec<FoundFile> = Vec::new();
    for folder in folders {
        let within = entries(folder);
        found.extend(within.iter().filter_map(|path| look(path, kind)));
        let inner = within.iter().filter(|path| path.is_dir() && !is_hidden(path));
        found.extend(inner.flat_map(|inner| entries(inner)).filter_map(|path| look(&path, kind)));
    }
    found.sort_by(|a, b| b.changed.cmp(&a.changed).then_with(|| a.path.cmp(&b.path)));
    // One folder may lie within another.
    found.dedup_by(|a, b| a.path == b.path);
    found.truncate(LISTED);
    found
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    entries.take(LOOKED_AT).flatten().map(|entry| entry.path()).collect()
}

fn is_hidden(path: &Path) -> bool {
    path.file_name().and_then(|it| it.to_str()).is_none_or(|name| name.starts_with('.'))
}

fn look(path: &Path, kind: FileKind) -> Option<FoundFile> {
    if !kind.is_of(path) || is_hidden(path) {
        return None;
    }
    let metadata = fs::metadata(path).ok().filter(fs::Metadata::is_file)?;
    let changed = metadata.modified().ok()?.into();
    Some(FoundFile { path: path.to_path_buf(), changed, size_byte: metadata.len() })
}

/// Where people keep files: the platform's own folders, and the one beside the database.
fn usual_folders(database: &Path, kind: FileKind) -> Vec<PathBuf> {
    let user = directories::UserDirs::new();
    let user = user.as_ref();
    let own = [
        user.and_then(|it| it.download_dir()),
        user.and_then(|it| it.document_dir()),
        user.and_then(|it| it.desktop_dir()),
        user.and_then(|it| it.picture_dir()).filter(|_| kind == FileKind::Pictures),
    ];
    let mut folders: Vec<PathBuf> = own.into_iter().flatten().map(Path::to_path_buf).collect();
    if kind != FileKind::Pictures {
        folders.extend(database.parent().map(Path::to_path_buf));
    }
    folders
}

impl Workshop {
    /// Looks for files of a kind where people keep them.
    pub(super) fn find_files(&mut self, kind: FileKind) -> Result<(), JobError> {
        let found = newest_in(&usual_folders(self.store.path(), kind), kind);
        self.emit(Event::Histories(HistoryEvent::Files(kind, found)));
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::time::{Duration, SystemTime};

    use super::*;

    #[test]
    fn the_newest_files_of_a_kind_are_found_one_folder_deep() {
        let home = tempfile::tempdir().unwrap();
        let write = |name: &str, minute: u64| {
            let path = home.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            let file = fs::File::create(&path).unwrap();
            let changed = SystemTime::UNIX_EPOCH + Duration::from_secs(1_700_000_000 + minute * 60);
            file.set_modified(changed).unwrap();
            path
        };
        let old = write("Pictures/old.jpg", 1);
        let camera = write("Pictures/Camera/new.JPG", 9);
        let loaded = write("Downloads/valve.png", 5);
        for name in [
            "Pictures/notes.txt",
            "Pictures/.hidden.jpg",
            "Pictures/.cache/a.jpg",
            "Pictures/a/b/deep.jpg",
            "Music/cover.jpg",
        ] {
            write(name, 30);
        }
        let folders = ["Pictures", "Downloads", "Nowhere", "Pictures"]
            .map(|name| home.path().join(name))
            .to_vec();
        let found = newest_in(&folders, FileKind::Pictures);
        let paths: Vec<PathBuf> = found.iter().map(|it| it.path.clone()).collect();
        assert_eq!(paths, [camera, loaded, old], "newest first, each once");
        for number in 0..30 {
            write(&format!("Downloads/{number}.stilltank"), number);
        }
        let bundles = newest_in(&folders, FileKind::Bundles);
        assert_eq!(bundles.len(), LISTED);
        assert!(bundles[0].path.ends_with("29.stilltank"), "{bundles:?}");
    }
}
