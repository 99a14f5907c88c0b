use std::path::Path;

use thiserror::Error;

use super::Desk;

/// What is felt with the device in a pocket.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feel {
    /// A step is done.
    Done,
    /// The link is lost.
    Lost,
}

/// Where a file that was handed over went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HandedOver {
    /// The system asks the person which app shall have it.
    Offered,
    /// Its folder is open beside the program.
    ShownInFolder,
}

/// Why the device did not do it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum DeviceError {
    /// The file is not there, or not where files to hand over lie.
    #[error("no such file to hand over")]
    NoFile,
    /// Nothing on this device takes it.
    #[error("nothing takes the file")]
    NobodyTakesIt,
}

/// The device under the program. Every method returns at once; what the person answers is seen
/// later, through [`Desk`] or not at all.
pub trait Device {
    /// Hands a file over: to another app, or to the person's own hands in its folder.
    ///
    /// # Errors
    /// [`DeviceError`] with the cause.
    fn hand_over(&self, file: &Path) -> Result<HandedOver, DeviceError>;

    /// Whether files go to other apps through a sheet, so that "share" is the word for it.
    fn has_share_sheet(&self) -> bool;

    /// Keeps the screen on, or lets it go dark by its own rules again.
    fn stay_awake(&self, awake: bool);

    /// Whether the device can be felt.
    fn can_vibrate(&self) -> bool;

    /// Lets something be felt.
    fn vibrate(&self, feel: Feel);

    /// How much larger than usual the person wants all words of all programs; 1 is usual.
    fn text_scale(&self) -> f32;

    /// Whether network adapters can be reached at all.
    fn reaches_network(&self) -> bool;

    /// Who grants permissions; `None` where the system asks for none.
    fn desk(&self) -> Option<&dyn Desk>;
}
