use std::ffi::OsString;
use std::path::Path;
use std::process::{Command, Stdio};

use super::{Desk, Device, DeviceError, Feel, HandedOver};

/// A computer: a file is handed over by opening its folder, the screen follows the person's own
/// rules, nothing vibrates, and the toolkit already follows the system's text size.
#[derive(Clone, Copy, Debug, Default)]
pub struct Desktop;

impl Device for Desktop {
    fn hand_over(&self, file: &Path) -> Result<HandedOver, DeviceError> {
        let file = std::path::absolute(file).map_err(|_| DeviceError::NoFile)?;
        let folder = file.parent().filter(|_| file.is_file()).ok_or(DeviceError::NoFile)?;
        let (program, words) = opener(std::env::consts::OS, &file, folder);
        let child = Command::new(program)
            .args(words)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        child.map(|_| HandedOver::ShownInFolder).map_err(|_| DeviceError::NobodyTakesIt)
    }

    fn has_share_sheet(&self) -> bool {
        false
    }

    fn stay_awake(&self, _awake: bool) {}

    fn can_vibrate(&self) -> bool {
        false
    }

    fn vibrate(&self, _feel: Feel) {}

    fn text_scale(&self) -> f32 {
        1.0
    }

    fn reaches_network(&self) -> bool {
        true
    }

    fn desk(&self) -> Option<&dyn Desk> {
        None
    }
}

/// The system's own file browser: with the file marked where it can, else at the folder.
fn opener(system: &str, file: &Path, folder: &Path) -> (&'static str, Vec<OsString>) {
    match system {
        "windows" => {
            let mut select = OsString::from("/select,");
            select.push(file);
            ("explorer", vec![select])
        }
        "macos" => ("open", vec!["-R".into(), file.into()]),
        _ => ("xdg-open", vec![folder.into()]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_system_opens_the_folder_its_own_way() {
        let (file, folder) = (Path::new("visits/7.pdf"), Path::new("visits"));
        let words = |system| {
            let (program, words) = opener(system, file, folder);
            let words: Vec<_> = words.iter().map(|word| word.to_string_lossy()).collect();
            format!("{program} {}", words.join(" "))
        };
        assert_eq!(words("linux"), "xdg-open visits");
        assert_eq!(words("macos"), "open -R visits/7.pdf");
        assert_eq!(words("windows"), "explorer /select,visits/7.pdf");
    }

    #[test]
    fn a_file_that_is_not_there_is_not_handed_over() {
        let missing = Path::new("no such folder/no such report.pdf");
        assert_eq!(Desktop.hand_over(missing), Err(DeviceError::NoFile));
    }
}
