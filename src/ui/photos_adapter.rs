use std::path::PathBuf;
use std::rc::Rc;

use slint::{
    ComponentHandle, Image, ModelRc, Rgba8Pixel, SharedPixelBuffer, SharedString, VecModel,
};

use super::dates;
use super::markup::{AppWindow, PhotoItem, PhotosAdapter};
use super::session::{Known, Session};
use crate::jobs::{Command, PhotoLine, PhotoState, SmallPicture};
use crate::wording::{Language, Style, number, with_unit};

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<PhotosAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_added(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<PhotosAdapter>();
        let file = adapter.get_file().trim().to_owned();
        if !file.is_empty() {
            let caption = adapter.get_caption().trim().to_owned();
            session.send(Command::AddPhoto { path: PathBuf::from(file), caption });
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_removed(move |id| {
        if let Some(session) = to.upgrade() {
            session.send(Command::RemovePhoto(i64::from(id)));
        }
    });
}

/// Shows the pictures. The fields of a picture that was taken in are emptied.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let (adapter, style) = (window.global::<PhotosAdapter>(), &known.style);
    let note = match style.language {
        Language::English => format!("{}, visit {}", card.vehicle.name, card.number),
        Language::German => format!("{}, Besuch {}", card.vehicle.name, card.number),
    };
    adapter.set_note(note.into());
    let before = slint::Model::row_count(&adapter.get_photos());
    if card.photos.len() > before {
        adapter.set_file(SharedString::new());
        adapter.set_caption(SharedString::new());
    }
    let items: Vec<PhotoItem> = card.photos.iter().map(|line| item(line, style)).collect();
    adapter.set_photos(ModelRc::new(VecModel::from(items)));
}

/// Empties the page for another visit.
pub(super) fn clear(window: &AppWindow) {
    let adapter = window.global::<PhotosAdapter>();
    adapter.set_photos(ModelRc::default());
    adapter.set_file(SharedString::new());
    adapter.set_caption(SharedString::new());
    adapter.set_leaving(-1);
}

fn item(line: &PhotoLine, style: &Style) -> PhotoItem {
    let picture = match &line.state {
        PhotoState::Whole(picture) => picture.as_ref(),
        _ => None,
    };
    let problem = match &line.state {
        PhotoState::Whole(_) => "",
        PhotoState::Missing => {
            style.of("Its file is gone from the data folder.", "Die Datei fehlt im Datenordner.")
        }
        PhotoState::Changed => style.of(
            "Its file is not the one that was added.",
            "Die Datei ist nicht mehr die aufgenommene.",
        ),
        PhotoState::Unreadable(_) => {
            style.of("Its file cannot be read.", "Die Datei lässt sich nicht lesen.")
        }
    };
    let caption = if line.caption.is_empty() {
        style.of("Photo {}", "Foto {}").replace("{}", &line.id.to_string())
    } else {
        line.caption.clone()
    };
    let day = dates::day(line.added, style.language);
    PhotoItem {
        id: i32::try_from(line.id).unwrap_or(-1),
        picture: picture.map(image).unwrap_or_default(),
        drawn: picture.is_some(),
        caption: caption.into(),
        note: format!("{day}, {}", size(line.size_byte, style)).into(),
        problem: problem.into(),
    }
}

/// The length of a file in words.
pub(super) fn size(bytes: u64, style: &Style) -> String {
    match bytes as f64 / 1000.0 {
        kilo if kilo < 1000.0 => with_unit(&number(kilo, 0, style.language), "kB"),
        kilo => with_unit(&number(kilo / 1000.0, 1, style.language), "MB"),
    }
}

fn image(picture: &SmallPicture) -> Image {
    let pixels = SharedPixelBuffer::<Rgba8Pixel>::clone_from_slice(
        &picture.rgba,
        picture.width,
        picture.height,
    );
    Image::from_rgba8(pixels)
}
