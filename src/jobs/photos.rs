use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use chrono::{DateTime, Utc};
use image::{DynamicImage, ImageFormat, ImageReader, Limits};

use super::{JobError, Workshop};
use crate::store::{Photo, PhotoId, Store, StoreError, VisitId};

/// Longer side of a small picture, pixels.
const SMALL: u32 = 192;

/// Largest file taken in, bytes: a picture of a phone has a few million.
const LARGEST: u64 = 64 << 20;

/// Longest side that is decoded, pixels, and the memory for it: a file can claim any size.
const LONGEST_SIDE: u32 = 20_000;
const MEMORY: u64 = 512 << 20;

/// Formats that are kept; of the first two a small picture is made.
const KEPT: [&str; 6] = ["jpg", "png", "jpeg", "webp", "heic", "heif"];

/// A picture small enough to be shown in a list.
#[derive(Clone, PartialEq, Eq)]
pub struct SmallPicture {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Four bytes a pixel: red, green, blue, opacity; row by row.
    pub rgba: Arc<[u8]>,
}

impl std::fmt::Debug for SmallPicture {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "SmallPicture({} x {})", self.width, self.height)
    }
}

/// What became of a picture's file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PhotoState {
    /// It is the one that was added; the small picture is missing where the format is not drawn.
    Whole(Option<SmallPicture>),
    /// It is gone.
    Missing,
    /// It is there, and its content is not what was added.
    Changed,
    /// It could not be read, and why.
    Unreadable(std::io::ErrorKind),
}

/// A picture of a visit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PhotoLine {
    /// Its id in the store.
    pub id: i64,
    /// What it shows, in the person's words.
    pub caption: String,
    /// When it was added.
    pub added: DateTime<Utc>,
    /// Where it lies.
    pub path: PathBuf,
    /// Length of the file that was added, bytes.
    pub size_byte: u64,
    /// What became of it.
    pub state: PhotoState,
}

/// The pictures of a visit, each held against what was added.
///
/// # Errors
/// What keeps the database from being read.
pub fn list_photos(store: &Store, visit: VisitId) -> Result<Vec<PhotoLine>, JobError> {
    let photos = store.load_visit(visit)?.photos;
    Ok(lines(store, &photos))
}

/// Takes a picture from a file into a visit.
///
/// # Errors
/// [`JobError::NotAPicture`] if the file is none, or what keeps it from being read or stored.
pub fn add_photo(
    store: &mut Store,
    visit: VisitId,
    path: &Path,
    caption: &str,
    now: DateTime<Utc>,
) -> Result<PhotoId, JobError> {
    let unreadable = |error: std::io::Error| JobError::file(path, &error);
    let no_picture = || JobError::NotAPicture { path: path.to_path_buf() };
    if fs::metadata(path).map_err(unreadable)?.len() > LARGEST {
        return Err(no_picture());
    }
    let content = fs::read(path).map_err(unreadable)?;
    let extension = extension(path, &content).ok_or_else(no_picture)?;
    Ok(store.add_photo(visit, &content, extension, caption.trim(), now)?)
}

/// How a picture's file is to end: by its content where that is known, else by its own name.
fn extension(path: &Path, content: &[u8]) -> Option<&'static str> {
    let named = path.extension().and_then(|it| it.to_str()).unwrap_or_default().to_lowercase();
    match image::guess_format(content) {
        Ok(ImageFormat::Jpeg) => Some("jpg"),
        Ok(ImageFormat::Png) => Some("png"),
        Ok(ImageFormat::WebP) => Some("webp"),
        // A name alone does not make a picture of something else.
        _ if ["heic", "heif"].contains(&named.as_str()) && content.get(4..8) == Some(b"ftyp") => {
            KEPT.into_iter().find(|it| *it == named)
        }
        _ => None,
    }
}

pub(super) fn lines(store: &Store, photos: &[Photo]) -> Vec<PhotoLine> {
    let line = |photo: &Photo| PhotoLine {
        id: photo.id.0,
        caption: photo.caption.clone(),
        added: photo.added,
        path: photo.path.clone(),
        size_byte: photo.size_byte,
        state: state(store, photo),
    };
    photos.iter().map(line).collect()
}

fn state(store: &Store, photo: &Photo) -> PhotoState {
    match store.read_photo(photo.id) {
        Ok(content) => PhotoState::Whole(small(&content)),
        Err(StoreError::Damaged { .. }) => PhotoState::Changed,
        Err(_) => match fs::metadata(&photo.path) {
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => PhotoState::Missing,
            Err(error) => PhotoState::Unreadable(error.kind()),
            Ok(_) => PhotoState::Unreadable(std::io::ErrorKind::Other),
        },
    }
}

/// A small picture; nothing where the format is not drawn here or the content is unsound.
fn small(content: &[u8]) -> Option<SmallPicture> {
    let mut reader = ImageReader::new(std::io::Cursor::new(content)).with_guessed_format().ok()?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(LONGEST_SIDE);
    limits.max_image_height = Some(LONGEST_SIDE);
    limits.max_alloc = Some(MEMORY);
    reader.limits(limits);
    let picture: DynamicImage = reader.decode().ok()?;
    let small = picture.thumbnail(SMALL, SMALL).into_rgba8();
    let (width, height) = small.dimensions();
    Some(SmallPicture { width, height, rgba: small.into_raw().into() })
}

/// The pictures of one visit in a database that nobody else has open.
#[derive(Debug)]
pub struct VisitPhotos {
    store: Store,
    visit: VisitId,
}

