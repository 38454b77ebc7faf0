//! The test figure as this camera would draw it: three holes side by side. Each picture has an address of its own
//! made of nothing but its numbers, is computed off the request path, one at a time, and kept.

use std::{
    collections::VecDeque,
    sync::{
        Arc, Mutex, PoisonError,
        atomic::{AtomicUsize, Ordering},
    },
};

use axum::{
    body::{Body, Bytes},
    http::{HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use tokio::sync::Semaphore;

use crate::{
    calc::{
        optics::{
            diffraction::{Diffraction, Spectrum},
            picture::{self, BARS_MM},
            sharpness::Sharpness,
        },
        quantity::HoleDiameter,
        working::plain,
    },
    domain::{
        camera::Camera,
        length::{LengthUnit, computed_words},
    },
    drawing::grey_png,
    web::error::WebError,
};

use super::Setup;

/// One of the three pictures, as the page shows it.
#[derive(Debug)]
pub struct View {
    /// Above it.
    pub name: &'static str,
    /// Its hole, in words.
    pub hole: String,
    /// Where the picture is; `None` where the image is nothing but the hole's shadow.
    pub address: Option<String>,
    /// What is seen.
    pub words: String,
}

/// The light in which the figure is seen.
fn light(setup: &Setup) -> Spectrum {
    if setup.camera.uses_trays() { Spectrum::blue_green() } else { Spectrum::single(setup.target.formula.wavelength) }
}

/// The same in words.
pub fn light_words(camera: &Camera) -> &'static str {
    if camera.uses_trays() {
        "in daylight as paper sees it (360 to 550 nm, CIE D55)"
    } else {
        "in the light of the session’s formula"
    }
}

/// The three holes: clearly narrower and clearly wider than the sharpest and than the student's own.
fn holes(setup: &Setup, sharpness: &Sharpness) -> [(&'static str, HoleDiameter); 3] {
    let (own, best) = (setup.diameter(), sharpness.best().hole);
    let clearly = |mm: f64| HoleDiameter::new(mm.clamp(HoleDiameter::MIN, HoleDiameter::MAX)).unwrap_or(own);
    let middle = if setup.hole.is_some() { "As measured" } else { "The target" };
    [
        ("Too narrow", clearly((best.as_mm() / 3.0).min(own.as_mm() / 1.5))),
        (middle, own),
        ("Too wide", clearly((best.as_mm() * 2.0).max(own.as_mm() * 1.5))),
    ]
}

fn image(setup: &Setup, hole: HoleDiameter) -> Option<Diffraction> {
    Diffraction::new(hole, setup.camera.hole_to_film(), setup.camera.subject_distance(), light(setup)).ok()
}

/// A picture's address: all that it depends on, in nanometres.
fn key(setup: &Setup, hole: HoleDiameter) -> String {
    let nm = |mm: f64| (mm * 1e6).round() as i64;
    let subject = setup.camera.subject_distance().map_or("far".to_owned(), |u| nm(u.as_mm()).to_string());
    let light =
        if setup.camera.uses_trays() { "paper".to_owned() } else { plain(setup.target.formula.wavelength.as_nm()) };
    format!("{}-{}-{subject}-{light}.png", nm(hole.as_mm()), nm(setup.camera.hole_to_film().as_mm()))
}

/// The three pictures with what is seen on them.
pub(super) fn views(setup: &Setup, sharpness: &Sharpness, unit: LengthUnit) -> Vec<View> {
    holes(setup, sharpness)
        .map(|(name, hole)| {
            let image = image(setup, hole);
            View {
                name,
                hole: computed_words(hole.as_mm(), 3, unit),
                address: image.map(|_| format!("/bench/hole/optics/seen/{}", key(setup, hole))),
                words: image.map_or_else(
                    || "Nothing but a blur as wide as the hole itself.".to_owned(),
                    |image| what_is_seen(&image),
                ),
            }
        })
        .into()
}

/// The image behind an address, if it is one of this setup's three.
pub(super) fn image_of(setup: &Setup, sharpness: &Sharpness, asked: &str) -> Option<Diffraction> {
    let (_, hole) = holes(setup, sharpness).into_iter().find(|(_, hole)| key(setup, *hole) == asked)?;
    image(setup, hole)
}

/// Bars with less than this share of their contrast run together.
const TOLD_APART: f64 = 0.1;

/// The picture in words: which of the bars can be told apart.
fn what_is_seen(image: &Diffraction) -> String {
    let kept = BARS_MM.map(|width| (width, image.transfer(1.0 / (2.0 * width))));
    let percent = |share: f64| format!("{:.0} %", 100.0 * share.abs());
    let clear: Vec<_> = kept.iter().take_while(|(_, share)| *share >= TOLD_APART).collect();
    let turned = kept.iter().find(|(_, share)| *share <= -TOLD_APART / 2.0);
    let mut said = match (clear.first(), clear.last()) {
        (Some((widest, first)), Some((finest, last))) if widest != finest => format!(
            "Bars of {} mm keep {} of their contrast; the finest still told apart are {} mm wide ({}).",
            plain(*widest),
            percent(*first),
            plain(*finest),
            percent(*last)
        ),
        (Some((width, share)), _) => {
            format!(
                "Only the bars of {} mm are still told apart ({} of their contrast).",
                plain(*width),
                percent(*share)
            )
        }
        _ => "None of the bars can be told apart; the house is a grey shape.".to_owned(),
    };
    if let Some((width, _)) = turned {
        said.push_str(&format!(" Bars of {} mm come out reversed, dark where light should be.", plain(*width)));
    }
    said
}

/// Pictures that were made, the newest last.
#[derive(Debug)]
pub struct SeenPictures {
    kept: Mutex<VecDeque<(String, Bytes)>>,
    turn: Semaphore,
    waiting: AtomicUsize,
}

/// Pictures kept: some 40 kB each.
const MOST_KEPT: usize = 96;
/// So many wait for their turn, a class of thirty with three each; the next is told to come again.
const MOST_WAITING: usize = 90;

impl Default for SeenPictures {
    fn default() -> Self {
        Self { kept: Mutex::default(), turn: Semaphore::new(1), waiting: AtomicUsize::new(0) }
    }
}

/// Counts one who waits, until dropped.
struct Waiting<'a>(&'a AtomicUsize);

impl Drop for Waiting<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::SeqCst);
    }
}

