//! A screen in memory, drawn as the desktop's software renderer draws a window: 32 bits a pixel, the
//! whole window or only what changed. The event loop says how long each of its turns took.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant as Clock};

use slint::platform::software_renderer::{
    MinimalSoftwareWindow, PremultipliedRgbaColor, RepaintBufferType, TargetPixel,
};
use slint::platform::{EventLoopProxy, Platform, WindowAdapter, update_timers_and_animations};
use slint::{EventLoopError, PhysicalSize, PlatformError};

const WIDTH: u32 = 1280;
const HEIGHT: u32 = 800;

/// 8 bits each of nothing, red, green and blue.
#[derive(Clone, Copy)]
struct Pixel(u32);

impl TargetPixel for Pixel {
    fn blend(&mut self, ink: PremultipliedRgbaColor) {
        let rest = u32::from(u8::MAX - ink.alpha);
        let mix = |shift: u32, over: u8| {
            ((((self.0 >> shift) & 0xFF) * rest / 255 + u32::from(over)) & 0xFF) << shift
        };
        *self = Self(0xFF00_0000 | mix(16, ink.red) | mix(8, ink.green) | mix(0, ink.blue));
    }

    fn from_rgb(red: u8, green: u8, blue: u8) -> Self {
        Self(0xFF00_0000 | (u32::from(red) << 16) | (u32::from(green) << 8) | u32::from(blue))
    }
}

/// What one turn of the event loop took.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Turn {
    /// Events that waited and timers.
    pub(crate) events: Duration,
    /// Drawing, if something had changed.
    pub(crate) drawing: Duration,
    /// When it ended.
    pub(crate) ended: Clock,
}

type Work = Box<dyn FnOnce() + Send>;

#[derive(Default)]
struct Waiting {
    work: VecDeque<Work>,
    quits: bool,
}

/// Wakes the event loop from other threads.
#[derive(Clone, Default)]
struct Bell(Arc<(Mutex<Waiting>, Condvar)>);

impl Bell {
    fn ring(&self, change: impl FnOnce(&mut Waiting)) {
        change(&mut self.0.0.lock().unwrap_or_else(PoisonError::into_inner));
        self.0.1.notify_one();
    }
}

impl EventLoopProxy for Bell {
    fn quit_event_loop(&self) -> Result<(), EventLoopError> {
        self.ring(|waiting| waiting.quits = true);
        Ok(())
    }

    fn invoke_from_event_loop(&self, event: Work) -> Result<(), EventLoopError> {
        self.ring(|waiting| waiting.work.push_back(event));
        Ok(())
    }
}

/// The screen with its pixels.
pub(crate) struct Screen {
    window: RefCell<Option<Rc<MinimalSoftwareWindow>>>,
    pixels: RefCell<Vec<Pixel>>,
    bell: Bell,
    turns: RefCell<Vec<Turn>>,
    start: Clock,
}

impl Screen {
    /// The screen, in use as this thread's platform from now on.
    pub(crate) fn install() -> Rc<Self> {
        let screen = Rc::new(Self {
            window: RefCell::default(),
            pixels: RefCell::new(vec![Pixel(0); (WIDTH * HEIGHT) as usize]),
            bell: Bell::default(),
            turns: RefCell::default(),
            start: Clock::now(),
        });
        slint::platform::set_platform(Box::new(Handle(Rc::clone(&screen)))).expect("a platform");
        screen
    }

    fn window(&self) -> Rc<MinimalSoftwareWindow> {
        self.window.borrow().clone().expect("a window was opened")
    }

    /// Draws the window anew, all of it or what changed. Returns the share of pixels drawn.
    pub(crate) fn draw(&self, whole: bool) -> f64 {
        let window = self.window();
        update_timers_and_animations();
        if whole {
            window.request_redraw();
        }
        let mut drawn = 0;
        window.draw_if_needed(|renderer| {
            renderer.set_repaint_buffer_type(match whole {
                true => RepaintBufferType::NewBuffer,
                false => RepaintBufferType::ReusedBuffer,
            });
            let region = renderer.render(&mut self.pixels.borrow_mut(), WIDTH as usize);
            drawn = region.iter().map(|(_, size)| size.width * size.height).sum();
        });
        f64::from(drawn) / f64::from(WIDTH * HEIGHT)
    }

    /// Takes the turns measured so far.
    pub(crate) fn turns(&self) -> Vec<Turn> {
        std::mem::take(&mut self.turns.borrow_mut())
    }
}

/// The platform's face of the screen.
struct Handle(Rc<Screen>);

impl Platform for Handle {
    fn create_window_adapter(&self) -> Result<Rc<dyn WindowAdapter>, PlatformError> {
        let window = MinimalSoftwareWindow::new(RepaintBufferType::ReusedBuffer);
        window.set_size(PhysicalSize::new(WIDTH, HEIGHT));
        *self.0.window.borrow_mut() = Some(Rc::clone(&window));
        Ok(window)
    }

    fn duration_since_start(&self) -> Duration {
        self.0.start.elapsed()
    }

    fn new_event_loop_proxy(&self) -> Option<Box<dyn EventLoopProxy>> {
        Some(Box::new(self.0.bell.clone()))
    }

    fn run_event_loop(&self) -> Result<(), PlatformError> {
        let (waiting, bell) = &*self.0.bell.0;
        loop {
            let (work, quits) = {
                let waiting = waiting.lock().unwrap_or_else(PoisonError::into_inner);
                let timer = slint::platform::duration_until_next_timer_update();
                let pause = timer.unwrap_or(Duration::from_millis(200));
                let idle = |it: &mut Waiting| it.work.is_empty() && !it.quits;
                let (mut waiting, _) = bell
                    .wait_timeout_while(waiting, pause, idle)
                    .unwrap_or_else(PoisonError::into_inner);
                (std::mem::take(&mut waiting.work), waiting.quits)
            };
            let begun = Clock::now();
            update_timers_and_animations();
            work.into_iter().for_each(|it| it());
            let events = begun.elapsed();
            self.0.draw(false);
            let ended = Clock::now();
            let drawing = ended - begun - events;
            self.0.turns.borrow_mut().push(Turn { events, drawing, ended });
            if quits {
                return Ok(());
            }
        }
    }
}