impl VisitPhotos {
    /// Opens the database.
    ///
    /// # Errors
    /// What keeps it from being opened, or that there is no such visit.
    pub fn open(database: &Path, visit: i64) -> Result<Self, JobError> {
        let store = Store::open(database)?;
        let visit = VisitId(visit);
        store.load_visit(visit)?;
        Ok(Self { store, visit })
    }

    /// Takes a picture in, as [`add_photo`] does.
    ///
    /// # Errors
    /// Those of [`add_photo`].
    pub fn add(&mut self, file: &Path, words: &str, now: DateTime<Utc>) -> Result<(), JobError> {
        add_photo(&mut self.store, self.visit, file, words, now).map(drop)
    }

    /// Takes a picture of this visit out; its file stays.
    ///
    /// # Errors
    /// That it is none of this visit's.
    pub fn remove(&mut self, id: i64, now: DateTime<Utc>) -> Result<(), JobError> {
        if !self.list()?.iter().any(|line| line.id == id) {
            return Err(StoreError::Unknown { what: "photo", id }.into());
        }
        Ok(self.store.remove_photo(PhotoId(id), now)?)
    }

    /// The pictures.
    ///
    /// # Errors
    /// Those of [`list_photos`].
    pub fn list(&self) -> Result<Vec<PhotoLine>, JobError> {
        list_photos(&self.store, self.visit)
    }
}

impl Workshop {
    pub(super) fn add_photo(&mut self, path: &Path, caption: &str) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        add_photo(store, visit.id(), path, caption, date)?;
        visit.look_at_photos(store)?;
        self.show_card()
    }

    pub(super) fn remove_photo(&mut self, id: i64) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        store.remove_photo(PhotoId(id), date)?;
        visit.look_at_photos(store)?;
        self.show_card()
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use chrono::DateTime;
    use image::{ImageFormat, RgbImage};

    use super::{PhotoState, add_photo, list_photos};
    use crate::jobs::JobError;
    use crate::store::{NewVehicle, Store, VisitId};

    fn store(folder: &Path) -> (Store, VisitId) {
        let mut store = Store::open(&folder.join("garage.db")).unwrap();
        let now = DateTime::UNIX_EPOCH;
        let vehicle = store.add_vehicle(&NewVehicle::default(), now).unwrap();
        let visit = store.start_visit(vehicle, now).unwrap();
        (store, visit)
    }

    fn picture(path: &Path, format: ImageFormat) {
        let picture = RgbImage::from_fn(400, 200, |x, _| [x as u8, 0, 200].into());
        picture.save_with_format(path, format).unwrap();
    }

    #[test]
    fn a_picture_is_kept_small_and_held_against_what_was_added() {
        let folder = tempfile::tempdir().unwrap();
        let (mut store, visit) = store(folder.path());
        let now = DateTime::UNIX_EPOCH;
        for (name, format) in [("a.png", ImageFormat::Png), ("b.JPEG", ImageFormat::Jpeg)] {
            let path = folder.path().join(name);
            picture(&path, format);
            add_photo(&mut store, visit, &path, " the old valve ", now).unwrap();
            std::fs::remove_file(&path).unwrap();
        }
        let lines = list_photos(&store, visit).unwrap();
        assert_eq!(lines.len(), 2);
        for line in &lines {
            let PhotoState::Whole(Some(small)) = &line.state else { panic!("{line:?}") };
            assert_eq!((small.width, small.height, small.rgba.len()), (192, 96, 192 * 96 * 4));
            assert_eq!(line.caption, "the old valve");
        }
        std::fs::remove_file(&lines[0].path).unwrap();
        std::fs::write(&lines[1].path, b"something else").unwrap();
        let states: Vec<PhotoState> =
            list_photos(&store, visit).unwrap().into_iter().map(|it| it.state).collect();
        assert_eq!(states, [PhotoState::Missing, PhotoState::Changed]);
    }

    #[test]
    fn what_is_no_picture_is_refused_whatever_it_is_called() {
        let folder = tempfile::tempdir().unwrap();
        let (mut store, visit) = store(folder.path());
        for (name, content) in
            [("a.jpg", b"not a picture".as_slice()), ("b.heic", b"words"), ("c.png", b"")]
        {
            let path = folder.path().join(name);
            std::fs::write(&path, content).unwrap();
            let refused = add_photo(&mut store, visit, &path, "", DateTime::UNIX_EPOCH);
            assert!(matches!(refused, Err(JobError::NotAPicture { .. })), "{name}: {refused:?}");
        }
        let nothing = folder.path().join("d.jpg");
        let refused = add_photo(&mut store, visit, &nothing, "", DateTime::UNIX_EPOCH);
        assert!(matches!(refused, Err(JobError::File { .. })), "{refused:?}");
        assert_eq!(list_photos(&store, visit).unwrap(), []);
    }

    #[test]
    fn a_cut_off_picture_is_kept_without_a_small_one() {
        let folder = tempfile::tempdir().unwrap();
        let (mut store, visit) = store(folder.path());
        let path = folder.path().join("a.png");
        picture(&path, ImageFormat::Png);
        let content = std::fs::read(&path).unwrap();
        std::fs::write(&path, &content[..40]).unwrap();
        add_photo(&mut store, visit, &path, "", DateTime::UNIX_EPOCH).unwrap();
        assert_eq!(list_photos(&store, visit).unwrap()[0].state, PhotoState::Whole(None));
    }
}
