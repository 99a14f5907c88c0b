use std::path::Path;

use jni::JValue;

use super::{call, with_activity};
use crate::platform::{Desk, Device, DeviceError, Feel, HandedOver};

/// A phone or tablet. What Java fails to answer counts as "no" and as the usual size: no question
/// here is worth ending the program for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Phone;

impl Device for Phone {
    fn hand_over(&self, file: &Path) -> Result<HandedOver, DeviceError> {
        let name = file.file_name().filter(|_| file.is_file()).ok_or(DeviceError::NoFile)?;
        let name = name.to_str().ok_or(DeviceError::NoFile)?;
        let kind = kind_of(file);
        let offered = with_activity(|env, activity| {
            let (name, kind) = (env.new_string(name)?, env.new_string(kind)?);
            call!(
                env,
                activity,
                "share",
                "(Ljava/lang/String;Ljava/lang/String;)V",
                JValue::Object(&name),
                JValue::Object(&kind)
            )?
            .v()
        });
        offered.map(|()| HandedOver::Offered).map_err(|_| DeviceError::NobodyTakesIt)
    }

    fn has_share_sheet(&self) -> bool {
        true
    }

    fn stay_awake(&self, awake: bool) {
        let _ = with_activity(|env, activity| {
            call!(env, activity, "stayAwake", "(Z)V", JValue::Bool(awake))?.v()
        });
    }

    fn can_vibrate(&self) -> bool {
        with_activity(|env, activity| call!(env, activity, "canVibrate", "()Z")?.z())
            .unwrap_or(false)
    }

    fn vibrate(&self, feel: Feel) {
        let done = feel == Feel::Done;
        let _ = with_activity(|env, activity| {
            call!(env, activity, "vibrate", "(Z)V", JValue::Bool(done))?.v()
        });
    }

    fn text_scale(&self) -> f32 {
        with_activity(|env, activity| call!(env, activity, "textScale", "()F")?.f()).unwrap_or(1.0)
    }

    fn reaches_network(&self) -> bool {
        // Granted without a question to every package whose manifest asks for it.
        self.holds("android.permission.INTERNET")
    }

    fn desk(&self) -> Option<&dyn Desk> {
        Some(self)
    }
}

impl Desk for Phone {
    fn system_level(&self) -> u32 {
        let level = with_activity(|env, activity| call!(env, activity, "systemLevel", "()I")?.i());
        level.ok().and_then(|level| u32::try_from(level).ok()).unwrap_or(u32::MAX)
    }

    fn holds(&self, permission: &str) -> bool {
        with_activity(|env, activity| {
            let permission = env.new_string(permission)?;
            call!(env, activity, "holds", "(Ljava/lang/String;)Z", JValue::Object(&permission))?.z()
        })
        .unwrap_or(false)
    }

    fn would_ask_again(&self, permission: &str) -> bool {
        with_activity(|env, activity| {
            let permission = env.new_string(permission)?;
            call!(
                env,
                activity,
                "wouldAskAgain",
                "(Ljava/lang/String;)Z",
                JValue::Object(&permission)
            )?
            .z()
        })
        .unwrap_or(false)
    }

    fn answers(&self) -> u32 {
        let answers = with_activity(|env, activity| call!(env, activity, "answers", "()I")?.i());
        answers.ok().and_then(|count| u32::try_from(count).ok()).unwrap_or(0)
    }

    fn ask(&self, permissions: &[&str]) {
        let lines = permissions.join("\n");
        let _ = with_activity(|env, activity| {
            let lines = env.new_string(&lines)?;
            call!(env, activity, "ask", "(Ljava/lang/String;)V", JValue::Object(&lines))?.v()
        });
    }

    fn open_settings(&self) {
        let _ = with_activity(|env, activity| call!(env, activity, "openSettings", "()V")?.v());
    }
}

/// The kind of a report by the ending of its name, as other apps ask for it.
fn kind_of(file: &Path) -> &'static str {
    match file.extension().and_then(|ending| ending.to_str()) {
        Some("pdf") => "application/pdf",
        Some("html") => "text/html",
        Some("csv") => "text/csv",
        Some("json") => "application/json",
        _ => "application/octet-stream",
    }
}
