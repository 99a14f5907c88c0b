//! Compiles the window's markup, if the window is built at all.

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    #[cfg(feature = "ui")]
    window();
}

/// Element queries of the tests need the markup's debug information; it is left out of release
/// builds, unless asked for.
#[cfg(feature = "ui")]
fn window() {
    println!("cargo:rerun-if-env-changed=STILLTANK_UI_DEBUG");
    // The whole folder, so that markup which did not compile is looked at again when it changes.
    println!("cargo:rerun-if-changed=ui");
    let asked = std::env::var_os("STILLTANK_UI_DEBUG").is_some();
    let debug_build = std::env::var("PROFILE").is_ok_and(|profile| profile == "debug");
    let configuration = slint_build::CompilerConfiguration::new()
        .with_style("fluent".to_owned())
        .with_bundled_translations("ui/lang")
        .with_debug_info(asked || debug_build);
    if let Err(error) = slint_build::compile_with_config("ui/app_window.slint", configuration) {
        println!("cargo:error={error}");
    }
}
