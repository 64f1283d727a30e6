//! The pages in a real browser: do they open without a network, play, print, and obey a keyboard?
//!
//! Needs Chromium; without one each test says that it skips.

pub mod driver;

mod keyboard;
mod lesson;
mod other_pages;
mod picture;
mod playback;
mod study;
