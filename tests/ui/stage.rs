use std::time::Duration;

use i_slint_backend_testing::{
    AccessibleRole, ElementHandle, ElementQuery, TestingBackend, TestingBackendOptions,
    mock_elapsed_time,
};
use stilltank::ui::stage::{Screen, Stage};

/// The smallest phone and the tablet that the layouts are drawn for.
pub(crate) const PHONE: (f32, f32) = (360.0, 740.0);
pub(crate) const TABLET: (f32, f32) = (1280.0, 800.0);

/// Sets the platform of this thread.
pub(crate) fn platform() {
    let options = TestingBackendOptions {
        mock_time: true,
        threading: false,
        renderer_name: Some("software".into()),
    };
    // A second test on the same thread finds the platform set already.
    let _ = slint::platform::set_platform(Box::new(TestingBackend::new(options)));
}

/// A window with a page of invented data.
pub(crate) fn stage((width, height): (f32, f32), screen: Screen) -> Stage {
    platform();
    let stage = Stage::open(width, height).unwrap();
    stage.show(screen);
    settle(&stage);
    stage
}

/// Lets layouts, changes and motion come to rest.
pub(crate) fn settle(stage: &Stage) {
    mock_elapsed_time(Duration::from_millis(400));
    stage.refresh();
    mock_elapsed_time(Duration::from_millis(50));
}

/// Everything that has this role, each once.
pub(crate) fn with_role(stage: &Stage, role: AccessibleRole) -> Vec<ElementHandle> {
    ElementQuery::from_root(stage.window())
        .match_descendants()
        .match_accessible_role(role)
        .find_all()
}

/// The one control with this label.
pub(crate) fn labelled(stage: &Stage, label: &str) -> ElementHandle {
    ElementHandle::find_by_accessible_label(stage.window(), label)
        .next()
        .unwrap_or_else(|| panic!("nothing is labelled {label}"))
}

/// The control of this kind and label; a page may have a heading of the same words.
#[track_caller]
pub(crate) fn control(stage: &Stage, role: AccessibleRole, label: &str) -> ElementHandle {
    let all = with_role(stage, role);
    let found = all.into_iter().find(|it| it.accessible_label().is_some_and(|it| it == label));
    found.unwrap_or_else(|| panic!("no {role:?} {label}"))
}

/// Does what the control of this kind and label does.
#[track_caller]
pub(crate) fn press(stage: &Stage, role: AccessibleRole, label: &str) {
    control(stage, role, label).invoke_accessible_default_action();
    settle(stage);
}

/// Whether a text on the page holds these words.
pub(crate) fn says(stage: &Stage, words: &str) -> bool {
    let texts = with_role(stage, AccessibleRole::Text);
    texts.iter().any(|it| it.accessible_label().is_some_and(|it| it.contains(words)))
}