impl SeenPictures {
    /// The picture under its key: from what is kept, or made now, one at a time.
    ///
    /// # Errors
    /// 500 when the computing thread breaks.
    pub async fn answer(self: &Arc<Self>, key: String, image: Diffraction) -> Result<Response, WebError> {
        if let Some(png) = self.find(&key) {
            return Ok(shown(png));
        }
        let before = self.waiting.fetch_add(1, Ordering::SeqCst);
        let _waiting = Waiting(&self.waiting);
        if before >= MOST_WAITING {
            return Ok(
                (StatusCode::SERVICE_UNAVAILABLE, [(header::RETRY_AFTER, "5")], "busy; come again\n").into_response()
            );
        }
        let ours = |error: String| WebError::Ours(format!("a picture was not made: {error}"));
        let _turn = self.turn.acquire().await.map_err(|error| ours(error.to_string()))?;
        // somebody before us may have wanted the same
        if let Some(png) = self.find(&key) {
            return Ok(shown(png));
        }
        let made = tokio::task::spawn_blocking(move || grey_png::encoded(&picture::through(&image))).await;
        let png = Bytes::from(made.map_err(|error| ours(error.to_string()))?.map_err(|error| ours(error.to_string()))?);
        self.keep(key, png.clone());
        Ok(shown(png))
    }

    fn find(&self, key: &str) -> Option<Bytes> {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.iter().find(|(of, _)| of == key).map(|(_, png)| png.clone())
    }

    fn keep(&self, key: String, png: Bytes) {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if kept.len() >= MOST_KEPT {
            kept.pop_front();
        }
        kept.push_back((key, png));
    }
}

/// A picture of numbers alone: it never changes, and says nothing of a person.
fn shown(png: Bytes) -> Response {
    let mut response = Response::new(Body::from(png));
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("image/png"));
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("private, max-age=86400, immutable"));
    response
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calc::quantity::{HoleToFilm, Wavelength};

    fn image(hole: f64) -> Diffraction {
        let light = Spectrum::single(Wavelength::new(550.0).expect("in range"));
        let hole = HoleDiameter::new(hole).expect("in range");
        Diffraction::new(hole, HoleToFilm::new(120.0).expect("in range"), None, light).expect("no plain shadow")
    }

    #[tokio::test]
    async fn a_picture_is_made_once_and_kept_under_its_numbers() {
        let pictures = Arc::new(SeenPictures::default());
        for _ in 0..2 {
            let answer = pictures.answer("a.png".to_owned(), image(0.4)).await.expect("a picture");
            assert_eq!(answer.status(), StatusCode::OK);
        }
        assert_eq!(pictures.kept.lock().expect("one test").len(), 1);
        assert_eq!(pictures.waiting.load(Ordering::SeqCst), 0, "nobody waits any more");
    }

    #[tokio::test]
    async fn what_is_kept_and_who_waits_are_bounded() {
        let pictures = Arc::new(SeenPictures::default());
        for i in 0..MOST_KEPT + 3 {
            pictures.keep(format!("{i}.png"), Bytes::from_static(b"picture"));
        }
        assert_eq!(pictures.kept.lock().expect("one test").len(), MOST_KEPT);
        assert!(pictures.find("0.png").is_none() && pictures.find("5.png").is_some(), "the oldest go first");
        pictures.waiting.store(MOST_WAITING, Ordering::SeqCst);
        let busy = pictures.answer("new.png".to_owned(), image(0.4)).await.expect("an answer");
        assert_eq!(busy.status(), StatusCode::SERVICE_UNAVAILABLE);
        assert!(busy.headers().contains_key(header::RETRY_AFTER));
        assert_eq!(pictures.waiting.load(Ordering::SeqCst), MOST_WAITING, "whoever is sent away waits no more");
    }

    #[test]
    fn the_words_name_the_finest_bars_that_are_told_apart() {
        let sharp = what_is_seen(&image(0.41));
        assert!(sharp.contains("the finest still told apart are 0.125 mm wide"), "{sharp}");
        let wide = what_is_seen(&image(0.9));
        assert!(wide.contains("reversed"), "{wide}");
        assert!(what_is_seen(&image(4.0)).contains("None of the bars"), "{}", what_is_seen(&image(4.0)));
    }
}
